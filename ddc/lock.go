package ddc

import (
	"context"
	"errors"
	"os"
	"syscall"
	"time"

	"deadhop/ddc/internal/uapi"
)

// lockPatience is how long a port is waited for that another look holds.
const lockPatience = 2 * time.Second

// lockPort takes the one lock of a port: an flock on its own device node,
// which needs no folder of its own, leaves nothing behind and goes with the
// process. Other programs are not kept out by it.
func lockPort(ctx context.Context, f *os.File, node string) error {
	until := time.Now().Add(lockPatience)
	for {
		err := uapi.TryLock(f)
		if err == nil {
			return nil
		}
		if !errors.Is(err, syscall.EWOULDBLOCK) {
			return &OpError{Op: "lock the port", Path: node, Kind: deviceKind(err), Err: err}
		}
		if time.Now().After(until) {
			e := &OpError{Op: "lock the port", Path: node, Kind: ErrBusy, Err: err}
			if who := holders(node); who != "" {
				e.Do = "another look is under way in " + who
			}
			return e
		}
		if !sleep(ctx, 20*time.Millisecond) {
			return &OpError{Op: "lock the port", Path: node, Kind: ErrDeadline, Err: ctx.Err()}
		}
	}
}

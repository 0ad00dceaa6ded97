package sim

import (
	"bytes"
	"context"
	"errors"
	"syscall"
	"time"

	"deadhop/ddc"
)

// readEDID fills acknowledge, EDID, stability and log by the same reader that
// the real bench uses.
func readEDID(ctx context.Context, w ddc.Bus, o ddc.DownOptions, delay time.Duration, d *ddc.Downstream) {
	reads := o.Reads
	if reads <= 0 {
		reads = 2
	}
	// Without a wire delay nothing waits: 1 ns stands for "at once".
	opt := ddc.ReadOptions{Pause: max(delay, 1)}
	var first []byte
	for n := range reads {
		r, err := ddc.ReadEDID(ctx, w, opt)
		d.Log = append(d.Log, r.Log...)
		if n == 0 {
			first = r.Bytes
			d.Ack, d.EDID = acknowledged(r, err), ddc.Got(r.Bytes)
			if err != nil {
				d.EDID = ddc.Value[[]byte]{State: ddc.Unable, V: r.Bytes, Err: err}
				d.Stable = ddc.CannotMeasure[bool](err)
				return
			}
			continue
		}
		if errors.Is(err, ddc.ErrGone) || ctx.Err() != nil {
			d.Stable = ddc.CannotMeasure[bool](err) // the bench's own trouble
			return
		}
		if err != nil { // what read well once does not any more
			d.Stable = ddc.Got(false)
			return
		}
		if !bytes.Equal(first, r.Bytes) {
			d.Stable = ddc.Got(false)
			return
		}
		d.Stable = ddc.Got(true)
	}
}

// acknowledged is whether anything answered at the EDID address. A held
// clock, a vanished port or a deadline leave it unknown.
func acknowledged(r ddc.EDIDRead, err error) ddc.Value[bool] {
	switch {
	case err == nil || len(r.Bytes) > 0:
		return ddc.Got(true)
	case errors.Is(err, ddc.ErrNoAck):
		return ddc.Value[bool]{State: ddc.Known, Err: err}
	}
	return ddc.CannotMeasure[bool](err)
}

func goneDown(d ddc.Downstream) ddc.Downstream {
	err := &ddc.OpError{Op: "look down", Path: outPort, Kind: ddc.ErrGone, Err: syscall.ENODEV}
	d.Connector, d.HotPlug = ddc.CannotMeasure[ddc.ConnectorStatus](err), ddc.CannotMeasure[bool](err)
	d.RxSense, d.Ack = ddc.CannotMeasure[bool](err), ddc.CannotMeasure[bool](err)
	d.EDID, d.Stable = ddc.CannotMeasure[[]byte](err), ddc.CannotMeasure[bool](err)
	return d
}

func errnoOf(err error) error {
	var no syscall.Errno
	if errors.As(err, &no) {
		return no
	}
	return err
}

package usbiptest

import (
	"bufio"
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"sync"
	"syscall"
	"time"
)

const controller = "/sys/devices/platform/vhci_hcd.0"

// Adapter is an I2C adapter on the virtual host controller.
type Adapter struct {
	// Device is its node, such as /dev/i2c-6, and Number the 6 of it.
	Device string
	Number int

	conn *os.File
	done chan struct{}
	once sync.Once
	err  error
}

// Attach plugs in an adapter with the wire behind it and waits until the
// kernel has made its device node. Errors name what the kernel refused.
func Attach(ctx context.Context, wire *Wire) (*Adapter, error) {
	ours, theirs, err := socketPair()
	if err != nil {
		return nil, err
	}
	// The kernel keeps a reference of its own once it has the number.
	defer theirs.Close()
	a := &Adapter{conn: ours, done: make(chan struct{})}
	port, err := freePort()
	if err == nil {
		// Device 1 on bus 0 of the far end, at full speed (2).
		err = os.WriteFile(filepath.Join(controller, "attach"),
			fmt.Appendf(nil, "%d %d 1 2", port, theirs.Fd()), 0)
	}
	if err != nil {
		ours.Close()
		return nil, fmt.Errorf("attaching to the virtual USB host: %w; is vhci-hcd loaded, and are you root?", err)
	}
	go func() {
		defer close(a.done)
		err := serve(ours, &tinyAdapter{wire: wire})
		a.Unplug()
		if !errors.Is(err, errUnplugged) && !errors.Is(err, os.ErrClosed) && !errors.Is(err, syscall.ECONNRESET) {
			a.err = err
		}
	}()
	if err := a.find(ctx, port); err != nil {
		a.Unplug()
		<-a.done
		return nil, errors.Join(err, a.err)
	}
	return a, nil
}

// Unplug pulls the adapter, in the middle of a transfer if need be.
func (a *Adapter) Unplug() { a.once.Do(func() { a.conn.Close() }) }

// Close unplugs the adapter, waits until nothing answers any more and
// reports what went wrong in the conversation with the kernel.
func (a *Adapter) Close() error {
	a.Unplug()
	<-a.done
	return a.err
}

func socketPair() (ours, theirs *os.File, err error) {
	fds, err := syscall.Socketpair(syscall.AF_UNIX, syscall.SOCK_STREAM|syscall.SOCK_CLOEXEC, 0)
	if err != nil {
		return nil, nil, fmt.Errorf("making a socket pair: %w", err)
	}
	// Non-blocking at our end alone, so that Close interrupts a read. The
	// kernel's end must block: it reads the socket as its own.
	if err := syscall.SetNonblock(fds[0], true); err != nil {
		return nil, nil, fmt.Errorf("setting up a socket pair: %w", err)
	}
	return os.NewFile(uintptr(fds[0]), "usb device"), os.NewFile(uintptr(fds[1]), "usb host"), nil
}

// freePort finds a full-speed port with nothing in it.
func freePort() (int, error) {
	f, err := os.Open(filepath.Join(controller, "status"))
	if err != nil {
		return 0, err
	}
	defer f.Close()
	const unused = 4 // VDEV_ST_NULL in usbip_common.h
	for lines := bufio.NewScanner(f); lines.Scan(); {
		// hub port sta spd dev sockfd local_busid
		fields := strings.Fields(lines.Text())
		if len(fields) < 3 || fields[0] != "hs" {
			continue
		}
		if state, err := strconv.Atoi(fields[2]); err != nil || state != unused {
			continue
		}
		return strconv.Atoi(fields[1])
	}
	return 0, fmt.Errorf("%s: no free port", f.Name())
}

// find waits for the adapter that the driver makes for the device in port.
func (a *Adapter) find(ctx context.Context, port int) error {
	// Hub ports count from 1. The high-speed hub comes first.
	pattern := fmt.Sprintf("%s/usb*/*-%d/*/i2c-*", controller, port+1)
	for {
		matches, err := filepath.Glob(pattern)
		if err != nil {
			return err
		}
		for _, m := range matches {
			node := "/dev/" + filepath.Base(m)
			if _, err := os.Stat(node); err != nil {
				continue
			}
			a.Device = node
			a.Number, err = strconv.Atoi(strings.TrimPrefix(filepath.Base(m), "i2c-"))
			return err
		}
		select {
		case <-ctx.Done():
			return fmt.Errorf("no I2C adapter came up at port %d of the virtual USB host: %w; is i2c-tiny-usb loaded?", port, ctx.Err())
		case <-a.done:
			return fmt.Errorf("the virtual USB host let go of port %d before its I2C adapter came up", port)
		case <-time.After(5 * time.Millisecond):
		}
	}
}

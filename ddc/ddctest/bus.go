// Package ddctest is an I2C adapter for tests of the ddc package and of what
// stands on it: whole combined transactions over a wire with a display's
// slaves, a count of the clocks that they cost, and a fault at any
// transaction. Nothing of it touches the operating system.
package ddctest

import (
	"context"
	"sync"
	"syscall"

	"deadhop/ddc"
	"deadhop/ddc/usbiptest"
)

// Bus is a ddc.Bus over a wire. The zero value of the fields is a healthy,
// fast adapter.
type Bus struct {
	Wire *usbiptest.Wire
	// Fault is asked before each transaction, counted from 0. An error
	// fails the transaction; what it returns is the adapter's whole answer.
	Fault func(n int, msgs []ddc.Msg) error
	// Spoil may change the bytes read by transaction n.
	Spoil func(n int, msgs []ddc.Msg)
	// MaxRead is the longest read the adapter's buffer takes; 0 is no limit.
	MaxRead int

	mu     sync.Mutex
	n      int
	clocks int
}

var _ ddc.Bus = (*Bus)(nil)

// New is an adapter with a display on it that holds edid and, with more than
// two blocks, takes part in segment addressing.
func New(edid []byte) *Bus {
	w := usbiptest.NewWire()
	usbiptest.NewDisplay(w, edid, len(edid) > 256)
	return &Bus{Wire: w}
}

// Transactions is how many were asked for so far.
func (b *Bus) Transactions() int {
	b.mu.Lock()
	defer b.mu.Unlock()
	return b.n
}

// Clocks is how many SCL periods the transactions cost: nine a byte, address
// bytes included, and one each for start, repeated start and stop.
func (b *Bus) Clocks() int {
	b.mu.Lock()
	defer b.mu.Unlock()
	return b.clocks
}

// Transfer implements ddc.Bus.
func (b *Bus) Transfer(ctx context.Context, msgs []ddc.Msg) error {
	b.mu.Lock()
	defer b.mu.Unlock()
	n := b.n
	b.n++
	if err := ctx.Err(); err != nil {
		return Err(ddc.ErrDeadline, err, 0)
	}
	for _, m := range msgs {
		if m.Read && b.MaxRead > 0 && len(m.Data) > b.MaxRead {
			return Err(ddc.ErrUnsupported, syscall.EOPNOTSUPP, m.Addr)
		}
	}
	if b.Fault != nil {
		if err := b.Fault(n, msgs); err != nil {
			return err
		}
	}
	for i, m := range msgs {
		b.clocks += 1 + 9*(1+len(m.Data))
		last := i == len(msgs)-1
		switch b.Wire.Transfer(m.Addr, m.Read, i == 0, last, m.Data) {
		case usbiptest.Done:
		case usbiptest.NoAck:
			return Err(ddc.ErrNoAck, syscall.ENXIO, m.Addr)
		case usbiptest.DataNoAck, usbiptest.Short, usbiptest.Broken:
			return Err(ddc.ErrBroken, syscall.EIO, m.Addr)
		case usbiptest.Silent:
			return Err(ddc.ErrTimedOut, syscall.ETIMEDOUT, m.Addr)
		case usbiptest.Gone:
			return Err(ddc.ErrGone, syscall.ENODEV, m.Addr)
		}
	}
	b.clocks++
	if b.Spoil != nil {
		b.Spoil(n, msgs)
	}
	return nil
}

// Err is the error of an adapter that reports kind by errno.
func Err(kind, errno error, addr uint16) error {
	return &ddc.OpError{Op: "combined transfer", Path: "the test's adapter", Addr: addr, Kind: kind, Err: errno}
}

package ddc

import (
	"context"
	"errors"
	"fmt"
	"syscall"
)

// What an error of this package means. Test with errors.Is; an *OpError is
// at most one of them besides its errno, which errors.Is finds as well.
var (
	// On the DDC wire.
	ErrNoAck       = errors.New("no acknowledge")                          // nothing answers at the address
	ErrTimedOut    = errors.New("timed out, clock held low")               // SCL never rose
	ErrArbitration = errors.New("lost arbitration")                        // another master, or SDA stuck low
	ErrBroken      = errors.New("transfer broke off")                      // an address answered, a later byte failed
	ErrNoAnswer    = errors.New("no answer, cause not told apart")         // the driver gives one errno for several faults
	ErrUnsupported = errors.New("the device or its driver cannot do this") // not a fault of the display

	// Of any device.
	ErrGone       = errors.New("the device is gone")
	ErrPermission = errors.New("no permission")
	ErrBusy       = errors.New("in use by another program")
	ErrDeadline   = errors.New("the deadline passed")
	ErrNotThere   = errors.New("there is no such device")

	// Of a video receiver's timing query.
	ErrNoSignal   = errors.New("no signal")                           // ENOLINK
	ErrNoLock     = errors.New("signal without a stable lock")        // ENOLCK
	ErrOutOfRange = errors.New("locked, beyond the receiver's range") // ERANGE
)

// OpError is what was tried on a device and how it failed.
type OpError struct {
	Op   string // what was tried, in words: "read EDID block 2"
	Path string // device node or sysfs file
	Addr uint16 // 7-bit address on the bus, 0 where none is meant
	Kind error  // one of the Err values of this package, nil where none fits
	Err  error  // the errno as it came
	Do   string // what to do about it, "" where there is nothing to advise
}

// Error names the operation, the place, the meaning and the errno.
func (e *OpError) Error() string {
	s := e.Op
	if e.Path != "" {
		s += " on " + e.Path
	}
	if e.Addr != 0 {
		s += fmt.Sprintf(" at 0x%02x", e.Addr)
	}
	if e.Kind != nil {
		s += ": " + e.Kind.Error()
	}
	if e.Err != nil && !errors.Is(e.Err, e.Kind) {
		s += fmt.Sprintf(" (%s)", errnoText(e.Err))
	}
	if e.Do != "" {
		s += "; " + e.Do
	}
	return s
}

// Unwrap is the errno.
func (e *OpError) Unwrap() error { return e.Err }

// Is reports whether target is the meaning of the error.
func (e *OpError) Is(target error) bool { return e.Kind != nil && target == e.Kind }

// errnoText names an errno by its symbol, which is what data sheets, driver
// sources and search engines know it by.
func errnoText(err error) string {
	var no syscall.Errno
	if !errors.As(err, &no) {
		return err.Error()
	}
	if name, ok := errnoName(no); ok {
		return name + ", " + no.Error()
	}
	return fmt.Sprintf("errno %d, %s", int(no), no.Error())
}

// deviceKind is the meaning of an errno that is the same for every device.
func deviceKind(err error) error {
	switch {
	case errors.Is(err, context.DeadlineExceeded), errors.Is(err, context.Canceled):
		return ErrDeadline
	case errors.Is(err, syscall.ENODEV), errors.Is(err, syscall.ESHUTDOWN):
		return ErrGone
	case errors.Is(err, syscall.EACCES), errors.Is(err, syscall.EPERM):
		return ErrPermission
	case errors.Is(err, syscall.EBUSY):
		return ErrBusy
	case errors.Is(err, syscall.ENOENT):
		return ErrNotThere
	case errors.Is(err, syscall.EOPNOTSUPP), errors.Is(err, syscall.ENOTTY), errors.Is(err, syscall.ENOSYS):
		return ErrUnsupported
	default:
		return nil
	}
}

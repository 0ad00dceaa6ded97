// Package vividtest puts the kernel's virtual receiver (the vivid driver)
// into the states that a faulty source or cable would put a real one into.
// It serves tests in the virtual bench and needs write access to the node.
package vividtest

import (
	"errors"
	"fmt"
	"os"
	"strings"
	"syscall"

	"deadhop/ddc/internal/uapi"
)

// Signal is what the receiver's selected input reports from now on. The
// values are those of vivid's control "DV Timings Signal Mode"
// (drivers/media/test-drivers/vivid/vivid-core.h).
type Signal int32

const (
	Good       Signal = 0 // a valid signal with the timing set for capture
	NoSignal   Signal = 1 // nothing on the lines, and no +5 V
	NoLock     Signal = 2 // activity without a stable lock
	OutOfRange Signal = 3 // locked, beyond what the receiver takes
)

// Receiver is an open vivid capture node.
type Receiver struct {
	file     *os.File
	controls map[string]uapi.V4L2Ctrl
}

// Open opens a vivid node, such as /dev/video0, and refuses any other
// driver's.
func Open(path string) (*Receiver, error) {
	f, err := uapi.Open(path)
	if err != nil {
		return nil, fmt.Errorf("opening %s: %w", path, err)
	}
	r := &Receiver{file: f, controls: map[string]uapi.V4L2Ctrl{}}
	caps, err := uapi.V4L2Querycap(f)
	if err == nil && caps.Driver != "vivid" {
		err = fmt.Errorf("its driver is %q, not vivid", caps.Driver)
	}
	if err == nil {
		err = r.listControls()
	}
	if err != nil {
		f.Close()
		return nil, fmt.Errorf("asking %s for its controls: %w", path, err)
	}
	return r, nil
}

func (r *Receiver) listControls() error {
	for id := uint32(0); ; {
		c, err := uapi.V4L2Queryctrl(r.file, id|uapi.V4L2_CTRL_FLAG_NEXT_CTRL)
		if errors.Is(err, syscall.EINVAL) {
			return nil
		}
		if err != nil {
			return err
		}
		r.controls[c.Name] = c
		id = c.ID
	}
}

// Close closes the node. The state of the receiver stays.
func (r *Receiver) Close() error { return r.file.Close() }

// Select selects an input, counted from 0.
func (r *Receiver) Select(input uint32) error {
	if err := uapi.V4L2SInput(r.file, input); err != nil {
		return fmt.Errorf("selecting input %d of %s: %w", input, r.file.Name(), err)
	}
	return nil
}

// SetSignal sets what the selected input reports.
func (r *Receiver) SetSignal(s Signal) error { return r.Set("DV Timings Signal Mode", int32(s)) }

// Set sets a control by the name that the driver gives it. Any value works
// for a button, such as "Disconnect".
func (r *Receiver) Set(control string, value int32) error {
	c, ok := r.controls[control]
	if !ok {
		return fmt.Errorf("%s has no control %q", r.file.Name(), control)
	}
	if err := uapi.V4L2SCtrl(r.file, c.ID, value); err != nil {
		return fmt.Errorf("setting %q of %s to %d: %w", strings.TrimSpace(control), r.file.Name(), value, err)
	}
	return nil
}

package ddc

import (
	"context"
	"errors"
	"fmt"
	"syscall"
	"time"
)

// CommandAddr is where a display takes DDC/CI commands (VESA DDC/CI 1.1
// clause 2).
const CommandAddr = 0x37

// Control is a control of a display (VESA MCCS).
type Control byte

const (
	InputSelect Control = 0x60 // which socket the display shows
	PowerMode   Control = 0xD6 // 1 on, 2 standby, 3 suspend, 4 off, 5 off by its button
)

// ControlValue is a control's current and highest value.
type ControlValue struct{ Now, Max uint16 }

var (
	// ErrNoControl means that a display answers commands but does not know
	// the control.
	ErrNoControl = errors.New("the display does not have this control")
	// ErrNull means that a display answers commands but had nothing to say:
	// it is busy, or asleep.
	ErrNull = errors.New("the display answered with the null message")
	// ErrChecksum means that an answer came damaged.
	ErrChecksum = errors.New("the answer's checksum is wrong")
)

// ddcciPause is the least time between a request and the read of its answer
// (DDC/CI 1.1 clause 6.5: 40 ms).
const ddcciPause = 40 * time.Millisecond

// GetControl asks a display for a control's value. It is the one kind of
// message that this package sends to 0x37, and it changes nothing. A display
// that acknowledges and answers is awake: its scaler runs.
//
// Errors are ErrNoControl, ErrNull, ErrChecksum, or an *OpError of the wire;
// ErrNoAck means that the display has no DDC/CI, or has it switched off in
// its menu.
func GetControl(ctx context.Context, bus Bus, c Control) (ControlValue, []Attempt, error) {
	q := queries{ctx: ctx, bus: bus}
	request := []byte{0x51, 0x82, 0x01, byte(c), 0}
	request[4] = xorAll(CommandAddr<<1, request[:4])
	q.transfer([]Msg{{Addr: CommandAddr, Data: request}})
	if q.err == nil && !sleep(ctx, ddcciPause) {
		q.err = &OpError{Op: "wait for the display's answer", Addr: CommandAddr, Kind: ErrDeadline, Err: ctx.Err()}
	}
	answer := make([]byte, 11)
	q.transfer([]Msg{{Addr: CommandAddr, Read: true, Data: answer}})
	if q.err != nil {
		return ControlValue{}, q.log, fmt.Errorf("DDC/CI control 0x%02x: %w", byte(c), q.err)
	}
	v, err := parseControl(c, answer)
	if err != nil {
		err = fmt.Errorf("DDC/CI control 0x%02x: %w", byte(c), err)
	}
	return v, q.log, err
}

// parseControl reads a "get VCP feature reply" (DDC/CI 1.1 clause 4.4): the
// check byte closes an XOR that starts with the virtual address 0x50.
func parseControl(c Control, b []byte) (ControlValue, error) {
	n := int(b[1] &^ 0x80)
	if b[1]&0x80 == 0 || n+3 > len(b) {
		return ControlValue{}, &OpError{Op: "read the display's answer", Addr: CommandAddr, Kind: ErrBroken, Err: syscall.EPROTO,
			Do: fmt.Sprintf("it starts with %x, which is no DDC/CI message", b[:2])}
	}
	if xorAll(0x50, b[:n+2]) != b[n+2] {
		return ControlValue{}, ErrChecksum
	}
	switch {
	case n == 0:
		return ControlValue{}, ErrNull
	case n != 8 || b[2] != 0x02 || b[4] != byte(c):
		return ControlValue{}, &OpError{Op: "read the display's answer", Addr: CommandAddr, Kind: ErrBroken, Err: syscall.EPROTO,
			Do: "it answers another question"}
	case b[3] != 0:
		return ControlValue{}, ErrNoControl
	}
	return ControlValue{Max: uint16(b[6])<<8 | uint16(b[7]), Now: uint16(b[8])<<8 | uint16(b[9])}, nil
}

func xorAll(start byte, data []byte) byte {
	for _, b := range data {
		start ^= b
	}
	return start
}

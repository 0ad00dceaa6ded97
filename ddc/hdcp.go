package ddc

import (
	"context"
	"errors"
	"fmt"
	"math/bits"
)

// HDCPAddr is the primary HDCP port of a display (HDCP 1.4 clause 2.6).
const HDCPAddr = 0x3A

// HDCPPort is what the content-protection port of a display says of itself.
type HDCPPort struct {
	Present  bool    // something acknowledges at 0x3A
	KSV      [5]byte // Bksv, the display's key selection vector
	KSVValid bool    // exactly 20 ones, as every issued key has
	Repeater bool    // a switch or splitter that protects on
	Version2 bool    // HDCP 2.2 or later offered
}

// ReadHDCP finds out whether a display has an HDCP port and whether it still
// has keys: one without a valid key stays dark with protected content only.
// It reads and never starts an authentication.
func ReadHDCP(ctx context.Context, bus Bus) (HDCPPort, []Attempt, error) {
	const bksv, bcaps, version = 0x00, 0x40, 0x50 // HDCP 1.4 table 2-2, HDCP 2.2 on HDMI table 2.1
	q := queries{ctx: ctx, bus: bus}
	var p HDCPPort
	ksv := q.registers(HDCPAddr, bksv, 5)
	if errors.Is(q.err, ErrNoAck) {
		return p, q.log, nil // known: there is none
	}
	caps := q.registers(HDCPAddr, bcaps, 1)
	v2 := q.registers(HDCPAddr, version, 1)
	if q.err != nil {
		return p, q.log, fmt.Errorf("HDCP port: %w", q.err)
	}
	p.Present = true
	ones := 0
	for _, b := range ksv {
		ones += bits.OnesCount8(b)
	}
	copy(p.KSV[:], ksv)
	p.KSVValid = ones == 20
	p.Repeater = caps[0]&0x40 != 0
	p.Version2 = v2[0]&0x04 != 0
	return p, q.log, nil
}

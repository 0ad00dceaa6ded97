package ddc

import (
	"context"
	"fmt"
)

// SCDCAddr is the status and control data channel (HDMI 2.0 clause 10.4).
const SCDCAddr = 0x54

// SCDC registers that are read (HDMI 2.0 clause 10.4.1).
const (
	scdcSinkVersion  = 0x01
	scdcTMDSConfig   = 0x20
	scdcScramblerSt  = 0x21
	scdcStatusFlags0 = 0x40
	scdcErrorFirst   = 0x50
	scdcErrorBytes   = 7 // three counters of two bytes and their checksum
)

// SCDCStatus is how an HDMI 2.0 display sees the link.
type SCDCStatus struct {
	SinkVersion byte
	// Scrambling and Ratio40 are what a source has asked for: scrambling,
	// and a TMDS clock of 1/40 of the bit rate, as above 340 Mcsc.
	Scrambling, Ratio40 bool
	Scrambled           bool // the display sees scrambled data
	ClockDetected       bool
	Locked              [3]bool // channels 0 (blue), 1 (green), 2 (red)
	// Errors are the character errors since the last read; reading clears
	// them. A counter is not Known while its valid bit is clear.
	Errors [3]Value[int]
}

// ReadSCDC reads the status and the character error counters. Call it only
// where the EDID announces SCDC (SCDC_Present in the HDMI Forum block): other
// displays may hold something else at 0x54. Nothing is written but the
// register offset that each read needs. The counters clear by being read, so
// a second call counts what came since.
func ReadSCDC(ctx context.Context, bus Bus) (SCDCStatus, []Attempt, error) {
	r := queries{ctx: ctx, bus: bus}
	var s SCDCStatus
	version := r.registers(SCDCAddr, scdcSinkVersion, 1)
	config := r.registers(SCDCAddr, scdcTMDSConfig, 2)
	flags := r.registers(SCDCAddr, scdcStatusFlags0, 1)
	counters := r.registers(SCDCAddr, scdcErrorFirst, scdcErrorBytes)
	if r.err != nil {
		return s, r.log, fmt.Errorf("SCDC: %w", r.err)
	}
	s.SinkVersion = version[0]
	s.Scrambling, s.Ratio40 = config[0]&1 != 0, config[0]&2 != 0
	s.Scrambled = config[scdcScramblerSt-scdcTMDSConfig]&1 != 0
	s.ClockDetected = flags[0]&1 != 0
	for ch := range s.Locked {
		s.Locked[ch] = flags[0]&(2<<ch) != 0
	}
	sound := checksumOK(counters)
	for ch := range s.Errors {
		lo, hi := counters[2*ch], counters[2*ch+1]
		switch {
		case !sound:
			s.Errors[ch] = CannotMeasure[int](&OpError{Op: "read the character error counters", Addr: SCDCAddr,
				Kind: ErrBroken, Do: "their checksum is wrong: the DDC lines disturbed them"})
		case hi&0x80 == 0:
			s.Errors[ch] = CannotMeasure[int](&OpError{Op: fmt.Sprintf("count character errors on channel %d", ch),
				Addr: SCDCAddr, Kind: ErrNoLock, Do: "the display does not count: no lock on the channel yet"})
		default:
			s.Errors[ch] = Got(int(hi&0x7f)<<8 | int(lo))
		}
	}
	return s, r.log, nil
}

// queries runs register reads one after another and keeps the first error.
type queries struct {
	ctx context.Context
	bus Bus
	log []Attempt
	err error
}

// registers reads n bytes from a register on in one combined transaction.
func (q *queries) registers(addr uint16, reg byte, n int) []byte {
	into := make([]byte, n)
	q.transfer([]Msg{{Addr: addr, Data: []byte{reg}}, {Addr: addr, Read: true, Data: into}})
	return into
}

func (q *queries) transfer(msgs []Msg) {
	if q.err != nil {
		return
	}
	attempt, err := logged(q.ctx, q.bus, msgs)
	q.log = append(q.log, attempt)
	q.err = err
}

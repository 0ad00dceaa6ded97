package sim

import (
	"fmt"
	"math/rand/v2"
	"syscall"

	"deadhop/ddc"
)

const (
	addrSegment = 0x30 // E-DDC segment pointer, write only
	addrEDID    = 0x50 // E-DDC data
)

// The DDC wire's speed limits, NXP UM10204 table 10, standard mode.
const (
	slowRise = 1000.0 // ns, longest rise time: above it bits begin to go wrong
	deafRise = 4000.0 // ns, the shortest high period of SCL: above it no start is seen
)

// noise draws what chance decides, the same for the same seed.
type noise struct{ r *rand.Rand }

func (n noise) hits(p float64) bool { return p > 0 && n.r != nil && n.r.Float64() < p }

// store is an EDID memory on the wire: it answers at 0x50, and at 0x30 where
// it is larger than one segment. A plain 256-byte EEPROM knows no segments.
type store struct {
	data    []byte
	offset  byte
	segment byte
}

func newStore(data []byte) *store {
	if data == nil {
		return nil
	}
	return &store{data: data}
}

func (s *store) answers(addr uint16) bool {
	return s != nil && (addr == addrEDID || addr == addrSegment && len(s.data) > 256)
}

func (s *store) write(addr uint16, data []byte) {
	if len(data) == 0 {
		return
	}
	// Bytes after the offset would be stored; the memory is write-protected,
	// acknowledges them all the same and keeps nothing, as EEPROMs do.
	if addr == addrSegment {
		s.segment = data[0]
	} else {
		s.offset = data[0]
	}
}

func (s *store) next() byte {
	at := int(s.segment)*256 + int(s.offset)
	s.offset++ // wraps inside the segment
	if at < len(s.data) {
		return s.data[at]
	}
	return 0xFF // a blank EEPROM byte, and what nobody drives
}

// bitErrors is the chance of a wrong bit in a byte on this line. Estimate:
// none up to the standard's rise time, then growing until nothing is heard.
func (l ddcLine) bitErrors(rise float64) float64 {
	p := 0.0
	if l.noisy {
		p = 0.03
	}
	if rise > slowRise {
		p += 0.05 * (rise - slowRise) / (deafRise - slowRise)
	}
	return p
}

// transfer carries out one combined transaction on the line, with the
// master's pull-up. The errno is what Linux' bit-banging adapter gives
// (drivers/i2c/algos/i2c-algo-bit.c): ETIMEDOUT where the clock stays low,
// ENXIO where an address is not acknowledged. done is how many messages went
// through.
func (l ddcLine) transfer(msgs []ddc.Msg, pullUp float64, n noise) (done int, err error) {
	if l.sclLow {
		return 0, fmt.Errorf("the clock is held low: %w", syscall.ETIMEDOUT)
	}
	rise := riseTime(pullUp, l.picofarads+boardPicofarad)
	p := l.bitErrors(rise)
	if l.store != nil {
		defer func() { l.store.segment = 0 }() // forgotten at the stop, VESA E-DDC 1.2 section 2.2.5
	}
	for i, m := range msgs {
		// A data line stuck low acknowledges everything and reads as zeros.
		if !l.sdaLow && (rise > deafRise || !l.store.answers(m.Addr) || m.Read && m.Addr == addrSegment) {
			return i, fmt.Errorf("address 0x%02X not acknowledged: %w", m.Addr, syscall.ENXIO)
		}
		if !m.Read {
			if !l.sdaLow {
				l.store.write(m.Addr, m.Data)
			}
			continue
		}
		for j := range m.Data {
			if l.sdaLow {
				m.Data[j] = 0
				continue
			}
			m.Data[j] = l.store.next()
			if n.hits(p) {
				m.Data[j] ^= 1 << n.r.IntN(8)
			}
		}
	}
	return len(msgs), nil
}

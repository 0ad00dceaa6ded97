package ddc

import (
	"bytes"
	"fmt"
	"slices"
	"strings"
	"time"
)

// WireSign is a pattern in EDID bytes that speaks of the DDC lines, or of the
// store behind them.
type WireSign uint8

const (
	AllOnes    WireSign = iota + 1 // FF only: nobody drives SDA while reading
	AllZeros                       // 00 only: SDA held low, or a blank store
	StuckLow                       // bits that are never 1
	StuckHigh                      // bits that are never 0
	BitShift                       // the header stands some bits late: a clock edge was missed
	Rolled                         // the header stands some bytes off: the offset write was lost
	HeaderLost                     // bytes 0 to 7 are wrong, the rest is not
	Changing                       // repeated reads differ: the bus
	WrongStore                     // repeated reads agree and the checksum is wrong: the store
	Slow                           // a transfer took far longer than its bits need
)

var wireSignWords = [...]string{
	AllOnes: "all ones", AllZeros: "all zeros", StuckLow: "bits stuck low", StuckHigh: "bits stuck high",
	BitShift: "shifted by bits", Rolled: "rolled by bytes", HeaderLost: "header lost", Changing: "changing bytes",
	WrongStore: "wrong in the store", Slow: "slow or held clock",
}

func (s WireSign) String() string {
	if int(s) < len(wireSignWords) && s > 0 {
		return wireSignWords[s]
	}
	return fmt.Sprintf("WireSign(%d)", uint8(s))
}

// WireFault is one sign with its numbers.
type WireFault struct {
	Sign WireSign
	// Bits has a 1 for each line bit concerned: the stuck ones, or those
	// that changed.
	Bits byte
	// By is the shift in bits, or the roll in bytes.
	By int
	// Bytes are the offsets of the bytes that changed between reads.
	Bytes []int
	// Rose and Fell count the bits that came as 1 or as 0 against the
	// majority of the reads: noise goes both ways, a weak pull-up or a slow
	// edge one way.
	Rose, Fell int
	Detail     string
}

// JudgeReads looks for signs of the wire in repeated full reads of one EDID.
// The more reads, the surer the line between a bad store (the same wrong
// bytes each time) and a bad bus (changing bytes); one read gives no verdict
// on that. Healthy reads give none.
func JudgeReads(reads [][]byte) []WireFault {
	reads = slices.DeleteFunc(slices.Clone(reads), func(b []byte) bool { return len(b) < blockLen })
	if len(reads) == 0 {
		return nil
	}
	var all []WireFault
	if f, ok := changing(reads); ok {
		all = append(all, f)
	}
	first := reads[0]
	damaged := !blocksGood(first)
	if f, ok := patternOf(first); ok && damaged {
		all = append(all, f)
	}
	if damaged && len(reads) > 1 && !slices.ContainsFunc(reads, func(b []byte) bool { return !bytes.Equal(b, first) }) &&
		!slices.ContainsFunc(all, func(f WireFault) bool { return f.Sign != HeaderLost }) {
		all = append(all, WireFault{Sign: WrongStore, Detail: fmt.Sprintf("%d reads gave the same bytes, whose checksum is wrong", len(reads))})
	}
	return all
}

// patternOf names what the first block looks like. It starts with eight
// bytes of a fixed pattern that has every bit both set and clear, which is
// what makes stuck and shifted bits show.
func patternOf(b []byte) (WireFault, bool) {
	block := b[:blockLen]
	or, and := byte(0), byte(0xff)
	for _, v := range block {
		or |= v
		and &= v
	}
	switch {
	case and == 0xff:
		return WireFault{Sign: AllOnes, Bits: 0xff, Detail: "every byte is FF: the address was acknowledged, but nobody drives SDA"}, true
	case or == 0:
		return WireFault{Sign: AllZeros, Bits: 0xff, Detail: "every byte is 00: SDA is held low, or the store is blank"}, true
	case or != 0xff:
		return WireFault{Sign: StuckLow, Bits: ^or, Detail: "never 1 in 128 bytes: " + bitNames(^or)}, true
	case and != 0:
		return WireFault{Sign: StuckHigh, Bits: and, Detail: "never 0 in 128 bytes: " + bitNames(and)}, true
	}
	if bytes.HasPrefix(block, edidHeader) {
		return WireFault{}, false
	}
	if at, ok := headerAt(block); ok {
		if at%8 != 0 {
			return WireFault{Sign: BitShift, By: at, Detail: fmt.Sprintf("the header starts at bit %d", at)}, true
		}
		return WireFault{Sign: Rolled, By: at / 8, Detail: fmt.Sprintf("the header starts at byte %d: the offset was lost on the way", at/8)}, true
	}
	if block[0] == 0x02 && checksumOK(block) {
		return WireFault{Sign: Rolled, By: blockLen, Detail: "block 1 came first (its tag is CTA-861): the offset was lost on the way"}, true
	}
	repaired := append([]byte(nil), block...)
	copy(repaired, edidHeader)
	if checksumOK(repaired) {
		return WireFault{Sign: HeaderLost, Detail: "with the right header the checksum holds: bytes 0 to 7 were overwritten"}, true
	}
	return WireFault{}, false
}

func bitNames(mask byte) string {
	var s []string
	for i := 7; i >= 0; i-- {
		if mask&(1<<i) != 0 {
			s = append(s, fmt.Sprintf("bit %d", i))
		}
	}
	return strings.Join(s, ", ")
}

// headerAt finds the EDID header at any bit of the block, counting round the
// end. Bit 0 is the first on the wire.
func headerAt(block []byte) (bit int, ok bool) {
	ring := append(append([]byte(nil), block...), block[:9]...)
	for at := 1; at < blockLen*8; at++ {
		n, off := at/8, uint(at%8)
		match := true
		for i, want := range edidHeader {
			got := ring[n+i]<<off | byte(uint16(ring[n+i+1])>>(8-off))
			if got != want {
				match = false
				break
			}
		}
		if match {
			return at, true
		}
	}
	return 0, false
}

// changing compares reads bit by bit against the majority of them.
func changing(reads [][]byte) (WireFault, bool) {
	n := len(slices.MinFunc(reads, func(a, b []byte) int { return len(a) - len(b) }))
	f := WireFault{Sign: Changing}
	for at := range n {
		var ones [8]int
		for _, r := range reads {
			for i := range 8 {
				ones[i] += int(r[at] >> i & 1)
			}
		}
		differs := false
		for i, c := range ones {
			if c == 0 || c == len(reads) {
				continue
			}
			differs = true
			f.Bits |= 1 << i
			if 2*c >= len(reads) {
				f.Fell += len(reads) - c
			} else {
				f.Rose += c
			}
		}
		if differs {
			f.Bytes = append(f.Bytes, at)
		}
	}
	lengths := slices.ContainsFunc(reads, func(b []byte) bool { return len(b) != len(reads[0]) })
	if len(f.Bytes) == 0 && !lengths {
		return WireFault{}, false
	}
	f.Detail = fmt.Sprintf("%d bytes differ among %d reads; against the majority %d bits came as 1 and %d as 0",
		len(f.Bytes), len(reads), f.Rose, f.Fell)
	if lengths {
		f.Detail += "; the reads differ in length"
	}
	return f, true
}

// standardMode is the period of SCL at which DDC runs: I2C standard mode,
// 100 kHz (HDMI 1.4 clause 8.4, UM10204 table 10).
const standardMode = 10 * time.Microsecond

// Clocks is how many SCL periods a transaction costs without stretching: nine
// a byte, address bytes included, and one each for start, repeated start and
// stop.
func Clocks(msgs []Msg) int {
	n := 1
	for _, m := range msgs {
		n += 1 + 9*(1+len(m.Data))
	}
	return n
}

// LeastTime is what a transaction takes at 100 kHz.
func LeastTime(msgs []Msg) time.Duration { return time.Duration(Clocks(msgs)) * standardMode }

// JudgeTimes says whether the transfers of a log took longer than three times
// what their bits need at 100 kHz. The median counts, since one transfer may
// be late because the machine was busy; and nothing is said of an adapter
// that moves bytes by separate calls. Many displays stretch the clock a
// little, so this is a note for a bus that fails, not a verdict.
func JudgeTimes(log []Attempt) (WireFault, bool) {
	var ratios []float64
	for _, a := range log {
		if a.Err == nil && a.By == Combined && len(a.Msgs) > 1 && len(a.Msgs[len(a.Msgs)-1].Data) >= blockLen {
			ratios = append(ratios, float64(a.Took)/float64(LeastTime(a.Msgs)))
		}
	}
	if len(ratios) == 0 {
		return WireFault{}, false
	}
	slices.Sort(ratios)
	if r := ratios[len(ratios)/2]; r > 3 {
		return WireFault{Sign: Slow, Detail: fmt.Sprintf("a block takes %.1f times as long as its bits need at 100 kHz", r)}, true
	}
	return WireFault{}, false
}

package timing

import "fmt"

// StandardCode is what the two bytes of an EDID standard timing state
// (E-EDID section 3.9): a width, a shape and a rate, but no porches.
type StandardCode struct {
	H, V   uint16 // active pixels and lines
	RateHz uint8  // 60 to 123
	Aspect string // "16:10", "4:3", "5:4", "16:9", or "1:1" before EDID 1.3
}

// ParseStandardCode reads a standard-timing code. Aspect code 0 means 16:10
// from EDID 1.3 on and 1:1 before; before13 selects the latter. ok is false
// for 01 01, which marks an unused slot, and for a first byte of 0, which is
// reserved.
//
// A width that does not give a whole number of lines (1360 at 16:9: 765) is
// rounded down; 1366x768 cannot be stated at all.
func ParseStandardCode(code [2]byte, before13 bool) (c StandardCode, ok bool) {
	if code == [2]byte{1, 1} || code[0] == 0 {
		return c, false
	}
	c.H = (uint16(code[0]) + 31) * 8
	c.RateHz = code[1]&0x3F + 60
	switch code[1] >> 6 {
	case 0:
		c.Aspect, c.V = "16:10", c.H*10/16
		if before13 {
			c.Aspect, c.V = "1:1", c.H
		}
	case 1:
		c.Aspect, c.V = "4:3", c.H*3/4
	case 2:
		c.Aspect, c.V = "5:4", c.H*4/5
	case 3:
		c.Aspect, c.V = "16:9", uint16(uint32(c.H)*9/16)
	}
	return c, true
}

// String is "1280x1024 60 Hz, 5:4".
func (c StandardCode) String() string {
	return fmt.Sprintf("%dx%d %d Hz, %s", c.H, c.V, c.RateHz, c.Aspect)
}

// DMTByStandardCode is the DMT timing that DMT itself gives this code. Where
// ok is false the timing has to be computed: by CVT or GTF, as the display's
// range limits say.
func DMTByStandardCode(code [2]byte) (Standard, bool) {
	if code == [2]byte{} {
		return Standard{}, false
	}
	for i := range dmtTable {
		if dmtTable[i].STDCode == code {
			return dmtTable[i], true
		}
	}
	return Standard{}, false
}

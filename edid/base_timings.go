package edid

import "strconv"

// Established is bytes 0x23 to 0x25: established timings I and II and the
// maker's reserved timings (E-EDID 3.8).
type Established [3]byte

// Has reports whether bit n is set; bit 0 is bit 7 of the first byte, the
// order of the standard's table.
func (e Established) Has(n int) bool { return e[n/8]&(0x80>>(n%8)) != 0 }

// StandardTiming is the two-byte code of a standard timing (E-EDID 3.9).
type StandardTiming [2]byte

// Used reports whether the code states a timing at all.
func (s StandardTiming) Used() bool { return s != StandardTiming{1, 1} && s[0] != 0 }

// HActive is the number of pixels a line, 256 to 2288.
func (s StandardTiming) HActive() int { return (int(s[0]) + 31) * 8 }

// Hz is the vertical rate, 60 to 123.
func (s StandardTiming) Hz() int { return int(s[1]&63) + 60 }

// VActive is the number of lines. Ratio code 0 means 16:10 since EDID 1.3 and
// 1:1 before.
func (s StandardTiming) VActive(v Version) int {
	h := s.HActive()
	switch s[1] >> 6 {
	case 1:
		return h * 3 / 4
	case 2:
		return h * 4 / 5
	case 3:
		return h * 9 / 16
	}
	if v.AtLeast(3) {
		return h * 10 / 16
	}
	return h
}

// Size is "1280x1024@60" for a code of an EDID of this version.
func (s StandardTiming) Size(v Version) string {
	return itoa(s.HActive()) + "x" + itoa(s.VActive(v)) + "@" + itoa(s.Hz())
}

func itoa(n int) string { return strconv.Itoa(n) }

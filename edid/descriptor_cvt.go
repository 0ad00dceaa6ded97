package edid

// CVTCodes is descriptor 0xF8: four three-byte CVT codes (E-EDID 3.10.3.8).
type CVTCodes struct {
	body
	Version uint8
	Codes   [4]CVTCode
}

// Tag is CVTTag.
func (*CVTCodes) Tag() DescriptorTag { return CVTTag }

// CVTCode is a three-byte CVT code.
type CVTCode [3]byte

// Used reports whether the code states anything.
func (c CVTCode) Used() bool { return c != CVTCode{} }

// VActive is the number of lines.
func (c CVTCode) VActive() int { return ((int(c[1]>>4)<<8 | int(c[0])) + 1) * 2 }

// HActive is the number of pixels a line: a multiple of 8 that comes nearest
// below lines times ratio.
func (c CVTCode) HActive() int {
	r := [4][2]int{{4, 3}, {16, 9}, {16, 10}, {15, 9}}[c[1]>>2&3]
	return 8 * (c.VActive() * r[0] / r[1] / 8)
}

// CVTRate is one vertical rate of a CVT code.
type CVTRate struct {
	Hz        int
	Reduced   bool
	Preferred bool
}

// Rates lists the supported rates in the order of the bits.
func (c CVTCode) Rates() []CVTRate {
	var out []CVTRate
	pref := [4]int{50, 60, 75, 85}[c[2]>>5&3]
	for i, hz := range [5]int{50, 60, 75, 85, 60} {
		if c[2]&(16>>i) != 0 {
			reduced := i == 4
			out = append(out, CVTRate{hz, reduced, hz == pref})
		}
	}
	return out
}

package timing

import (
	"math"
	"math/bits"
	"strconv"
	"strings"
)

// Freq is an exact frequency in Hz, kept as a reduced fraction so that a
// format and its 1000/1001 twin never blur. The zero Freq means "not known".
// It is comparable with ==.
type Freq struct{ num, den uint64 }

// Hz is n hertz.
func Hz(n uint64) Freq { return Ratio(n, 1) }

// KHz is n kilohertz.
func KHz(n uint64) Freq { return Ratio(n, 1).Mul(1000) }

// Ratio is num/den hertz, reduced. A zero numerator or denominator gives the
// zero Freq.
func Ratio(num, den uint64) Freq {
	if num == 0 || den == 0 {
		return Freq{}
	}
	g := gcd(num, den)
	return Freq{num / g, den / g}
}

// IsZero reports whether the frequency is not known.
func (f Freq) IsZero() bool { return f.num == 0 }

// Fraction is the frequency in Hz as a reduced fraction; 0/1 for the zero
// Freq.
func (f Freq) Fraction() (num, den uint64) {
	if f.num == 0 {
		return 0, 1
	}
	return f.num, f.den
}

// Float is the frequency in Hz, rounded to a float64.
func (f Freq) Float() float64 {
	if f.den == 0 {
		return 0
	}
	return float64(f.num) / float64(f.den)
}

// Round is the frequency rounded to the nearest multiple of step Hz, halves
// up, in Hz. A zero step counts as 1.
func (f Freq) Round(step uint64) uint64 {
	if f.num == 0 {
		return 0
	}
	step = max(step, 1)
	n := f.Div(step)
	q, r := n.num/n.den, n.num%n.den
	if r >= n.den-r {
		q++
	}
	return q * step
}

// Mul is n times f.
func (f Freq) Mul(n uint64) Freq { return f.Scale(n, 1) }

// Div is f divided by n; dividing by zero gives the zero Freq.
func (f Freq) Div(n uint64) Freq { return f.Scale(1, n) }

// Scale is f × num/den. It is exact as long as the reduced result fits in two
// 64-bit numbers, which every frequency below 10^13 Hz divided by any raster
// does; beyond that the last bits are dropped, and what is larger or smaller
// than any such fraction becomes the largest or smallest.
func (f Freq) Scale(num, den uint64) Freq {
	if f.num == 0 || num == 0 || den == 0 {
		return Freq{}
	}
	g := gcd(num, den)
	num, den = num/g, den/g
	a, b := gcd(f.num, den), gcd(num, f.den)
	nh, nl := bits.Mul64(f.num/a, num/b)
	dh, dl := bits.Mul64(f.den/b, den/a)
	if nh == 0 && dh == 0 {
		return Freq{nl, dl}
	}
	s := uint(64 - min(bits.LeadingZeros64(nh), bits.LeadingZeros64(dh)))
	n, d := nh<<(64-s)|nl>>s, dh<<(64-s)|dl>>s
	switch {
	case d == 0:
		return Freq{math.MaxUint64, 1}
	case n == 0:
		return Freq{1, math.MaxUint64}
	}
	return Ratio(n, d)
}

// Add is f + g, exact within the bounds of [Freq.Scale].
func (f Freq) Add(g Freq) Freq {
	switch {
	case f.num == 0:
		return g
	case g.num == 0:
		return f
	}
	c := gcd(f.den, g.den)
	sum := f.num*(g.den/c) + g.num*(f.den/c)
	return Ratio(sum, f.den/c).Div(g.den)
}

// Cmp compares exactly: -1 where f < g, 0 where they are equal, +1 where
// f > g.
func (f Freq) Cmp(g Freq) int {
	fn, fd := f.Fraction()
	gn, gd := g.Fraction()
	ah, al := bits.Mul64(fn, gd)
	bh, bl := bits.Mul64(gn, fd)
	switch {
	case ah > bh || ah == bh && al > bl:
		return 1
	case ah < bh || al < bl:
		return -1
	}
	return 0
}

// PPM is how far f lies above (positive) or below g, in parts per million of
// g. It is +Inf where g is not known.
func (f Freq) PPM(g Freq) float64 {
	if g.IsZero() {
		return math.Inf(1)
	}
	fn, fd := f.Fraction()
	// The cross products are compared exactly before floats come in, so
	// that neighbours far below a float's resolution still differ.
	ah, al := bits.Mul64(fn, g.den)
	bh, bl := bits.Mul64(g.num, fd)
	base := float64(bh)*0x1p64 + float64(bl)
	if f.Cmp(g) >= 0 {
		dl, c := bits.Sub64(al, bl, 0)
		dh, _ := bits.Sub64(ah, bh, c)
		return (float64(dh)*0x1p64 + float64(dl)) / base * 1e6
	}
	dl, c := bits.Sub64(bl, al, 0)
	dh, _ := bits.Sub64(bh, ah, c)
	return -(float64(dh)*0x1p64 + float64(dl)) / base * 1e6
}

// String is the frequency in the largest fitting unit with up to six
// decimals: "148.5 MHz", "67.432567 kHz", "59.94006 Hz", "unknown" for the
// zero Freq.
func (f Freq) String() string {
	switch {
	case f.IsZero():
		return "unknown"
	case f.Cmp(Hz(1e6)) >= 0:
		return f.In(1e6) + " MHz"
	case f.Cmp(Hz(1e3)) >= 0:
		return f.In(1e3) + " kHz"
	default:
		return f.In(1) + " Hz"
	}
}

// In is the number alone, in multiples of unit Hz, with up to six decimals
// and no trailing zeros.
func (f Freq) In(unit uint64) string { return f.InDecimals(unit, 6) }

// InDecimals is like [Freq.In] with at most n decimals.
func (f Freq) InDecimals(unit uint64, n int) string {
	if f.den == 1 && f.num%unit == 0 {
		return strconv.FormatUint(f.num/unit, 10)
	}
	s := strconv.FormatFloat(f.Float()/float64(unit), 'f', n, 64)
	if strings.Contains(s, ".") {
		s = strings.TrimRight(strings.TrimRight(s, "0"), ".")
	}
	return s
}

func gcd(a, b uint64) uint64 {
	for b != 0 {
		a, b = b, a%b
	}
	return a
}

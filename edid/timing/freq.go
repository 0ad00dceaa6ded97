package timing

// Freq is an exact frequency in Hz, kept as a reduced fraction so that a
// format and its 1000/1001 twin never blur. The zero Freq means "not known".
// It is comparable with ==.
type Freq struct{ num, den uint64 }

// Hz is n hertz.
func Hz(n uint64) Freq { return Ratio(n, 1) }

// KHz is n kilohertz.
func KHz(n uint64) Freq { return Ratio(n*1000, 1) }

// Ratio is num/den hertz, reduced. A zero numerator or denominator gives the
// zero Freq.
func Ratio(num, den uint64) Freq {
	if num == 0 || den == 0 {
		return Freq{}
	}
	a, b := num, den
	for b != 0 {
		a, b = b, a%b
	}
	return Freq{num / a, den / a}
}

// IsZero reports whether the frequency is not known.
func (f Freq) IsZero() bool { return f.num == 0 }

// Float is the frequency in Hz, rounded to a float64.
func (f Freq) Float() float64 {
	if f.den == 0 {
		return 0
	}
	return float64(f.num) / float64(f.den)
}

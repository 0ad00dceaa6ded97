package timing

import (
	"fmt"
	"math"
)

// atom is one single-sided bound or one rule: what can be named as part of a
// contradiction.
type atom struct {
	origin string
	limit  Limit // one of Min and Max set; Quantity 0 for the rules below
	even   uint8 // horizontal numbers are multiples of this
	clock  Freq  // the pixel clock for each Hz of the limited rate, where it is CharacterRate
}

func (a atom) String() string {
	if a.even > 0 {
		return fmt.Sprintf("%s: horizontal numbers in multiples of %d", a.origin, a.even)
	}
	return a.origin + ": " + a.limit.String()
}

// span is a closed range of whole numbers.
type span struct{ lo, hi uint64 }

func (s span) empty() bool { return s.lo > s.hi }

// What a detailed timing descriptor can hold (E-EDID section 3.10.2) bounds
// every search.
const (
	maxBlank  = 4095
	maxHParts = 1023
	maxVParts = 63
)

// space is the set of progressive timings of one active size that meet a set
// of atoms. Clocks are counted in steps.
type space struct {
	width, height uint64
	ok            bool // the active size itself is within the limits
	step          Freq
	even          uint64
	clock         span
	hTotal        span
	vTotal        span
	hParts        [3]span // front, sync, back
	vParts        [3]span
	// Rates over the clock step, zero for no bound: steps a line, a frame.
	lineMin, lineMax, fieldMin, fieldMax Freq
}

func newSpace(width, height uint32, step Freq, atoms []atom) *space {
	s := &space{width: uint64(width), height: uint64(height), ok: true, step: step, even: 1}
	s.clock = span{1, Hz(1e11).over(step).floor()}
	s.hTotal = span{s.width + 3, s.width + maxBlank}
	s.vTotal = span{s.height + 3, s.height + maxBlank}
	s.hParts = [3]span{{1, maxHParts}, {1, maxHParts}, {1, maxBlank}}
	s.vParts = [3]span{{1, maxVParts}, {1, maxVParts}, {1, maxBlank}}
	for i := range atoms {
		s.meet(&atoms[i])
	}
	if s.even > 1 {
		s.ok = s.ok && s.width%s.even == 0
		for i := range s.hParts {
			s.hParts[i].lo = (s.hParts[i].lo + s.even - 1) / s.even * s.even
			s.hParts[i].hi = s.hParts[i].hi / s.even * s.even
		}
	}
	s.hTotal = within(s.hTotal, s.width, s.hParts)
	s.vTotal = within(s.vTotal, s.height, s.vParts)
	return s
}

// within cuts a range of totals down to what the parts can add up to.
func within(total span, active uint64, parts [3]span) span {
	low, high := active, active
	for _, p := range parts {
		if p.empty() {
			return span{1, 0}
		}
		low += p.lo
		high += p.hi
	}
	return span{max(total.lo, low), min(total.hi, high)}
}

func (s *space) meet(a *atom) {
	if a.even > 0 {
		s.even = s.even / gcd(s.even, uint64(a.even)) * uint64(a.even)
		return
	}
	l := a.limit
	switch q := l.Quantity; q {
	case PixelClock:
		s.clock.cut(l.Min.over(s.step), l.Max.over(s.step))
	case CharacterRate:
		n, d := a.clock.Fraction()
		s.clock.cut(l.Min.Scale(d, n).over(s.step), l.Max.Scale(d, n).over(s.step))
	case LineRate:
		tighten(&s.lineMin, &s.lineMax, l.Min.over(s.step), l.Max.over(s.step))
	case FieldRate:
		tighten(&s.fieldMin, &s.fieldMax, l.Min.over(s.step), l.Max.over(s.step))
	case HActive, VActive:
		n := s.width
		if q == VActive {
			n = s.height
		}
		one := span{n, n}
		one.cut(l.Min, l.Max)
		s.ok = s.ok && !one.empty()
	case HTotal:
		s.hTotal.cut(l.Min, l.Max)
	case VTotal:
		s.vTotal.cut(l.Min, l.Max)
	case HBlank:
		s.hTotal.cut(plus(l.Min, s.width), plus(l.Max, s.width))
	case VBlank:
		s.vTotal.cut(plus(l.Min, s.height), plus(l.Max, s.height))
	case HFront, HSync, HBack:
		s.hParts[q-HFront].cut(l.Min, l.Max)
	case VFront, VSync, VBack:
		s.vParts[q-VFront].cut(l.Min, l.Max)
	}
}

func plus(f Freq, n uint64) Freq {
	if f.IsZero() {
		return f
	}
	return f.Add(Hz(n))
}

func (s *span) cut(low, high Freq) {
	if !low.IsZero() {
		s.lo = max(s.lo, low.ceil())
	}
	if !high.IsZero() {
		s.hi = min(s.hi, high.floor())
	}
}

func tighten(low, high *Freq, newLow, newHigh Freq) {
	if newLow.Cmp(*low) > 0 {
		*low = newLow
	}
	if !newHigh.IsZero() && (high.IsZero() || newHigh.Cmp(*high) < 0) {
		*high = newHigh
	}
}

// over is f/g as a plain number.
func (f Freq) over(g Freq) Freq {
	n, d := g.Fraction()
	return f.Scale(d, n)
}

func (f Freq) floor() uint64 { n, d := f.Fraction(); return n / d }
func (f Freq) ceil() uint64 {
	n, d := f.Fraction()
	if n%d == 0 {
		return n / d
	}
	return n/d + 1
}

// mulDivUp is a·b/c rounded up.
func mulDivUp(a, b, c uint64) uint64 {
	q := mulDiv(a, b, c)
	if q != math.MaxUint64 && q*c != a*b { // equal modulo 2^64 means equal, for the remainder is below c
		q++
	}
	return q
}

// clocks are the clock steps that the line-rate limits allow at an H total.
func (s *space) clocks(h uint64) span {
	c := s.clock
	if !s.lineMin.IsZero() {
		c.lo = max(c.lo, mulDivUp(s.lineMin.num, h, s.lineMin.den))
	}
	if !s.lineMax.IsZero() {
		c.hi = min(c.hi, mulDiv(s.lineMax.num, h, s.lineMax.den))
	}
	return c
}

// lines are the V totals that the field-rate limits leave for those clocks,
// before the clock's step is looked at.
func (s *space) lines(h uint64, c span) span {
	v := s.vTotal
	if !s.fieldMax.IsZero() {
		v.lo = max(v.lo, mulDivUp(c.lo, s.fieldMax.den, s.fieldMax.num*h))
	}
	if !s.fieldMin.IsZero() {
		v.hi = min(v.hi, mulDiv(c.hi, s.fieldMin.den, s.fieldMin.num*h))
	}
	return v
}

// clocksAt cuts the clocks of an H total down to those of a V total too.
func (s *space) clocksAt(c span, h, v uint64) span {
	if !s.fieldMin.IsZero() {
		c.lo = max(c.lo, mulDivUp(s.fieldMin.num, h*v, s.fieldMin.den))
	}
	if !s.fieldMax.IsZero() {
		c.hi = min(c.hi, mulDiv(s.fieldMax.num, h*v, s.fieldMax.den))
	}
	return c
}

// totals are the H totals in the steps that the even rule leaves.
func (s *space) firstTotal() uint64 { return (s.hTotal.lo + s.even - 1) / s.even * s.even }

// feasible reports whether any timing meets all atoms.
func (s *space) feasible() bool {
	if !s.ok || s.clock.empty() || s.vTotal.empty() {
		return false
	}
	for h := s.firstTotal(); h <= s.hTotal.hi; h += s.even {
		c := s.clocks(h)
		if c.empty() {
			continue
		}
		lines := s.lines(h, c)
		for v := lines.lo; v <= lines.hi; v++ {
			if !s.clocksAt(c, h, v).empty() {
				return true
			}
		}
	}
	return false
}

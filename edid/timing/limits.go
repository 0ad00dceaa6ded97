package timing

import (
	"fmt"
	"strings"
)

// Quantity is something of a timing that a data sheet limits.
type Quantity uint8

// The quantities in the order in which a fit lists them.
const (
	PixelClock Quantity = iota + 1
	CharacterRate
	LineRate
	FieldRate
	HActive
	HTotal
	HBlank
	HFront
	HSync
	HBack
	VActive
	VTotal
	VBlank
	VFront
	VSync
	VBack
	lastQuantity = VBack
)

var quantityNames = [...]string{"", "pixel clock", "link character rate", "line rate", "field rate",
	"H active", "H total", "H blanking", "H front porch", "H sync", "H back porch",
	"V active", "V total", "V blanking", "V front porch", "V sync", "V back porch"}

func (q Quantity) String() string {
	if q >= PixelClock && q <= lastQuantity {
		return quantityNames[q]
	}
	return fmt.Sprintf("Quantity(%d)", uint8(q))
}

// unit is what the quantity is counted in, and how many Hz, pixels or lines
// that is.
func (q Quantity) unit() (name string, size uint64) {
	switch {
	case q <= CharacterRate:
		return "MHz", 1e6
	case q == LineRate:
		return "kHz", 1e3
	case q == FieldRate:
		return "Hz", 1
	case q <= HBack:
		return "px", 1
	}
	return "lines", 1
}

// text is a value of the quantity with its unit.
func (q Quantity) text(v Freq) string {
	unit, size := q.unit()
	return v.InDecimals(size, 4) + " " + unit
}

// Limit bounds one quantity. Rates are in Hz; pixels and lines are whole
// numbers in the same exact type. A zero Min or Max is no bound, a zero Typ
// not stated.
type Limit struct {
	Quantity      Quantity
	Min, Typ, Max Freq
}

// Rule is an answer that a data sheet may also leave out.
type Rule uint8

const (
	NotStated Rule = iota
	Required       // positive polarity, or interlaced
	Refused        // negative polarity, or progressive
)

// Limits is what one part of the path accepts, with where it is stated.
type Limits struct {
	Origin string // "panel sheet", "scaler input", "link", "EDID range limits"
	List   []Limit
	// Listed are the only timings accepted, where a scaler lists them; empty
	// for any within the other limits.
	Listed []Standard
	// Interlaced, HPositive and VPositive are the scan and the sync
	// polarities that are demanded.
	Interlaced, HPositive, VPositive Rule
	// DEOnly is a part that looks at data enable alone: how the blanking is
	// split into porches and sync does not matter to it.
	DEOnly bool
	// Channels is the number of pixels a clock, 0 or 1 for one. With two, all
	// horizontal numbers have to be even.
	Channels uint8
	Sampling Sampling // of the link, for CharacterRate
	// BitsPerComponent of the link, 0 for 8.
	BitsPerComponent uint8
	// Sequence holds power-up and power-down times, as stated; no timing can
	// break them.
	Sequence []SequenceTime
}

// SequenceTime is a named time of a panel's power sequence, in µs; MaxUS 0 is
// no bound.
type SequenceTime struct {
	Name         string
	MinUS, MaxUS uint64
}

// At is a limit that holds q between the two values; either may be zero.
func At(q Quantity, low, high Freq) Limit { return Limit{Quantity: q, Min: low, Max: high} }

// Count is a number of pixels or lines as a limit's value.
func Count(n uint32) Freq { return Hz(uint64(n)) }

// RangeLimits are the limits of an EDID range descriptor (E-EDID section
// 3.10.3.3). It states rates in whole Hz and kHz, so half a unit over is
// within them.
func RangeLimits(minV, maxV, minH, maxH, maxClock Freq) Limits {
	widen := func(low, high, half Freq) (Freq, Freq) {
		if low.Cmp(half) > 0 {
			low = low.minus(half)
		}
		return low, high.Add(half)
	}
	minV, maxV = widen(minV, maxV, Ratio(1, 2))
	minH, maxH = widen(minH, maxH, Hz(500))
	return Limits{Origin: "EDID range limits", List: []Limit{
		At(PixelClock, Freq{}, maxClock), At(LineRate, minH, maxH), At(FieldRate, minV, maxV)}}
}

// AtRate is the wish for a field rate, within ppm parts per million.
func AtRate(rate Freq, ppm uint64) Limits {
	return Limits{Origin: "wanted rate", List: []Limit{
		{FieldRate, rate.Scale(1e6-min(ppm, 999_999), 1e6), rate, rate.Scale(1e6+ppm, 1e6)}}}
}

// minus is f - g, zero where g is larger.
func (f Freq) minus(g Freq) Freq {
	if f.Cmp(g) <= 0 || g.IsZero() {
		if g.IsZero() {
			return f
		}
		return Freq{}
	}
	c := gcd(f.den, g.den)
	return Ratio(f.num*(g.den/c)-g.num*(f.den/c), f.den/c).Div(g.den)
}

// value is the quantity of t on a link with l's sampling and depth.
func (l *Limits) value(t Timing, q Quantity) Freq {
	switch q {
	case PixelClock:
		return t.PixelClock
	case CharacterRate:
		return t.CharacterRate(l.BitsPerComponent, l.Sampling)
	case LineRate:
		return t.LineRate()
	case FieldRate:
		return t.FieldRate()
	}
	a := t.H
	if q >= VActive {
		a, q = t.V, q-VActive+HActive
	}
	switch q {
	case HActive:
		return Count(a.Active)
	case HTotal:
		return Count(a.Total())
	case HBlank:
		return Count(a.Blank())
	case HFront:
		return Count(a.Front)
	case HSync:
		return Count(a.Sync)
	}
	return Count(a.Back)
}

// Validate reports the first limit that no timing at all can meet: a minimum
// above its maximum, or porches that together exceed the blanking.
func (l *Limits) Validate() error {
	low := map[Quantity]Freq{}
	high := map[Quantity]Freq{}
	for _, x := range l.List {
		if x.Quantity < PixelClock || x.Quantity > lastQuantity {
			return fmt.Errorf("%s: %s is no quantity", l.Origin, x.Quantity)
		}
		if !x.Max.IsZero() && x.Min.Cmp(x.Max) > 0 {
			return fmt.Errorf("%s: %s: minimum %s is above maximum %s", l.Origin, x.Quantity, x.Quantity.text(x.Min), x.Quantity.text(x.Max))
		}
		if !x.Typ.IsZero() && (x.Typ.Cmp(x.Min) < 0 || !x.Max.IsZero() && x.Typ.Cmp(x.Max) > 0) {
			return fmt.Errorf("%s: %s: typical %s is not between minimum and maximum", l.Origin, x.Quantity, x.Quantity.text(x.Typ))
		}
		low[x.Quantity], high[x.Quantity] = x.Min, x.Max
	}
	for _, a := range []struct{ blank, front, sync, back Quantity }{{HBlank, HFront, HSync, HBack}, {VBlank, VFront, VSync, VBack}} {
		need := low[a.front].Add(low[a.sync]).Add(low[a.back])
		if room := high[a.blank]; !room.IsZero() && need.Cmp(room) > 0 {
			return fmt.Errorf("%s: %s of at least %s with its porches is longer than the %s of %s",
				l.Origin, a.sync, a.sync.text(need), a.blank, a.blank.text(room))
		}
	}
	return nil
}

// String is the limit as a data sheet writes it: "pixel clock 120 to 175 MHz".
func (l Limit) String() string { return l.Quantity.String() + " " + l.bounds() }

func (l Limit) bounds() string {
	unit, size := l.Quantity.unit()
	low, high := l.Min.InDecimals(size, 4), l.Max.InDecimals(size, 4)
	switch {
	case l.Min.IsZero() && l.Max.IsZero():
		return "any"
	case l.Min.IsZero():
		return "at most " + high + " " + unit
	case l.Max.IsZero():
		return "at least " + low + " " + unit
	case l.Min == l.Max:
		return "exactly " + low + " " + unit
	}
	return low + " to " + high + " " + unit
}

// words joins a list as people write it: "a, b and c".
func words(list []string) string {
	if len(list) < 2 {
		return strings.Join(list, "")
	}
	return strings.Join(list[:len(list)-1], ", ") + " and " + list[len(list)-1]
}

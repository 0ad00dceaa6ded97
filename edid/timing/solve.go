package timing

import (
	"cmp"
	"fmt"
	"math"
	"slices"
)

// Problem asks for a timing that meets limits of any number of parts.
type Problem struct {
	Width, Height uint32 // active pixels and lines, progressive
	Limits        []Limits
	// Near is what the source sends. Where it is zero, the typical values of
	// the limits stand in, or else reduced blanking at 60 Hz.
	Near Timing
	// ClockStep is the granularity of the pixel clock; zero means the 10 kHz
	// of a detailed timing descriptor.
	ClockStep Freq
	// EvenH is a source that sends two pixels a clock and so drops odd
	// horizontal numbers.
	EvenH bool

	origin string // of Near, in words
}

// Solution is the legal timing that changes what the source sends the least,
// or the reason why there is none.
type Solution struct {
	Found  bool
	Timing Timing
	// Standard is the standard timing that the solution is; zero Source
	// where none is legal and the solution is of its own.
	Standard Standard
	// Distance is the largest relative change among pixel clock, line rate
	// and field rate, compared to one part in 10^12.
	Distance float64
	Changed  []string // the fields that differ from Near
	// Conflict names limits that contradict each other: drop any one of them
	// and a timing exists.
	Conflict []string
	Sentence string
}

// Solve finds the legal timing nearest to what the source sends. A standard
// timing goes first where one is legal; else the distance decides, then the
// fewest changed fields, then the lower clock and the shorter totals.
func Solve(p Problem) (Solution, error) {
	if p.ClockStep.IsZero() {
		p.ClockStep = KHz(10)
	}
	if p.Width == 0 || p.Height == 0 || p.Width > 32768 || p.Height > 16384 {
		return Solution{}, fmt.Errorf("active size %dx%d is outside 1x1 to 32768x16384", p.Width, p.Height)
	}
	for i := range p.Limits {
		if err := p.Limits[i].Validate(); err != nil {
			return Solution{}, err
		}
		if p.Limits[i].Interlaced == Required {
			return Solution{}, fmt.Errorf("%s demands an interlaced timing: only progressive ones are solved", p.Limits[i].Origin)
		}
	}
	p.origin = "what the source sends"
	if p.Near == (Timing{}) {
		p.Near, p.origin = p.typical(), "the typical timing of the limits"
	}
	if err := p.Near.Validate(); err != nil {
		return Solution{}, fmt.Errorf("the source's timing: %w", err)
	}
	if s, ok := p.standard(); ok {
		s.explain(p)
		return s, nil
	}
	atoms := p.atoms()
	s := newSpace(p.Width, p.Height, p.ClockStep, atoms)
	if t, ok := s.nearest(p); ok && !p.listed() {
		out := Solution{Found: true, Timing: t, Distance: p.distance(t)}
		out.explain(p)
		return out, nil
	}
	return p.conflict(atoms), nil
}

func (p Problem) listed() bool {
	return slices.ContainsFunc(p.Limits, func(l Limits) bool { return len(l.Listed) > 0 })
}

// typical builds a timing from the typical values of the limits.
func (p Problem) typical() Timing {
	t, err := CVT(Request{Width: p.Width, Height: p.Height, Rate: Hz(60)}, CVTReduced2)
	if err != nil {
		t = Timing{PixelClock: Hz(60 * uint64(p.Width+80) * uint64(p.Height+20)), H: Axis{p.Width, 8, 32, 40, true}, V: Axis{p.Height, 6, 8, 6, false}, Repeat: 1}
	}
	for _, l := range p.Limits {
		for _, x := range l.List {
			n := uint32(x.Typ.floor())
			switch {
			case x.Typ.IsZero():
			case x.Quantity == PixelClock:
				t.PixelClock = x.Typ
			case x.Quantity == HTotal && n > p.Width+2:
				t.H = spread(t.H, n-p.Width)
			case x.Quantity == VTotal && n > p.Height+2:
				t.V = spread(t.V, n-p.Height)
			}
		}
	}
	return t
}

// spread sets an axis to a blanking of at least 3 in thirds.
func spread(a Axis, blank uint32) Axis {
	a.Sync = max(blank/3, 1)
	a.Front = max((blank-a.Sync)/2, 1)
	a.Back = blank - a.Sync - a.Front
	return a
}

// atoms splits the limits into single bounds.
func (p Problem) atoms() []atom {
	var out []atom
	for i := range p.Limits {
		l := &p.Limits[i]
		for _, x := range l.List {
			if l.ignores(x.Quantity) {
				continue
			}
			a := atom{origin: l.Origin}
			if x.Quantity == CharacterRate {
				a.clock = Timing{PixelClock: Hz(1)}.CharacterRate(l.BitsPerComponent, l.Sampling)
			}
			if !x.Min.IsZero() {
				a.limit = Limit{Quantity: x.Quantity, Min: x.Min}
				out = append(out, a)
			}
			if !x.Max.IsZero() {
				a.limit = Limit{Quantity: x.Quantity, Max: x.Max}
				out = append(out, a)
			}
		}
		if l.Channels > 1 {
			out = append(out, atom{origin: l.Origin, even: l.Channels})
		}
	}
	if p.EvenH {
		out = append(out, atom{origin: "source of two pixels a clock", even: 2})
	}
	return out
}

// standard is the nearest standard timing that is legal.
func (p Problem) standard() (best Solution, ok bool) {
	probe := Timing{H: Axis{Active: p.Width}, V: Axis{Active: p.Height}}
	limits := p.Limits
	if p.EvenH {
		limits = append(slices.Clone(limits), Limits{Origin: "source", Channels: 2})
	}
	fields := 0
	for _, e := range indexed(probe) {
		d := p.distance(e.timing)
		n := changedFields(p.Near, e.timing)
		if ok && cmp.Or(cmp.Compare(quantum(d), quantum(best.Distance)), cmp.Compare(n, fields)) >= 0 {
			continue
		}
		if e.timing.PixelClock.over(p.ClockStep).den > 1 || !legal(e.timing, limits) {
			continue
		}
		best, fields, ok = Solution{Found: true, Timing: e.timing, Standard: *e.standard, Distance: d}, n, true
	}
	return best, ok
}

// legal is Check without its words.
func legal(t Timing, limits []Limits) bool {
	for i := range limits {
		l := &limits[i]
		for _, x := range l.List {
			if l.ignores(x.Quantity) {
				continue
			}
			v := l.value(t, x.Quantity)
			if v.Cmp(x.Min) < 0 || !x.Max.IsZero() && v.Cmp(x.Max) > 0 {
				return false
			}
		}
		var r Report
		if r.rules(t, l); r.Verdict == Broken {
			return false
		}
	}
	return true
}

// distance is the largest relative change among clock, line and field rate.
func (p Problem) distance(t Timing) float64 {
	near, m := meterOf(p.Near), meterOf(t)
	return near.distance(m.clock, m.line, m.field)
}

func (near meter) distance(clock, line, field float64) float64 {
	return max(math.Abs(clock/near.clock-1), math.Abs(line/near.line-1), math.Abs(field/near.field-1))
}

// quantum is a distance in parts of 10^12: closer ones are equal, so that the
// last bit of a float decides nothing.
func quantum(d float64) float64 { return math.Round(d * 1e12) }

func (s *Solution) explain(p Problem) {
	s.Changed = nil
	near := p.Near
	add := func(name string, from, to any) {
		if from != to {
			s.Changed = append(s.Changed, fmt.Sprintf("%s %v instead of %v", name, to, from))
		}
	}
	add("pixel clock", near.PixelClock, s.Timing.PixelClock)
	add("H front porch", near.H.Front, s.Timing.H.Front)
	add("H sync", near.H.Sync, s.Timing.H.Sync)
	add("H back porch", near.H.Back, s.Timing.H.Back)
	add("H sync polarity", polarity(near.H.Positive), polarity(s.Timing.H.Positive))
	add("V front porch", near.V.Front, s.Timing.V.Front)
	add("V sync", near.V.Sync, s.Timing.V.Sync)
	add("V back porch", near.V.Back, s.Timing.V.Back)
	add("V sync polarity", polarity(near.V.Positive), polarity(s.Timing.V.Positive))
	name := "No standard timing is legal here. The nearest legal one is " + s.Timing.String()
	if s.Standard.Source != 0 {
		name = "The nearest legal timing is " + s.Standard.String() + ": " + s.Timing.String()
	}
	switch len(s.Changed) {
	case 0:
		s.Sentence = name + ", which is " + p.origin + "."
	default:
		s.Sentence = fmt.Sprintf("%s; against %s the largest change of a rate is %.3g %%.", name, p.origin, s.Distance*100)
	}
}

package timing

import (
	"cmp"
	"math"
	"slices"
)

// choice is a candidate of the search with what it is ranked by.
type choice struct {
	quantum float64
	changed int
	k, h, v uint64
}

func (a choice) compare(b choice) int {
	return cmp.Or(cmp.Compare(a.quantum, b.quantum), cmp.Compare(a.changed, b.changed),
		cmp.Compare(a.k, b.k), cmp.Compare(a.h, b.h), cmp.Compare(a.v, b.v))
}

// nearest searches the space for the timing nearest to the source's. It walks
// the H totals in the order of the best distance that each could give and
// stops when none can beat what was found; for one pair of totals the
// distance is a valley over the clock, so only the two steps at its floor
// count.
func (s *space) nearest(p Problem) (Timing, bool) {
	if !s.ok || s.clock.empty() || s.vTotal.empty() || s.hTotal.empty() {
		return Timing{}, false
	}
	near := meterOf(p.Near)
	step := s.step.Float()
	clockKept := uint64(0)
	if k := p.Near.PixelClock.over(s.step); k.den == 1 {
		clockKept = k.num
	}
	hChanged := changes(p.Near.H, s.hTotal, s.width, s.hParts, s.even)
	vChanged := changes(p.Near.V, s.vTotal, s.height, s.vParts, 1)

	type row struct {
		bound float64
		h     uint64
		c     span
	}
	var rows []row
	for h := s.firstTotal(); h <= s.hTotal.hi; h += s.even {
		c := s.clocks(h)
		if c.empty() || s.lines(h, c).empty() {
			continue
		}
		a, b := order(near.clock, float64(h)*near.line)
		at := clamp(2*a*b/(a+b), float64(c.lo)*step, float64(c.hi)*step)
		rows = append(rows, row{max(math.Abs(at/a-1), math.Abs(at/b-1), s.fieldBound(near.field, step)), h, c})
	}
	slices.SortFunc(rows, func(a, b row) int { return cmp.Or(cmp.Compare(a.bound, b.bound), cmp.Compare(a.h, b.h)) })

	best := choice{quantum: math.Inf(1)}
	for _, r := range rows {
		if quantum(r.bound) > best.quantum+1 {
			break
		}
		lines := s.lines(r.h, r.c)
		for v := lines.lo; v <= lines.hi; v++ {
			// The three rates meet the source's at three clocks; the distance
			// is decided by the outer two.
			a, b := order(near.clock, float64(r.h)*near.line)
			third := float64(r.h*v) * near.field
			a, b = min(a, third), max(b, third)
			floor := 2 * a * b / (a + b)
			at := clamp(floor, float64(r.c.lo)*step, float64(r.c.hi)*step)
			bound := quantum(max(math.Abs(at/a-1), math.Abs(at/b-1)))
			least := hChanged[r.h-s.hTotal.lo] + vChanged[v-s.vTotal.lo]
			// Totals that cannot come as near are out; those that may come as
			// near but change more fields have to come strictly nearer.
			if bound > best.quantum+1 || least > best.changed && bound >= best.quantum-1 && !s.beats(near, step, r.c, r.h, v, floor, best) {
				continue
			}
			c := s.clocksAt(r.c, r.h, v)
			if c.empty() {
				continue
			}
			k0 := uint64(clamp(math.Floor(floor/step), float64(c.lo), float64(c.hi)))
			for k := k0; k <= min(k0+1, c.hi); k++ {
				clock := float64(k) * step
				now := choice{quantum(near.distance(clock, clock/float64(r.h), clock/float64(r.h)/float64(v))), least, k, r.h, v}
				if k != clockKept {
					now.changed++
				}
				if now.compare(best) < 0 {
					best = now
				}
			}
		}
	}
	if math.IsInf(best.quantum, 1) {
		return Timing{}, false
	}
	t := p.Near
	t.PixelClock = s.step.Mul(best.k)
	t.H = share(p.Near.H, best.h-s.width, s.width, s.hParts, s.even)
	t.V = share(p.Near.V, best.v-s.height, s.height, s.vParts, 1)
	t.Interlaced, t.HalfLine, t.Repeat = false, false, 1
	for _, l := range p.Limits {
		if l.DEOnly {
			continue
		}
		if l.HPositive != NotStated {
			t.H.Positive = l.HPositive == Required
		}
		if l.VPositive != NotStated {
			t.V.Positive = l.VPositive == Required
		}
	}
	return t, true
}

// beats reports whether a clock of these totals comes strictly nearer than
// the best, which then counts more than its changed fields.
func (s *space) beats(near meter, step float64, c span, h, v uint64, floor float64, best choice) bool {
	k0 := uint64(clamp(math.Floor(floor/step), float64(c.lo), float64(c.hi)))
	for k := k0; k <= min(k0+1, c.hi); k++ {
		clock := float64(k) * step
		if quantum(near.distance(clock, clock/float64(h), clock/float64(h)/float64(v))) < best.quantum {
			return true
		}
	}
	return false
}

// fieldBound is how far the field rate has to move at least.
func (s *space) fieldBound(field, step float64) float64 {
	low, high := s.fieldMin.Float()*step, s.fieldMax.Float()*step
	switch {
	case low > field:
		return low/field - 1
	case high > 0 && high < field:
		return 1 - high/field
	}
	return 0
}

func order(a, b float64) (low, high float64) { return min(a, b), max(a, b) }

func clamp(v, low, high float64) float64 { return min(max(v, low), high) }

// changes counts for every total of the range how many of front porch, sync
// and back porch cannot stay as they are.
func changes(near Axis, total span, active uint64, parts [3]span, even uint64) []int {
	out := make([]int, total.hi-total.lo+1)
	for i := range out {
		a := share(near, total.lo+uint64(i)-active, active, parts, even)
		for _, differ := range [...]bool{a.Front != near.Front, a.Sync != near.Sync, a.Back != near.Back} {
			if differ {
				out[i]++
			}
		}
	}
	return out
}

// share splits a blanking into front porch, sync and back porch within their
// ranges, keeping as many of the source's as can stay: all three, then two,
// then one, each time the first possible of sync, front and back in this
// order. What has to change takes the least it may, and the last of back,
// front, sync the rest.
func share(near Axis, blank, active uint64, parts [3]span, even uint64) Axis {
	want := [3]uint64{uint64(near.Front), uint64(near.Sync), uint64(near.Back)}
	var stays [3]bool
	for i, w := range want {
		stays[i] = w >= parts[i].lo && w <= parts[i].hi && w%even == 0
	}
	// Bit 2 keeps sync, bit 1 front, bit 0 back; most kept first.
	for _, keep := range [...]uint8{7, 6, 5, 3, 4, 2, 1, 0} {
		got, left, room := [3]uint64{}, int64(blank), [3]uint64{}
		possible := true
		for i, bit := range [...]uint8{2, 4, 1} {
			if keep&bit != 0 {
				possible = possible && stays[i]
				got[i] = want[i]
			} else {
				got[i] = parts[i].lo
				room[i] = parts[i].hi - parts[i].lo
			}
			left -= int64(got[i])
		}
		if !possible || left < 0 {
			continue
		}
		for _, i := range [...]int{2, 0, 1} {
			more := min(uint64(left), room[i])
			got[i] += more
			left -= int64(more)
		}
		if left == 0 {
			return Axis{uint32(active), uint32(got[0]), uint32(got[1]), uint32(got[2]), near.Positive}
		}
	}
	return Axis{Active: uint32(active), Positive: near.Positive}
}

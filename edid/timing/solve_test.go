package timing

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// smallPanel is a random panel so small that every timing can be tried. Its
// bounds are plain integers, from which both the limits and the exhaustive
// search are made.
type smallPanel struct {
	w, h             int64
	clock            [2]int64 // steps of 10 Hz
	ht, vt           [2]int64
	part             [6][2]int64 // H front, sync, back, V front, sync, back
	line, field      [2]int64    // mHz
	even, deOnly     bool
	clockMax         int64 // of a second part, steps
	near             Timing
	hasLine, hasPart bool
}

func randomPanel(rng *rand.Rand) smallPanel {
	pick := func(low, high int64) [2]int64 {
		a := low + rng.Int64N(high-low+1)
		return [2]int64{a, a + rng.Int64N(high-a+1)}
	}
	// Sizes of no standard timing, so that the search alone decides.
	p := smallPanel{w: 2 * (20 + rng.Int64N(10)), h: 31 + rng.Int64N(10)}
	p.ht, p.vt = pick(p.w+3, p.w+24), pick(p.h+3, p.h+14)
	p.field = [2]int64{50_000 + rng.Int64N(10_000), 60_000 + rng.Int64N(10_000)}
	mid := (p.ht[0] + p.ht[1]) / 2 * (p.vt[0] + p.vt[1]) / 2 * 60 / 10
	p.clock = pick(max(mid-60-rng.Int64N(200), 1), mid+1+rng.Int64N(200))
	for i := range p.part {
		p.part[i] = [2]int64{1, 40}
	}
	p.hasPart, p.hasLine = rng.IntN(2) == 0, rng.IntN(2) == 0
	if p.hasPart {
		for i := range p.part {
			p.part[i] = pick(1, 12)
		}
	}
	p.line = pick(1_500_000, 3_500_000)
	p.even, p.deOnly = rng.IntN(3) == 0, rng.IntN(4) == 0
	p.clockMax = p.clock[0] + rng.Int64N(max(p.clock[1]-p.clock[0], 1)+30)
	axis := func(active int64, blank int64) Axis {
		f, s := 1+rng.Int64N(blank/2), 1+rng.Int64N(blank/4)
		return Axis{uint32(active), uint32(f), uint32(s), uint32(max(blank-f-s, 1)), rng.IntN(2) == 0}
	}
	p.near = Timing{H: axis(p.w, 8+rng.Int64N(20)), V: axis(p.h, 8+rng.Int64N(8)), Repeat: 1}
	p.near.PixelClock = Hz(uint64(p.near.H.Total()*p.near.V.Total())*uint64(40+rng.IntN(40)) + uint64(rng.IntN(9)))
	if rng.IntN(2) == 0 {
		p.near.PixelClock = Hz(p.near.PixelClock.Round(10))
	}
	return p
}

// smallStep keeps the number of clocks small.
var smallStep = Hz(10)

func (p smallPanel) problem() Problem {
	hz := func(b [2]int64, unit uint64) (Freq, Freq) {
		return Hz(uint64(b[0])).Mul(unit), Hz(uint64(b[1])).Mul(unit)
	}
	bound := func(q Quantity, b [2]int64, unit, div uint64) Limit {
		low, high := hz(b, unit)
		return At(q, low.Div(div), high.Div(div))
	}
	l := Limits{Origin: "panel", DEOnly: p.deOnly, List: []Limit{
		bound(PixelClock, p.clock, 10, 1), bound(HTotal, p.ht, 1, 1), bound(VTotal, p.vt, 1, 1), bound(FieldRate, p.field, 1, 1000)}}
	if p.hasLine {
		l.List = append(l.List, bound(LineRate, p.line, 1, 1000))
	}
	if p.hasPart {
		for i, q := range []Quantity{HFront, HSync, HBack, VFront, VSync, VBack} {
			l.List = append(l.List, bound(q, p.part[i], 1, 1))
		}
	}
	link := Limits{Origin: "link", List: []Limit{At(CharacterRate, Freq{}, Hz(uint64(p.clockMax)*10))}}
	return Problem{Width: uint32(p.w), Height: uint32(p.h), Limits: []Limits{l, link}, Near: p.near, ClockStep: smallStep, EvenH: p.even}
}

// brute tries every clock, every front porch, sync and back porch of both
// axes. It returns the rank and the timing of the best.
func (p smallPanel) brute(near Timing) (best [5]float64, k, ht, vt int64, found bool) {
	// Which totals can be split, and at how few changes.
	split := func(active int64, total [2]int64, part [][2]int64, was Axis, even bool) map[int64]int {
		out := map[int64]int{}
		for f := int64(1); f <= 40; f++ {
			for s := int64(1); s <= 40; s++ {
				for b := int64(1); b <= 40; b++ {
					sum := active + f + s + b
					bad := sum < total[0] || sum > total[1] || even && (f|s|b)&1 == 1
					if !p.deOnly && p.hasPart {
						for i, v := range []int64{f, s, b} {
							bad = bad || v < part[i][0] || v > part[i][1]
						}
					}
					if bad {
						continue
					}
					n := 0
					for _, d := range []bool{f != int64(was.Front), s != int64(was.Sync), b != int64(was.Back)} {
						if d {
							n++
						}
					}
					if old, ok := out[sum]; !ok || n < old {
						out[sum] = n
					}
				}
			}
		}
		return out
	}
	hs := split(p.w, p.ht, p.part[:3], near.H, p.even)
	vs := split(p.h, p.vt, p.part[3:], near.V, false)
	cs, ls := near.PixelClock.Float(), near.PixelClock.Float()/float64(near.H.Total())
	fs := ls / float64(near.V.Total())
	best[0] = math.Inf(1)
	for h, hn := range hs {
		for v, vn := range vs {
			for c := p.clock[0]; c <= min(p.clock[1], p.clockMax); c++ {
				hz := c * 10
				if hz*1000 < p.field[0]*h*v || hz*1000 > p.field[1]*h*v {
					continue
				}
				if p.hasLine && (hz*1000 < p.line[0]*h || hz*1000 > p.line[1]*h) {
					continue
				}
				f := float64(hz)
				d := max(math.Abs(f/cs-1), math.Abs(f/float64(h)/ls-1), math.Abs(f/float64(h)/float64(v)/fs-1))
				n := hn + vn
				if uint64(hz) != near.PixelClock.Round(1) || near.PixelClock.den != 1 {
					n++
				}
				now := [5]float64{math.Round(d * 1e12), float64(n), float64(c), float64(h), float64(v)}
				if !found || slices.Compare(now[:], best[:]) < 0 {
					best, k, ht, vt, found = now, c, h, v, true
				}
			}
		}
	}
	return
}

// Exhaustive search and the solver agree on 300 random small panels, and
// every conflict is minimal.
func TestSolverAgainstExhaustiveSearch(t *testing.T) {
	rng := rand.New(rand.NewPCG(20, 26))
	solved, conflicts := 0, 0
	for i := range 300 {
		p := randomPanel(rng)
		prob := p.problem()
		got, err := Solve(prob)
		require.NoError(t, err)
		rank, k, ht, vt, found := p.brute(prob.Near)
		require.Equal(t, found, got.Found, "panel %d: %+v\n%s", i, p, got.Sentence)
		if !found {
			conflicts++
			requireMinimal(t, prob, got)
			continue
		}
		solved++
		require.Equal(t, [3]uint64{uint64(k) * 10, uint64(ht), uint64(vt)},
			[3]uint64{got.Timing.PixelClock.Round(1), uint64(got.Timing.H.Total()), uint64(got.Timing.V.Total())}, "panel %d: %s", i, got.Sentence)
		require.Equal(t, rank[0], quantum(got.Distance), "panel %d", i)
		require.Len(t, got.Changed, int(rank[1]), "panel %d: %v", i, got.Changed)
		require.Equal(t, Fits, Check(got.Timing, 0, prob.Limits...).Verdict, "panel %d", i)
	}
	assert.Greater(t, solved, 100)
	assert.Greater(t, conflicts, 50)
	t.Logf("%d solved, %d conflicts", solved, conflicts)
}

// requireMinimal drops each limit of the conflict in turn and looks for a
// timing that meets all others of the conflict; together they must have none.
func requireMinimal(t *testing.T, p Problem, s Solution) {
	t.Helper()
	require.NotEmpty(t, s.Conflict)
	var core []atom
	for _, a := range p.atoms() {
		if slices.Contains(s.Conflict, a.String()) {
			core = append(core, a)
		}
	}
	require.Len(t, core, len(s.Conflict))
	_, any := newSpace(p.Width, p.Height, p.ClockStep, core).nearest(p)
	require.False(t, any, "%v is no conflict", s.Conflict)
	for i := range core {
		rest := append(slices.Clone(core[:i]), core[i+1:]...)
		_, any := newSpace(p.Width, p.Height, p.ClockStep, rest).nearest(p)
		require.True(t, any, "%s is not needed in %v", core[i], s.Conflict)
	}
}

func TestConflictOfThree(t *testing.T) {
	l := panel(1366, 768, [3]float64{72.6, 76.42, 80.24}, [3]float64{1506, 1592, 1716}, [3]float64{788, 800, 868})
	s, err := Solve(Problem{Width: 1366, Height: 768, Limits: []Limits{l, AtRate(Hz(75), 1000)}})
	require.NoError(t, err)
	require.False(t, s.Found)
	assert.Equal(t, []string{"panel sheet: pixel clock at most 80.24 MHz",
		"panel sheet: V total at least 788 lines", "wanted rate: field rate at least 74.925 Hz"}, s.Conflict)
	s, err = Solve(Problem{Width: 1367, Height: 768, Limits: []Limits{{Origin: "panel", Channels: 2}}})
	require.NoError(t, err)
	assert.Equal(t, []string{"panel: horizontal numbers in multiples of 2"}, s.Conflict)
}

func TestSolvePrefersAStandard(t *testing.T) {
	l := panel(1920, 1080, [3]float64{120, 144, 175}, [3]float64{2000, 2176, 2240}, [3]float64{1090, 1100, 1160})
	near, _ := VIC(31)
	s, err := Solve(Problem{Width: 1920, Height: 1080, Limits: []Limits{l, AtRate(Hz(60), 5000)}, Near: near.Timing})
	require.NoError(t, err)
	assert.Equal(t, "VIC 16", s.Standard.Label())
	// A link of 100 MHz leaves none at 60 Hz.
	s, err = Solve(Problem{Width: 1920, Height: 1080, Limits: []Limits{l, AtRate(Hz(60), 5000), TMDSLink(Hz(100e6), 8, Sampling444)}, Near: near.Timing})
	require.NoError(t, err)
	assert.Equal(t, []string{"wanted rate: field rate at least 59.7 Hz", "link: link character rate at most 100 MHz"}, s.Conflict)
	// With listed modes only these count.
	vic16, _ := VIC(16)
	s, err = Solve(Problem{Width: 1920, Height: 1080, Limits: []Limits{{Origin: "scaler input", Listed: []Standard{near}}, AtRate(Hz(60), 5000)}, Near: vic16.Timing})
	require.NoError(t, err)
	assert.False(t, s.Found)
	assert.Contains(t, s.Sentence, "VIC 31 breaks the field rate of the wanted rate by -9.7 Hz")
}

func TestSolveRefuses(t *testing.T) {
	bad := Limits{Origin: "panel", List: []Limit{At(HTotal, Hz(20), Hz(10))}}
	_, err := Solve(Problem{Width: 640, Height: 480, Limits: []Limits{bad}})
	assert.ErrorContains(t, err, "panel: H total: minimum 20 px is above maximum 10 px")
	_, err = Solve(Problem{})
	assert.ErrorContains(t, err, "active size 0x0")
	_, err = Solve(Problem{Width: 640, Height: 480, Limits: []Limits{{Origin: "x", Interlaced: Required}}})
	assert.ErrorContains(t, err, "only progressive")
}

func BenchmarkSolve(b *testing.B) {
	t := &testing.T{}
	for _, r := range readTable(t, "panels.csv") {
		w, h, l := panelRow(t, r)
		near, _ := CVT(Request{Width: w, Height: h, Rate: Hz(75)}, CVTStandard)
		near.H.Active, near.V.Active = w, h
		b.Run(r["row"], func(b *testing.B) {
			b.ReportAllocs()
			for b.Loop() {
				if _, err := Solve(Problem{Width: w, Height: h, Limits: []Limits{l, AtRate(Hz(60), 5000)}, Near: near}); err != nil {
					b.Fatal(err)
				}
			}
		})
	}
}

// The cost of a solve by the number of limits, all of them but the first few
// redundant, on a problem that ends in a conflict.
func BenchmarkSolveByLimits(b *testing.B) {
	for _, n := range []int{10, 20, 40, 80} {
		l := panel(1366, 768, [3]float64{72.6, 76.42, 80.24}, [3]float64{1506, 1592, 1716}, [3]float64{788, 800, 868})
		all := []Limits{l, AtRate(Hz(75), 1000)}
		for i := range n {
			all = append(all, Limits{Origin: fmt.Sprintf("link %d", i), List: []Limit{At(PixelClock, Freq{}, Hz(uint64(200e6+i)))}})
		}
		b.Run(fmt.Sprint(n), func(b *testing.B) {
			b.ReportAllocs()
			for b.Loop() {
				if s, err := Solve(Problem{Width: 1366, Height: 768, Limits: all}); err != nil || s.Found {
					b.Fatal(s, err)
				}
			}
		})
	}
}

func BenchmarkCheck(b *testing.B) {
	l := panel(1920, 1080, [3]float64{120, 144, 175}, [3]float64{2000, 2176, 2240}, [3]float64{1090, 1100, 1160})
	s, _ := VIC(16)
	b.ReportAllocs()
	for b.Loop() {
		Check(s.Timing, 0, l)
	}
}

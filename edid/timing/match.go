package timing

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strings"
	"sync"
)

// Form says in which of its published forms a standard timing was met.
type Form uint8

const (
	FormTwin       Form = 1 << iota // the other clock of its 1000/1001 pair
	FormUnrepeated                  // each pixel counted once, as drivers state it
	FormLonger                      // with one of the longer front porches of [Standard.MoreLines]
)

// Candidate is a standard timing that a measured one may be, and how far off
// it is. Differences are measured minus standard.
type Candidate struct {
	Standard Standard
	Form     Form
	Timing   Timing // the standard's timing in that form
	// In parts per million of the standard's.
	ClockPPM, LineRatePPM, FieldRatePPM float64
	// Differences lists the fields that are not the standard's, in words.
	Differences []string
}

// Exact reports that the measured timing is the standard one in every field.
func (c Candidate) Exact() bool { return len(c.Differences) == 0 }

// Off is the largest of the three deviations, in parts per million and
// without its sign.
func (c Candidate) Off() float64 {
	return max(math.Abs(c.ClockPPM), math.Abs(c.LineRatePPM), math.Abs(c.FieldRatePPM))
}

// String is "VIC 16, 1920x1080 60 Hz, 16:9: exact" or the same with the
// differences in words.
func (c Candidate) String() string {
	s := c.Standard
	if c.Form&FormTwin != 0 {
		s, _ = s.Twin()
	}
	name := s.String()
	if c.Form&FormUnrepeated != 0 {
		name += " (each pixel counted once)"
	}
	if c.Exact() {
		return name + ": exact"
	}
	return name + ": " + strings.Join(c.Differences, ", ")
}

// Nearest is the standard timing nearest to t among all of t's active size
// and scan: the one with the smallest [Candidate.Off], then with the fewest
// other differences. ok is false where no standard timing has that size.
// Differences is left empty unless the caller asks by [Candidate.Compare].
func Nearest(t Timing) (c Candidate, ok bool) {
	best := math.Inf(1)
	fields := 99
	m := meterOf(t)
	for _, e := range indexed(t) {
		off, n := e.off(m), -1
		if off > best {
			continue
		}
		if n = changedFields(t, e.timing); off < best || n < fields {
			best, fields = off, n
			c.Standard, c.Form, c.Timing = *e.standard, e.form, e.timing
			ok = true
		}
	}
	if ok {
		c.measure(m)
	}
	return c, ok
}

// Match lists every standard timing of t's active size and scan whose pixel
// clock, line rate and field rate are all within ppm parts per million of
// t's, nearest first. Where several documents or codes hold the same timing
// all are listed, CTA-861 first.
//
// A receiver's clock counter, not the source, mostly sets the tolerance: below
// 500 ppm the members of a 1000/1001 pair are told apart, above they are both
// listed.
func Match(t Timing, ppm float64) []Candidate {
	var out []Candidate
	m := meterOf(t)
	for _, e := range indexed(t) {
		if e.off(m) > ppm {
			continue
		}
		c := Candidate{Standard: *e.standard, Form: e.form, Timing: e.timing}
		c.measure(m)
		c.Compare(t)
		out = append(out, c)
	}
	slices.SortStableFunc(out, func(a, b Candidate) int {
		return cmp.Or(cmp.Compare(a.Off(), b.Off()), cmp.Compare(len(a.Differences), len(b.Differences)))
	})
	return out
}

// Compare fills in Differences against the measured timing t.
func (c *Candidate) Compare(t Timing) {
	c.Differences = nil
	if c.Timing.PixelClock != t.PixelClock {
		c.Differences = append(c.Differences, fmt.Sprintf("pixel clock %s, %s ppm off", t.PixelClock, signed(c.ClockPPM)))
	}
	axis := func(name, unit string, got, want Axis) {
		for _, f := range []struct {
			part      string
			got, want uint32
		}{{"front porch", got.Front, want.Front}, {"sync", got.Sync, want.Sync}, {"back porch", got.Back, want.Back}} {
			if f.got != f.want {
				c.Differences = append(c.Differences, fmt.Sprintf("%s %s %d instead of %d %s", name, f.part, f.got, f.want, unit))
			}
		}
		if got.Positive != want.Positive {
			c.Differences = append(c.Differences, fmt.Sprintf("%s sync %s instead of %s", name, polarity(got.Positive), polarity(want.Positive)))
		}
	}
	axis("horizontal", "pixels", t.H, c.Timing.H)
	axis("vertical", "lines", t.V, c.Timing.V)
	if t.HalfLine != c.Timing.HalfLine {
		c.Differences = append(c.Differences, "half a line a field")
	}
	if t.Repeat != c.Timing.Repeat && t.Repeat > 1 && c.Standard.Repeats>>t.Repeat&1 == 0 {
		c.Differences = append(c.Differences, fmt.Sprintf("each pixel sent %d times", t.Repeat))
	}
}

func signed(ppm float64) string { return fmt.Sprintf("%+.4g", ppm) }

// meter holds the three rates of a timing as floats; far finer than any
// receiver.
type meter struct{ clock, line, field float64 }

func meterOf(t Timing) meter {
	m := meter{clock: t.PixelClock.Float()}
	fields := 1.0
	if t.Interlaced {
		fields = 2
	}
	m.line = m.clock / float64(t.H.Total())
	m.field = m.line * fields / float64(t.FrameLines())
	return m
}

func (c *Candidate) measure(m meter) {
	want := meterOf(c.Timing)
	c.ClockPPM = (m.clock/want.clock - 1) * 1e6
	c.LineRatePPM = (m.line/want.line - 1) * 1e6
	c.FieldRatePPM = (m.field/want.field - 1) * 1e6
}

// indexEntry is one form of one standard timing.
type indexEntry struct {
	key      uint64
	timing   Timing
	meter    meter
	form     Form
	standard *Standard
}

func (e *indexEntry) off(m meter) float64 {
	return max(math.Abs(m.clock/e.meter.clock-1), math.Abs(m.line/e.meter.line-1), math.Abs(m.field/e.meter.field-1)) * 1e6
}

// sizeKey orders the index by active size and scan.
func sizeKey(t Timing) uint64 {
	key := uint64(t.H.Active)<<32 | uint64(t.V.Active)<<1
	if t.Interlaced {
		key |= 1
	}
	return key
}

func indexed(t Timing) []indexEntry {
	all := matchIndex()
	from, _ := slices.BinarySearchFunc(all, sizeKey(t), func(e indexEntry, key uint64) int { return cmp.Compare(e.key, key) })
	to := from
	for to < len(all) && all[to].key == all[from].key && all[from].key == sizeKey(t) {
		to++
	}
	return all[from:to]
}

// matchIndex is made on first use, in the order of preference of the sources.
var matchIndex = sync.OnceValue(func() []indexEntry {
	var all []indexEntry
	add := func(s *Standard, t Timing, form Form) {
		all = append(all, indexEntry{sizeKey(t), t, meterOf(t), form, s})
	}
	forms := func(s *Standard, t Timing, form Form) {
		for more := range uint32(s.MoreLines) + 1 {
			u, f := t, form
			if more > 0 {
				u.V.Front += more
				f |= FormLonger
			}
			add(s, u, f)
			if u.Repeat > 1 {
				add(s, u.Unrepeated(), f|FormUnrepeated)
			}
		}
	}
	for _, table := range [][]Standard{vicTable[:], hdmiTable[:], dmtTable[:], establishedTable[:]} {
		for i := range table {
			s := &table[i]
			forms(s, s.Timing, 0)
			if twin, ok := s.Twin(); ok {
				forms(s, twin.Timing, FormTwin)
			}
		}
	}
	slices.SortStableFunc(all, func(a, b indexEntry) int { return cmp.Compare(a.key, b.key) })
	return all
})

// changedFields counts the fields in which two timings of one size differ.
func changedFields(a, b Timing) int {
	n := 0
	for _, differ := range [...]bool{
		a.PixelClock != b.PixelClock,
		a.H.Front != b.H.Front, a.H.Sync != b.H.Sync, a.H.Back != b.H.Back, a.H.Positive != b.H.Positive,
		a.V.Front != b.V.Front, a.V.Sync != b.V.Sync, a.V.Back != b.V.Back, a.V.Positive != b.V.Positive,
		a.HalfLine != b.HalfLine,
	} {
		if differ {
			n++
		}
	}
	return n
}

package timing

import (
	"encoding/json"
	"fmt"
	"math"
	"strconv"
	"strings"
)

// Verdict is the judgement of one limit.
type Verdict uint8

const (
	Fits       Verdict = iota + 1
	Broken             // outside the limit by more than the measurement's error
	CannotTell         // nearer to the limit than the measurement's error
)

func (v Verdict) String() string {
	switch v {
	case Fits:
		return "fits"
	case Broken:
		return "broken"
	case CannotTell:
		return "cannot tell"
	}
	return fmt.Sprintf("Verdict(%d)", uint8(v))
}

// MarshalText writes the verdict in words.
func (v Verdict) MarshalText() ([]byte, error) { return []byte(v.String()), nil }

// Row is one limit of a fit, in the units of the data sheet.
type Row struct {
	Origin  string  `json:"origin"`
	What    string  `json:"what"`   // "pixel clock"
	Have    string  `json:"have"`   // "148.5 MHz"
	Need    string  `json:"need"`   // "134 to 149 MHz"
	Margin  string  `json:"margin"` // "+0.5 MHz" inside, "-2 px" outside
	Verdict Verdict `json:"verdict"`
	Limit   Limit   `json:"-"` // zero Quantity for a rule
}

// Report is a timing against limits.
type Report struct {
	Timing   Timing
	Rows     []Row
	Verdict  Verdict // Broken where any row is, else CannotTell where any row is
	Sentence string
}

// Check judges a timing against each limit in the order given. errorPPM is the
// error of a receiver's clock measurement in parts per million, 0 for a
// timing that was stated and not measured: a rate nearer to its limit than
// that is CannotTell. Pixels and lines are counted and carry no error.
func Check(t Timing, errorPPM float64, limits ...Limits) Report {
	r := Report{Timing: t, Verdict: Fits}
	n := 0
	for i := range limits {
		n += len(limits[i].List) + 2
	}
	r.Rows = make([]Row, 0, n)
	for i := range limits {
		l := &limits[i]
		for _, x := range l.List {
			if l.ignores(x.Quantity) {
				continue
			}
			r.add(x.judge(l.Origin, l.value(t, x.Quantity), errorPPM))
		}
		r.rules(t, l)
	}
	r.Sentence = r.sentence()
	return r
}

// ignores reports that a data-enable-only part does not see the quantity.
func (l *Limits) ignores(q Quantity) bool {
	return l.DEOnly && (q >= HFront && q <= HBack || q >= VFront && q <= VBack)
}

func (r *Report) add(row Row) {
	r.Rows = append(r.Rows, row)
	if row.Verdict == Broken || row.Verdict == CannotTell && r.Verdict == Fits {
		r.Verdict = row.Verdict
	}
}

func (x Limit) judge(origin string, have Freq, errorPPM float64) Row {
	row := Row{Origin: origin, What: x.Quantity.String(), Have: x.Quantity.text(have), Need: x.bounds(), Verdict: Fits, Limit: x}
	_, size := x.Quantity.unit()
	// The margin is to the nearer bound, negative outside.
	margin := math.Inf(1)
	if !x.Max.IsZero() {
		margin = difference(x.Max, have)
		if have.Cmp(x.Max) > 0 {
			row.Verdict = Broken
		}
	}
	if !x.Min.IsZero() {
		margin = min(margin, difference(have, x.Min))
		if have.Cmp(x.Min) < 0 {
			row.Verdict = Broken
		}
	}
	if x.Quantity <= FieldRate && math.Abs(margin) < have.Float()*errorPPM/1e6 {
		row.Verdict = CannotTell
	}
	if math.IsInf(margin, 1) {
		row.Margin = "-"
		return row
	}
	unit, _ := x.Quantity.unit()
	row.Margin = strconv.FormatFloat(roundTo(margin/float64(size)), 'f', -1, 64) + " " + unit
	if margin >= 0 {
		row.Margin = "+" + row.Margin
	}
	return row
}

// roundTo keeps six significant digits.
func roundTo(v float64) float64 {
	if v == 0 {
		return 0
	}
	scale := math.Pow(10, 5-math.Floor(math.Log10(math.Abs(v))))
	return math.Round(v*scale) / scale
}

// difference is a - b in Hz.
func difference(a, b Freq) float64 {
	if a.Cmp(b) >= 0 {
		return a.minus(b).Float()
	}
	return -b.minus(a).Float()
}

// rules judges what is no range: scan, polarity, even numbers, listed modes.
func (r *Report) rules(t Timing, l *Limits) {
	rule := func(what, have, need string, fits bool) {
		v := Fits
		if !fits {
			v = Broken
		}
		r.add(Row{Origin: l.Origin, What: what, Have: have, Need: need, Margin: "-", Verdict: v})
	}
	answer := func(yes bool, a, b string) string {
		if yes {
			return a
		}
		return b
	}
	if l.Interlaced != NotStated {
		rule("scan", answer(t.Interlaced, "interlaced", "progressive"),
			answer(l.Interlaced == Required, "interlaced", "progressive"), t.Interlaced == (l.Interlaced == Required))
	}
	if !l.DEOnly {
		if l.HPositive != NotStated {
			rule("H sync polarity", polarity(t.H.Positive), polarity(l.HPositive == Required), t.H.Positive == (l.HPositive == Required))
		}
		if l.VPositive != NotStated {
			rule("V sync polarity", polarity(t.V.Positive), polarity(l.VPositive == Required), t.V.Positive == (l.VPositive == Required))
		}
	}
	if l.Channels > 1 {
		n := uint32(l.Channels)
		odd := oddFields(t.H, n, l.DEOnly)
		have := answer(len(odd) == 0, "all", words(odd)+" not")
		rule(fmt.Sprintf("H numbers for %d pixels a clock", n), have, fmt.Sprintf("multiples of %d", n), len(odd) == 0)
	}
	if len(l.Listed) > 0 {
		found := false
		for i := range l.Listed {
			s := &l.Listed[i]
			twin, ok := s.Twin()
			found = found || s.Timing == t || ok && twin.Timing == t
		}
		rule("listed mode", t.Size()+" "+t.FieldRate().InDecimals(1, 2)+" Hz", "one of the listed", found)
	}
}

func oddFields(a Axis, n uint32, deOnly bool) []string {
	var odd []string
	for _, f := range []struct {
		name string
		v    uint32
		de   bool
	}{{"active", a.Active, true}, {"front porch", a.Front, false}, {"sync", a.Sync, false}, {"back porch", a.Back, false}, {"blanking", a.Blank(), deOnly}} {
		if f.v%n != 0 && (f.de || !deOnly) && (f.name != "blanking" || deOnly) {
			odd = append(odd, fmt.Sprintf("%s %d", f.name, f.v))
		}
	}
	return odd
}

// Broken lists the rows that are broken.
func (r Report) Broken() []Row {
	var out []Row
	for _, row := range r.Rows {
		if row.Verdict == Broken {
			out = append(out, row)
		}
	}
	return out
}

func (r Report) sentence() string {
	name := r.Timing.Size() + " " + r.Timing.FieldRate().InDecimals(1, 2) + " Hz"
	var parts []string
	for _, row := range r.Rows {
		if row.Verdict != r.Verdict || r.Verdict == Fits {
			continue
		}
		parts = append(parts, fmt.Sprintf("%s of the %s (%s, need %s, margin %s)", row.What, row.Origin, row.Have, row.Need, row.Margin))
	}
	switch {
	case len(r.Rows) == 0:
		return name + ": there is no limit to judge it by."
	case r.Verdict == Fits:
		return name + " fits all limits."
	case r.Verdict == CannotTell:
		return name + ": cannot tell, for the measurement is no finer than the margin of " + words(parts) + "."
	}
	return name + " does not fit: it breaks the " + words(parts) + "."
}

// Text is the report as a table with the sentence below it.
func (r Report) Text() string {
	var b strings.Builder
	cells := [][6]string{{"limit of", "what", "have", "need", "margin", "verdict"}}
	for _, row := range r.Rows {
		cells = append(cells, [6]string{row.Origin, row.What, row.Have, row.Need, row.Margin, row.Verdict.String()})
	}
	var width [6]int
	for _, c := range cells {
		for i, s := range c {
			width[i] = max(width[i], len(s))
		}
	}
	for _, c := range cells {
		line := ""
		for i, s := range c {
			line += fmt.Sprintf("%-*s  ", width[i], s)
		}
		b.WriteString(strings.TrimRight(line, " ") + "\n")
	}
	b.WriteString(r.Sentence + "\n")
	return b.String()
}

// MarshalJSON writes the rows and the sentence with the timing.
func (r Report) MarshalJSON() ([]byte, error) {
	return json.Marshal(struct {
		Timing   Timing  `json:"timing"`
		Verdict  Verdict `json:"verdict"`
		Rows     []Row   `json:"limits"`
		Sentence string  `json:"sentence"`
	}{r.Timing, r.Verdict, r.Rows, r.Sentence})
}

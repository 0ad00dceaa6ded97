package main

import (
	"context"
	"fmt"
	"math"
	"slices"
	"strings"

	"github.com/spf13/cobra"

	"deadhop/edid/timing"
)

// nameReport is the JSON form of a timing's name.
type nameReport struct {
	Version  int     `json:"version"`
	Given    string  `json:"given"`
	ErrorPPM float64 `json:"error_ppm"`
	// Is are the names that the timing has, within the error of its
	// measurement; Twins says that they are of different clocks.
	Is    []candidateReport `json:"is"`
	Twins bool              `json:"several_timings"`
	// Formulas are the modes of a formula that come out as this timing.
	Formulas []string `json:"formulas"`
	// Nearest is the nearest standard timing of that size, where Is is
	// empty.
	Nearest  *candidateReport `json:"nearest,omitempty"`
	Sentence string           `json:"sentence"`
}

type candidateReport struct {
	Name         string   `json:"name"`
	ClockPPM     float64  `json:"clock_ppm"`
	LineRatePPM  float64  `json:"line_rate_ppm"`
	FieldRatePPM float64  `json:"field_rate_ppm"`
	Differences  []string `json:"differences"`
}

func newCandidateReport(c timing.Candidate) candidateReport {
	s := c.Standard
	if c.Form&timing.FormTwin != 0 {
		if twin, ok := s.Twin(); ok {
			s = twin
		}
	}
	name := s.String()
	if c.Form&timing.FormUnrepeated != 0 {
		name += " (each pixel counted once)"
	}
	return candidateReport{name, c.ClockPPM, c.LineRatePPM, c.FieldRatePPM, append([]string{}, c.Differences...)}
}

func (c candidateReport) offWords() string {
	off := func(ppm float64) string {
		switch size := math.Abs(ppm); {
		case size < 0.05:
			return "exact"
		case size >= 5000:
			return fmt.Sprintf("%+.2f %%", ppm/1e4)
		}
		return fmt.Sprintf("%+.1f ppm", ppm)
	}
	return fmt.Sprintf("clock %s, line rate %s, field rate %s", off(c.ClockPPM), off(c.LineRatePPM), off(c.FieldRatePPM))
}

func newName(a *app) *cobra.Command {
	var errorText string
	cmd := &cobra.Command{
		Use:   "name TIMING",
		Short: "Say which standard timing this is, how far off, and what else it could be",
		Long: `Names a measured timing: the codes of the published tables that it is within the
error of its measurement, the formulas that make it, or else the nearest
standard timing with every difference.

` + timingHelp + `

The exit code is 0 when it is one timing, 1 when it is no standard one, and 4
when the measurement is too coarse to tell several apart.`,
		Example: `  deadhop name in:video0
  deadhop name measured.yaml --error "250 ppm"
  deadhop name edid:display.bin`,
		Args: exactly("the timing"),
		RunE: func(cmd *cobra.Command, args []string) error {
			return a.name(cmd.Context(), args[0], errorText)
		},
	}
	errorFlag(cmd.Flags(), &errorText)
	jsonFlag(a, cmd.Flags())
	return cmd
}

func (a *app) name(ctx context.Context, text, errorText string) error {
	given, err := a.readTiming(ctx, text, errorText)
	if err != nil {
		return err
	}
	r := newNameReport(given)
	if a.json {
		if err := a.printJSON(r); err != nil {
			return err
		}
	} else {
		a.printName(r)
	}
	switch {
	case r.Twins:
		return finish(exitInconclusive)
	case len(r.Is)+len(r.Formulas) == 0:
		return finish(exitFault)
	}
	return nil
}

// statedPPM is how far a stated timing may be off a standard one and still
// have its name: the rounding of a clock written to the kHz.
const statedPPM = 20

func newNameReport(given givenTiming) nameReport {
	r := nameReport{Version: 1, Given: given.words(), ErrorPPM: given.ppm, Is: []candidateReport{}}
	within := max(given.ppm, statedPPM)
	var clocks []timing.Freq
	for _, c := range timing.Match(given.Timing, within) {
		if !sameRaster(c.Timing, given.Timing) {
			continue
		}
		r.Is = append(r.Is, newCandidateReport(c))
		if !slices.Contains(clocks, c.Timing.PixelClock) {
			clocks = append(clocks, c.Timing.PixelClock)
		}
	}
	r.Twins = len(clocks) > 1
	r.Formulas = formulasOf(given.Timing, within)
	size := given.Size()
	switch {
	case r.Twins:
		var rates []string
		for _, c := range clocks {
			t := given.Timing
			t.PixelClock = c
			rates = append(rates, t.FieldRate().InDecimals(1, 3)+" Hz")
		}
		r.Sentence = fmt.Sprintf("%s of %s: the measurement is too coarse to tell which.", size, strings.Join(rates, " or "))
	case len(r.Is) > 0:
		r.Sentence = "This is " + r.Is[0].Name + "."
	case len(r.Formulas) > 0:
		r.Sentence = "This is in no published table; " + r.Formulas[0] + " makes it."
	default:
		r.Sentence = "This is no standard timing."
		if c, ok := timing.Nearest(given.Timing); ok {
			c.Compare(given.Timing)
			n := newCandidateReport(c)
			r.Nearest = &n
			r.Sentence += " The nearest is " + n.Name + "."
		} else {
			r.Sentence += fmt.Sprintf(" No published table has the size %s.", size)
		}
	}
	return r
}

// sameRaster tells whether two timings differ in their clock alone.
func sameRaster(a, b timing.Timing) bool {
	a.PixelClock, a.Repeat = b.PixelClock, b.Repeat
	return a == b
}

// formulasOf lists the modes of each formula that come out as t. A formula
// takes the rate as the mode's name and comes out at or near it.
func formulasOf(t timing.Timing, ppm float64) []string {
	names := []string{}
	for _, formula := range []string{"cvt", "cvt-rb", "cvt-rb2", "cvt-rb3", "gtf"} {
		rate := t.FieldRate().Round(1)
		for hz := max(rate, 2) - 1; hz <= rate+1; hz++ {
			text := fmt.Sprintf("%s@%d", t.Size(), hz)
			made, err := parseFormula(formula, text)
			if err != nil || !sameRaster(made, t) {
				continue
			}
			if off := t.PixelClock.PPM(made.PixelClock); max(off, -off) <= ppm {
				names = append(names, formula+":"+text)
			}
		}
	}
	return names
}

func (a *app) printName(r nameReport) {
	a.paragraph("Answer    ", r.Sentence)
	a.paragraph("Given     ", r.Given)
	for i, c := range r.Is {
		lead := "          "
		if i == 0 {
			lead = "It is     "
		}
		a.paragraph(lead, c.Name+": "+c.offWords())
	}
	for i, f := range r.Formulas {
		lead := "          "
		if i == 0 {
			lead = "Formula   "
		}
		a.paragraph(lead, f)
	}
	if r.Nearest == nil {
		return
	}
	a.paragraph("Nearest   ", r.Nearest.Name+": "+r.Nearest.offWords())
	for _, d := range r.Nearest.Differences {
		if strings.HasPrefix(d, "pixel clock") {
			continue // stands in the line above
		}
		a.paragraph("          ", d)
	}
}

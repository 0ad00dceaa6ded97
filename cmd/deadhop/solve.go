package main

import (
	"context"
	"errors"
	"fmt"
	"strings"

	"github.com/spf13/cobra"

	"deadhop/edid/timing"
)

type solveOptions struct {
	limits                   limitsOptions
	size, rate, within, near string
	side                     string
	even, bytes, modeLine    bool
	picture, writeEDID       string
}

// solveReport is the JSON form of a solution.
type solveReport struct {
	Version int            `json:"version"`
	Found   bool           `json:"found"`
	Size    string         `json:"size"`
	Near    string         `json:"near,omitempty"`
	Timing  *timing.Timing `json:"timing,omitempty"`
	// Standard is the code of a published table, "" where the timing is of
	// its own.
	Standard string `json:"standard,omitempty"`
	// ChangePercent is the largest relative change among pixel clock, line
	// rate and field rate.
	ChangePercent float64        `json:"largest_change_percent"`
	Changed       []string       `json:"changed"`
	Conflict      []string       `json:"conflict"`
	Sentence      string         `json:"sentence"`
	Fit           *timing.Report `json:"fit,omitempty"`
	Descriptor    string         `json:"descriptor,omitempty"` // hex
	NoDescriptor  string         `json:"no_descriptor,omitempty"`
	ModeLine      string         `json:"mode_line,omitempty"`
	Written       []string       `json:"written,omitempty"`
	limits        []timing.Limits
}

func newSolve(a *app) *cobra.Command {
	var o solveOptions
	cmd := &cobra.Command{
		Use:   "solve --limits FILE",
		Short: "Find the timing that the cable, the scaler and the panel accept",
		Long: `Finds the legal timing nearest to what the source sends (--near), or to the
typical values of the limits. A standard timing goes first where one is legal.
Where no timing is legal, the smallest set of limits that contradict each other
is named: without any one of them there is an answer.

A pass-through board's timing has to meet all limits at once. Behind a scaler
with a frame buffer the timing that it puts out is sought (--side panel), or
with --side source the one that it is sent.

` + timingHelp + `

The exit code is 0 when there is a timing and 1 when there is none.`,
		Example: `  deadhop solve --limits board.yaml --rate "60 Hz"
  deadhop solve --limits board.yaml --near in:video0 --even
  deadhop solve --limits board.yaml --rate "60 Hz" --bytes
  deadhop solve --limits board.yaml --rate "60 Hz" --edid display.bin --write-edid patched.bin`,
		Args: exactly(),
		RunE: func(cmd *cobra.Command, _ []string) error {
			return a.solve(cmd.Context(), o)
		},
	}
	f := cmd.Flags()
	o.limits.flags(f)
	f.StringVar(&o.size, "size", "", "active size, such as 1366x768 (as a rule the panel's)")
	f.StringVar(&o.rate, "rate", "", "wanted field rate, such as \"60 Hz\"")
	f.StringVar(&o.within, "within", "5000 ppm", "how far from the wanted rate the answer may be")
	f.StringVar(&o.near, "near", "", "TIMING that the source sends; the answer changes it the least")
	f.StringVar(&o.side, "side", "", "behind a frame buffer: panel (what the scaler puts out) or source (what it is sent)")
	f.BoolVar(&o.even, "even", false, "the source sends two pixels a clock: only even horizontal numbers")
	f.BoolVar(&o.bytes, "bytes", false, "print only the 18 bytes of the detailed timing descriptor, in hex")
	f.BoolVar(&o.modeLine, "modeline", false, "print only the mode line")
	f.StringVar(&o.picture, "picture", "", "new SVG file for a drawing of the frame and the limits on its totals")
	f.StringVar(&o.writeEDID, "write-edid", "", "new file for an EDID that asks for the timing: the one of --edid with its first timing changed, or a plain one")
	jsonFlag(a, f)
	return cmd
}

func (a *app) solve(ctx context.Context, o solveOptions) error {
	usage := func(format string, args ...any) error {
		return &usageError{"deadhop solve", fmt.Errorf(format, args...)}
	}
	views := 0
	for _, v := range []bool{a.json, o.bytes, o.modeLine} {
		if v {
			views++
		}
	}
	if views > 1 {
		return usage("--json, --bytes and --modeline are different views: choose one")
	}
	if o.side != "" && o.side != "panel" && o.side != "source" {
		return usage("--side %q: use panel or source", o.side)
	}
	known, err := a.readLimits(ctx, "deadhop solve", o.limits)
	if err != nil {
		return err
	}
	p, near, err := a.problem(ctx, o, known)
	if err != nil {
		return err
	}
	s, err := timing.Solve(p)
	if err != nil {
		return badInput(err)
	}
	r := newSolveReport(p, near, s)
	if s.Found {
		if err := a.writeSolution(o, known, s.Timing, &r); err != nil {
			return err
		}
	}
	switch {
	case a.json:
		if err := a.printJSON(r); err != nil {
			return err
		}
	case !s.Found && (o.bytes || o.modeLine):
		// The view is for another program, which must not read words in it.
		fmt.Fprintln(a.err, "deadhop: "+r.Sentence)
	case o.bytes && r.Descriptor == "":
		return badInput(errors.New(r.NoDescriptor))
	case o.bytes:
		fmt.Fprintln(a.out, r.Descriptor)
	case o.modeLine:
		fmt.Fprintln(a.out, r.ModeLine)
	default:
		a.printSolution(r)
	}
	if !s.Found {
		return finish(exitFault)
	}
	return nil
}

// problem turns the call into what is to be solved.
func (a *app) problem(ctx context.Context, o solveOptions, known knownLimits) (timing.Problem, givenTiming, error) {
	p := timing.Problem{Limits: known.all(), EvenH: o.even}
	var near givenTiming
	var err error
	switch {
	case !known.Buffers && o.side != "":
		return p, near, badInputf("--side: the scaler is pass-through by its limits file, so both sides are one")
	case known.Buffers && o.side == "source":
		p.Limits = known.Of(timing.KindSource, timing.KindLink, timing.KindScalerInput)
	case known.Buffers:
		p.Limits = known.Of(timing.KindPanel)
	}
	if o.near != "" {
		if near, err = a.readTiming(ctx, o.near, ""); err != nil {
			return p, near, err
		}
		p.Near = near.Timing
	}
	if o.side != "source" {
		p.Width, p.Height = known.size()
	}
	switch {
	case o.size != "":
		if _, err := fmt.Sscanf(o.size+" end", "%dx%d end", &p.Width, &p.Height); err != nil {
			return p, near, badInputf("--size %q: write it as 1366x768", o.size)
		}
	case p.Width == 0 && o.near != "":
		p.Width, p.Height = near.H.Active, near.FrameActive()
	case p.Width == 0:
		return p, near, badInputf("no active size: no panel in the limits has one, so give --size, such as --size 1366x768")
	}
	if o.rate != "" {
		rate, err := timing.ParseFreq(o.rate)
		if err != nil {
			return p, near, badInputf("--rate: %w", err)
		}
		ppm, err := parsePPM(o.within)
		if err != nil {
			return p, near, badInputf("--within: %w", err)
		}
		p.Limits = append(p.Limits, timing.AtRate(rate, uint64(ppm)))
	}
	return p, near, nil
}

func newSolveReport(p timing.Problem, near givenTiming, s timing.Solution) solveReport {
	r := solveReport{Version: 1, Found: s.Found, Size: fmt.Sprintf("%dx%d", p.Width, p.Height), Changed: []string{},
		Conflict: append([]string{}, s.Conflict...), Sentence: s.Sentence, limits: p.Limits}
	if near.Timing != (timing.Timing{}) {
		r.Near = near.words()
	}
	if !s.Found {
		return r
	}
	r.Timing = &s.Timing
	r.ChangePercent = s.Distance * 100
	r.Changed = append(r.Changed, s.Changed...)
	if s.Standard.Source != 0 {
		r.Standard = s.Standard.Label()
	}
	fit := timing.Check(s.Timing, 0, p.Limits...)
	r.Fit = &fit
	r.ModeLine = s.Timing.Modeline(r.Size + " " + s.Timing.FieldRate().InDecimals(1, 2))
	b, err := s.Timing.Descriptor(0, 0)
	if err != nil {
		r.NoDescriptor = err.Error()
	} else {
		r.Descriptor = fmt.Sprintf("% x", b)
	}
	return r
}

// writeSolution writes the files that were asked for.
func (a *app) writeSolution(o solveOptions, known knownLimits, t timing.Timing, r *solveReport) error {
	if o.picture != "" {
		if err := writeNew(o.picture, timing.FrameSVG(t, r.limits)); err != nil {
			return err
		}
		r.Written = append(r.Written, o.picture)
	}
	if o.writeEDID != "" {
		b, err := edidAskingFor(t, known.edid)
		if err != nil {
			return badInputf("no EDID can ask for this timing: %w", err)
		}
		if err := writeNew(o.writeEDID, b); err != nil {
			return err
		}
		r.Written = append(r.Written, o.writeEDID)
	}
	return nil
}

func (a *app) printSolution(r solveReport) {
	if !r.Found {
		a.paragraph("Answer    ", r.Sentence)
		for i, c := range r.Conflict {
			lead := "          "
			if i == 0 {
				lead = "Conflict  "
			}
			a.paragraph(lead, c)
		}
		a.paragraph("Next      ", "give up any one of these limits: change the part that sets it, or the rate or size that is wanted")
		return
	}
	a.paragraph("Answer    ", r.Sentence)
	if r.Near != "" {
		a.paragraph("Sent      ", r.Near)
	}
	changes := "nothing"
	if len(r.Changed) > 0 {
		changes = strings.Join(r.Changed, ", ")
	}
	a.paragraph("Changes   ", changes)
	if r.Descriptor != "" {
		a.paragraph("In EDID   ", r.Descriptor)
	} else {
		a.paragraph("In EDID   ", "not as a detailed timing: "+strings.TrimPrefix(r.NoDescriptor, "detailed timing descriptor: "))
	}
	fmt.Fprintf(a.out, "Mode line %s\n", strings.TrimPrefix(r.ModeLine, "Modeline "))
	fmt.Fprintf(a.out, "\n%s", r.Fit.Text())
	for _, w := range r.Written {
		fmt.Fprintf(a.out, "Written: %s\n", w)
	}
}

package main

import (
	"context"
	"fmt"

	"github.com/spf13/cobra"

	"deadhop/edid/timing"
)

type fitOptions struct {
	limits                 limitsOptions
	output, error, picture string
}

// fitReport is the JSON form of a fit.
type fitReport struct {
	Version   int              `json:"version"`
	Given     string           `json:"given"`
	ErrorPPM  float64          `json:"error_ppm"`
	Buffers   bool             `json:"scaler_has_frame_buffer"`
	Stretches []timing.Stretch `json:"stretches"`
	// NotJudged says what could not be judged, and why.
	NotJudged string          `json:"not_judged,omitempty"`
	Sequence  []sequenceEntry `json:"power_sequence,omitempty"`
	Sentence  string          `json:"sentence"`
	Picture   string          `json:"picture,omitempty"`
}

type sequenceEntry struct {
	Origin string `json:"origin"`
	Name   string `json:"name"`
	MinUS  uint64 `json:"min_us"`
	MaxUS  uint64 `json:"max_us,omitempty"`
}

func newFit(a *app) *cobra.Command {
	var o fitOptions
	cmd := &cobra.Command{
		Use:   "fit TIMING --limits FILE",
		Short: "Say whether a timing fits the cable, the scaler and the panel",
		Long: `Judges a timing against every limit of the path: a row for each with what is
there, what is needed, and the margin. A pass-through board hands the source's
timing on, so that it has to fit the panel too; a scaler with a frame buffer
makes its own, which --output states.

` + timingHelp + `

The exit code is 0 when the timing fits, 1 when a limit is broken, and 4 when
a margin is smaller than the error of the measurement.`,
		Example: `  deadhop fit 1920x1080@50 --limits board.yaml
  deadhop fit in:video0 --limits board.yaml --error "250 ppm"
  deadhop fit 1920x1080@60 --limits scaler.yaml --output cvt-rb:1366x768@60
  deadhop fit "DMT 0x51" --limits board.yaml --picture frame.svg`,
		Args: exactly("the timing"),
		RunE: func(cmd *cobra.Command, args []string) error {
			return a.fit(cmd.Context(), args[0], o)
		},
	}
	f := cmd.Flags()
	o.limits.flags(f)
	f.StringVar(&o.output, "output", "", "timing that a scaler with a frame buffer puts out")
	errorFlag(f, &o.error)
	f.StringVar(&o.picture, "picture", "", "new SVG file for a drawing of the frame and the limits on its totals")
	jsonFlag(a, f)
	return cmd
}

func (a *app) fit(ctx context.Context, text string, o fitOptions) error {
	known, err := a.readLimits(ctx, "deadhop fit", o.limits)
	if err != nil {
		return err
	}
	given, err := a.readTiming(ctx, text, o.error)
	if err != nil {
		return err
	}
	var output givenTiming
	switch {
	case o.output == "":
	case !known.Buffers:
		return badInputf("--output: the scaler is pass-through by its limits file and makes no timing of its own")
	default:
		if output, err = a.readTiming(ctx, o.output, ""); err != nil {
			return err
		}
	}
	r := newFitReport(given, output, known)
	drawn := given.Timing
	if known.Buffers && output.Timing != (timing.Timing{}) {
		drawn = output.Timing
	}
	if o.picture != "" {
		limits := known.all()
		if known.Buffers && drawn == given.Timing {
			limits = known.Of(timing.KindSource, timing.KindLink, timing.KindScalerInput)
		} else if known.Buffers {
			limits = known.Of(timing.KindPanel)
		}
		if err := writeNew(o.picture, timing.FrameSVG(drawn, limits)); err != nil {
			return err
		}
		r.Picture = o.picture
	}
	if a.json {
		if err := a.printJSON(r); err != nil {
			return err
		}
	} else {
		a.printFit(given, output, r)
	}
	return finish(r.code())
}

func newFitReport(given, output givenTiming, known knownLimits) fitReport {
	r := fitReport{Version: 1, Given: given.words(), ErrorPPM: given.ppm, Buffers: known.Buffers}
	r.Stretches = known.Path(given.Timing, output.Timing, given.ppm).Fit()
	for _, l := range known.all() {
		for _, s := range l.Sequence {
			r.Sequence = append(r.Sequence, sequenceEntry{l.Origin, s.Name, s.MinUS, s.MaxUS})
		}
	}
	if known.Buffers && output.Timing == (timing.Timing{}) {
		r.Stretches = r.Stretches[:1]
		if len(known.Of(timing.KindPanel)) > 0 {
			r.NotJudged = "the panel: the scaler makes its own timing, and --output did not say which"
		}
	}
	for i, s := range r.Stretches {
		if i > 0 {
			r.Sentence += " "
		}
		r.Sentence += s.Report.Sentence
	}
	return r
}

// code puts the verdicts into an exit code.
func (r fitReport) code() exitCode {
	var codes []exitCode
	for _, s := range r.Stretches {
		codes = append(codes, verdictCode(s.Report))
	}
	if r.NotJudged != "" {
		codes = append(codes, exitInconclusive)
	}
	return worst(codes...)
}

// verdictCode is the exit code of one verdict. A timing without any limit to
// judge it by was not judged.
func verdictCode(r timing.Report) exitCode {
	switch {
	case r.Verdict == timing.Broken:
		return exitFault
	case r.Verdict == timing.CannotTell, len(r.Rows) == 0:
		return exitInconclusive
	}
	return exitPass
}

func (a *app) printFit(given, output givenTiming, r fitReport) {
	for i, s := range r.Stretches {
		g := given
		if i > 0 {
			fmt.Fprintln(a.out)
			g = output
		}
		fmt.Fprintf(a.out, "%s\n  %s\n\n%s", capital(s.Name), g.words(), s.Report.Text())
	}
	if r.NotJudged != "" {
		a.paragraph("Not judged: ", r.NotJudged)
	}
	if len(r.Sequence) > 0 {
		fmt.Fprintln(a.out, "\nPower sequence, as stated (no timing can break it)")
		for _, s := range r.Sequence {
			fmt.Fprintf(a.out, "  %s: %s, %s\n", s.Origin, s.Name, s.bounds())
		}
	}
	if r.Picture != "" {
		fmt.Fprintf(a.out, "Written: %s\n", r.Picture)
	}
}

func (s sequenceEntry) bounds() string {
	ms := func(us uint64) string { return fmt.Sprintf("%g ms", float64(us)/1000) }
	switch {
	case s.MaxUS == 0:
		return "at least " + ms(s.MinUS)
	case s.MinUS == 0:
		return "at most " + ms(s.MaxUS)
	}
	return ms(s.MinUS) + " to " + ms(s.MaxUS)
}

func capital(s string) string {
	if s == "" {
		return s
	}
	return string(s[0]-'a'+'A') + s[1:]
}

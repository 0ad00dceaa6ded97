package main

import (
	"context"
	"fmt"
	"strings"

	"github.com/spf13/cobra"

	"deadhop/edid/timing"
)

type agreeOptions struct {
	limits limitsOptions
	error  string
}

// agreeReport is the JSON form of a comparison.
type agreeReport struct {
	Version int                 `json:"version"`
	Agree   bool                `json:"agree"`
	Sent    string              `json:"sent"`
	Asked   string              `json:"asked,omitempty"`
	Buffers bool                `json:"scaler_has_frame_buffer"`
	Rows    []timing.CompareRow `json:"rows"`
	First   string              `json:"first_mismatch,omitempty"`
	// Broken says which limits the timing breaks, whatever the EDID asks for.
	Broken string `json:"broken,omitempty"`
	// Unsure names what the measurement is too coarse for.
	Unsure string `json:"cannot_tell,omitempty"`
}

func newAgree(a *app) *cobra.Command {
	var o agreeOptions
	cmd := &cobra.Command{
		Use:   "agree TIMING",
		Short: "Set what is sent, asked for and accepted side by side",
		Long: `Sets side by side the timing that comes in at a hop, the one that the EDID asks
for which the source saw there, and what scaler and panel accept; then says the
first mismatch in words. Behind a scaler with a frame buffer the panel's column
stands for comparison only: it does not see what is sent.

` + timingHelp + `

The exit code is 0 when all agree, 1 at a mismatch, and 4 when a margin is
smaller than the error of the measurement.`,
		Example: `  deadhop agree looks/c2.display-up.json --edid seen.bin --limits board.yaml
  deadhop agree in:video0 --edid out:HDMI-A-1 --limits board.yaml`,
		Args: exactly("the timing that is sent"),
		RunE: func(cmd *cobra.Command, args []string) error {
			return a.agree(cmd.Context(), args[0], o)
		},
	}
	f := cmd.Flags()
	o.limits.flags(f)
	errorFlag(f, &o.error)
	jsonFlag(a, f)
	return cmd
}

func (a *app) agree(ctx context.Context, text string, o agreeOptions) error {
	known, err := a.readLimits(ctx, "deadhop agree", o.limits)
	if err != nil {
		return err
	}
	sent, err := a.readTiming(ctx, text, o.error)
	if err != nil {
		return err
	}
	c := timing.Comparison{Sent: sent.Timing, ErrorPPM: sent.ppm,
		Scaler: known.Of(timing.KindSource, timing.KindLink, timing.KindScalerInput)}
	r := agreeReport{Version: 1, Sent: sent.words(), Buffers: known.Buffers}
	if known.edid != nil {
		asked, ok := known.edid.Preferred()
		if !ok {
			return badInputf("%s: this EDID asks for no timing", known.edidName)
		}
		c.Asked = asked
		r.Asked = fmt.Sprintf("%s (%s)", asked, known.edidName)
	}
	fits := append([]timing.Limits(nil), c.Scaler...)
	shown := c
	shown.Panel = known.Of(timing.KindPanel)
	if !known.Buffers {
		c.Panel = shown.Panel
		fits = append(fits, c.Panel...)
	}
	r.Rows, r.First = c.Compare()
	rows, _ := shown.Compare()
	for i := range r.Rows {
		r.Rows[i].Panel = rows[i].Panel
	}
	// Rules that are no range, such as the listed modes, have no row of
	// their own in the comparison.
	fit := timing.Check(sent.Timing, sent.ppm, fits...)
	if fit.Verdict == timing.Broken {
		r.Broken = fit.Sentence
	}
	switch {
	case r.First == "" && r.Broken != "":
		b := fit.Broken()[0]
		r.First = fmt.Sprintf("%s: the source sends %s, the %s accepts %s", b.What, b.Have, b.Origin, b.Need)
	case fit.Verdict == timing.CannotTell:
		r.Unsure = fit.Sentence
	}
	r.Agree = r.First == "" && r.Unsure == ""
	if a.json {
		if err := a.printJSON(r); err != nil {
			return err
		}
	} else {
		a.printAgree(r)
	}
	switch {
	case r.First != "":
		return finish(exitFault)
	case r.Unsure != "":
		return finish(exitInconclusive)
	}
	return nil
}

func (a *app) printAgree(r agreeReport) {
	a.paragraph("Sent   ", r.Sent)
	if r.Asked != "" {
		a.paragraph("Asked  ", r.Asked)
	}
	fmt.Fprintln(a.out)
	table := [][5]string{{"", "sent", "asked for", "scaler accepts", "panel accepts"}}
	for _, row := range r.Rows {
		table = append(table, [5]string{row.What, row.Sent, row.Asked, row.Scaler, row.Panel})
	}
	var width [5]int
	for _, cells := range table {
		for i, c := range cells {
			width[i] = max(width[i], len(c))
		}
	}
	for n, cells := range table {
		mark := "  "
		if n > 0 && r.Rows[n-1].Mismatch != "" {
			mark = "! "
		}
		line := mark
		for i, c := range cells {
			line += fmt.Sprintf("%-*s  ", width[i], c)
		}
		fmt.Fprintln(a.out, strings.TrimRight(line, " "))
	}
	fmt.Fprintln(a.out)
	switch {
	case r.First != "":
		a.paragraph("First mismatch  ", r.First)
		if r.Broken != "" {
			a.paragraph("Limits          ", r.Broken)
		}
	case r.Unsure != "":
		a.paragraph("Cannot tell  ", r.Unsure)
	default:
		fmt.Fprintln(a.out, "All agree.")
	}
	if r.Buffers {
		fmt.Fprintln(a.out, "The scaler has a frame buffer: the panel sees its output, which `deadhop fit --output` judges.")
	}
}

package main

import (
	"bufio"
	"context"
	"errors"
	"fmt"
	"slices"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"deadhop/ddc"
	"deadhop/edid"
	"deadhop/edid/timing"
)

// screenPort is an output that a picture can be driven on. A simulated output
// is none: it has no pixels.
type screenPort interface {
	ddc.Out
	Drive(ctx context.Context, t timing.Timing) (*ddc.Screen, error)
	Force(on bool) error
}

// testPictures are the pictures with what a person should look for (common
// practice, no source).
var testPictures = []struct {
	picture ddc.Pattern
	lookFor string
}{
	{ddc.Bars, "from the left white, yellow, cyan, green, magenta, red, blue, black: a colour that is missing or swapped is a lane"},
	{ddc.Ramps, "red, green, blue and grey rise smoothly: steps are lost bits, mostly on the panel's side"},
	{ddc.Grid, "the outermost line shows on all four edges: a missing one is a scaled picture or a wrong active area"},
	{ddc.FullRed, "red all over: a black screen is the red lane (TMDS channel 2)"},
	{ddc.FullGreen, "green all over: a black screen is the green lane (TMDS channel 1)"},
	{ddc.FullBlue, "blue all over: a black screen is the blue lane (TMDS channel 0)"},
	{ddc.FullWhite, "white all over, without a tint"},
	{ddc.FullBlack, "black all over: light spots are stuck pixels, a glow is the backlight"},
	{ddc.Alternate, "an even grey: sparkles and flicker are a link at its limit"},
	{ddc.Mark, "the mark moves on in even steps: one that stands is a frozen picture"},
	{ddc.Counter, "the squares at the top count up in binary, without a number left out"},
}

// moveStep is how often a moving picture moves on: slow enough for the eye.
const moveStep = 100 * time.Millisecond

type showOptions struct {
	port, timing string
	span         time.Duration
	forced       bool
}

func newShow(a *app) *cobra.Command {
	var o showOptions
	var list strings.Builder
	for _, p := range testPictures {
		fmt.Fprintf(&list, "  %-10s %s\n", p.picture, p.lookFor)
	}
	cmd := &cobra.Command{
		Use:   "show PICTURE",
		Short: "Drive a test picture on a video output",
		Long: `Drives a test picture on a video output until Enter, Ctrl-C or the time of
--for, then puts back what was shown before. PICTURE is one of these, with what
to look for:

` + list.String() + `
Without --timing it is the timing that the display's EDID asks for. Any legal
timing can be driven, whether or not the display asks for it. A tube monitor can
be damaged by a timing that it is not made for: keep to its label.

` + timingHelp,
		Example: `  deadhop show bars --port out:HDMI-A-1
  deadhop show alternate --port out:HDMI-A-1 --timing 1920x1080@60 --for 30s
  deadhop show grid --port out:HDMI-A-1 --timing board.yaml`,
		Args: exactly("the picture"),
		RunE: func(cmd *cobra.Command, args []string) error {
			return a.show(cmd.Context(), args[0], o)
		},
	}
	f := cmd.Flags()
	f.StringVar(&o.port, "port", "", "video output to drive (may be left out where there is only one)")
	f.StringVar(&o.timing, "timing", "", "timing to drive instead of the one that the display asks for")
	f.DurationVar(&o.span, "for", 0, "how long to show it, such as 30s; without it, until Enter or Ctrl-C")
	f.BoolVar(&o.forced, "force", false, "drive the output although its hot-plug says nothing (needs root; undone at the end)")
	return cmd
}

func (a *app) show(ctx context.Context, name string, o showOptions) error {
	at := slices.IndexFunc(testPictures, func(p struct {
		picture ddc.Pattern
		lookFor string
	}) bool {
		return p.picture.String() == name
	})
	switch {
	case at < 0:
		return &usageError{"deadhop show", fmt.Errorf("there is no picture %q: use one of %s", name, pictureNames())}
	case o.span < 0:
		return &usageError{"deadhop show", fmt.Errorf("--for %s: a time cannot be negative", o.span)}
	}
	bench, _, err := a.openBench(ctx)
	if err != nil {
		return err
	}
	defer bench.Close()
	out, err := findScreen(ctx, bench, o.port)
	if err != nil {
		return err
	}
	t, err := a.timingToShow(ctx, out, o.timing)
	if err != nil {
		return err
	}
	if o.forced {
		if err := out.Force(true); err != nil {
			return err
		}
		defer func() {
			if err := out.Force(false); err != nil {
				fmt.Fprintf(a.err, "deadhop: %s stays forced on: %v\n", out.Info().ID, err)
			}
		}()
	}
	screen, err := out.Drive(ctx, t.Timing)
	if err != nil {
		return fmt.Errorf("no picture on %s: %w", out.Info().ID, err)
	}
	shown := a.showOn(ctx, screen, out.Info().ID, testPictures[at].picture, testPictures[at].lookFor, t, o.span)
	if err := screen.Close(); err != nil {
		return errors.Join(shown, fmt.Errorf("put back what %s showed before: %w", out.Info().ID, err))
	}
	if shown == nil {
		fmt.Fprintf(a.out, "%s is given free; what it showed before is back.\n", out.Info().ID)
	}
	return shown
}

func (a *app) showOn(ctx context.Context, screen *ddc.Screen, id string, p ddc.Pattern, lookFor string, t givenTiming, span time.Duration) error {
	if err := screen.Draw(p.Paint(screen.W, screen.H, 0)); err != nil {
		return err
	}
	fmt.Fprintf(a.out, "%s shows %s at %s.\n", id, p, t.words())
	a.paragraph("Look for  ", lookFor)
	var over <-chan time.Time
	if span > 0 {
		over = time.After(span)
	} else {
		fmt.Fprintln(a.out, "Enter ends it.")
	}
	step := time.NewTicker(moveStep)
	defer step.Stop()
	if p != ddc.Mark && p != ddc.Counter {
		step.Stop()
	}
	enter := a.enterPressed(span > 0)
	for n := 1; ; n++ {
		select {
		case <-ctx.Done(): // the usual way to end it
			return nil
		case <-enter:
			return nil
		case <-over:
			return nil
		case <-step.C:
			if err := screen.Draw(p.Paint(screen.W, screen.H, n)); err != nil {
				return err
			}
		}
	}
}

// enterPressed tells of a line on the input. An input that ends is nobody's
// key press: a picture in the background goes on.
func (a *app) enterPressed(timed bool) <-chan struct{} {
	pressed := make(chan struct{})
	if timed && !a.interactive {
		return pressed
	}
	go func() {
		if _, err := bufio.NewReader(a.in).ReadString('\n'); err == nil {
			close(pressed)
		}
	}()
	return pressed
}

func pictureNames() string {
	var names []string
	for _, p := range testPictures {
		names = append(names, p.picture.String())
	}
	return strings.Join(names, ", ")
}

// findScreen finds an output that pictures can be driven on.
func findScreen(ctx context.Context, b ddc.Bench, id string) (screenPort, error) {
	port, err := findPort(ctx, b, id, func(p ddc.Port) bool { return id != "" || p.Info().Kind == ddc.OutPort })
	if err != nil {
		return nil, err
	}
	if port.Info().Kind != ddc.OutPort {
		return nil, badInputf("%s is no video output: a picture can be driven on an out: port only", port.Info().ID)
	}
	out, ok := port.(screenPort)
	if !ok {
		return nil, cannotDo("drive a picture", port, "a simulated output has no pixels")
	}
	return out, nil
}

// cannotDo says that a port is not made for something. It is the bench that
// falls short, and no fault of what is plugged in.
func cannotDo(what string, p ddc.Port, why string) error {
	return &ddc.OpError{Op: what, Path: p.Info().ID, Kind: ddc.ErrUnsupported, Do: why}
}

// timingToShow is the timing asked for, else the one that the display's EDID
// prefers: the one on the wire, or the kernel's copy where the wire is out of
// reach.
func (a *app) timingToShow(ctx context.Context, out ddc.Out, text string) (givenTiming, error) {
	if text != "" {
		return a.readTiming(ctx, text, "")
	}
	ctx, cancel := context.WithTimeout(ctx, lookTime)
	defer cancel()
	seen := out.LookDown(ctx, ddc.DownOptions{Reads: 1})
	a.logAttempts(seen)
	id := out.Info().ID
	for _, from := range []struct {
		bytes []byte
		words string
	}{{seen.EDID.V, "asked for by the EDID at " + id}, {seen.KernelEDID.V, "asked for by the kernel's copy of the EDID at " + id}} {
		if e, err := edid.Decode(from.bytes); err == nil {
			if t, ok := e.Preferred(); ok && t.Validate() == nil {
				return givenTiming{Timing: t, from: from.words}, nil
			}
		}
	}
	return givenTiming{}, fmt.Errorf("no display at %s asks for a timing: %w", id,
		&ddc.OpError{Op: "choose a timing", Kind: ddc.ErrNotThere, Do: "name one, such as --timing \"VIC 1\""})
}

package main

import (
	"context"
	"errors"
	"fmt"
	"time"

	"github.com/spf13/cobra"

	"deadhop/ddc"
	"deadhop/edid/timing"
)

// ladder is the usual climb of the pixel clock: 25.2, 27, 74.25, 148.5 and
// 297 MHz (CTA-861 table 1).
var ladder = []string{"VIC 1", "VIC 2", "VIC 4", "VIC 16", "VIC 95"}

// loopPictures are sent at each step: bars tell the lanes apart, alternating
// pixels carry the most edges.
var loopPictures = []ddc.Pattern{ddc.Bars, ddc.Alternate}

// staleFrames may still hold the picture from before.
const staleFrames = 3

// pixelReceiver is a receiver whose pixels can be had.
type pixelReceiver interface {
	ddc.In
	Grab(ctx context.Context, n int) ([]ddc.Frame, error)
}

// sending is a picture under way at a timing.
type sending struct {
	w, h  int
	draw  func(ddc.Frame) error
	close func() error
}

type loopOptions struct {
	from, to          string
	at                []string
	frames, tolerance int
}

func newLoop(a *app) *cobra.Command {
	var o loopOptions
	cmd := &cobra.Command{
		Use:   "loop",
		Short: "Send pictures through a cable or board and compare every pixel",
		Long: `Sends test pictures from an output of the bench through what lies between, such
as a cable or a switch board, into a receiver of the bench, and compares every
pixel, at each step of a climbing pixel clock. It gives the share of wrong pixels
and the rate that the true one is below with 95 % confidence. What the screen
showed before is put back.

It judges the whole path, the bench's own leads included: run it first with a
known-good lead in place of the part. A step that a port of the bench is not made
for counts only where --at asks for it. The exit code is 1 where pixels came
wrong, or where one step had no lock and another one had; 3 where nothing locked
at all, since then a plug may be in the wrong socket.`,
		Example: `  deadhop loop --from out:HDMI-A-1 --to in:video0
  deadhop loop --from out:HDMI-A-1 --to in:video0 --at "VIC 4" --at "VIC 16" --frames 60`,
		Args: exactly(),
		RunE: func(cmd *cobra.Command, _ []string) error {
			var err error
			switch {
			case o.from == "":
				err = errors.New("--from is missing: the output that sends")
			case o.to == "":
				err = errors.New("--to is missing: the receiver")
			case o.frames < 1 || o.frames > 1000:
				err = fmt.Errorf("--frames %d: 1 to 1000 are possible", o.frames)
			case o.tolerance < 0 || o.tolerance > 64:
				err = fmt.Errorf("--tolerance %d: 0 to 64 are possible", o.tolerance)
			}
			if err != nil {
				return &usageError{cmd.CommandPath(), err}
			}
			return a.loop(cmd.Context(), o)
		},
	}
	f := cmd.Flags()
	f.StringVar(&o.from, "from", "", "output that sends, out:...")
	f.StringVar(&o.to, "to", "", "receiver that compares, in:...")
	f.StringArrayVar(&o.at, "at", nil, "timing of one step, in any form that fit takes; repeat it for more (usually 25.2 to 297 MHz)")
	f.IntVar(&o.frames, "frames", 4, "frames to compare of each picture")
	f.IntVar(&o.tolerance, "tolerance", 0, "levels that a pixel may differ by; 2 where the receiver converts colours")
	jsonFlag(a, f)
	return cmd
}

func (a *app) loop(ctx context.Context, o loopOptions) error {
	asked := len(o.at) > 0
	if !asked {
		o.at = ladder
	}
	var steps []givenTiming
	for _, text := range o.at {
		t, err := a.readTiming(ctx, text, "")
		if err != nil {
			return err
		}
		steps = append(steps, t)
	}
	bench, _, err := a.openBench(ctx)
	if err != nil {
		return err
	}
	defer bench.Close()
	out, err := findScreen(ctx, bench, o.from)
	if err != nil {
		return err
	}
	port, err := findPort(ctx, bench, o.to, nil)
	if err != nil {
		return err
	}
	in, ok := port.(pixelReceiver)
	switch {
	case port.Info().Kind != ddc.InPort:
		return badInputf("%s is no receiver: pixels are compared at an in: port", o.to)
	case !ok:
		return cannotDo("take pixels", port, "a simulated receiver has none")
	}
	l := loopRun{in: in, frames: o.frames, tolerance: o.tolerance, asked: asked, progress: func(t givenTiming) {
		fmt.Fprintf(a.err, "deadhop: %s\n", t.Timing)
	}}
	l.drive = func(ctx context.Context, t timing.Timing) (*sending, error) {
		s, err := out.Drive(ctx, t)
		if err != nil {
			return nil, err
		}
		return &sending{s.W, s.H, s.Draw, s.Close}, nil
	}
	r, err := l.run(ctx, steps)
	if err != nil {
		return err
	}
	r.From, r.To = o.from, o.to
	if a.json {
		if err := a.printJSON(r); err != nil {
			return err
		}
	} else {
		a.printLoop(r)
	}
	if ctx.Err() != nil {
		return finish(worst(l.code(r), exitInconclusive))
	}
	return finish(l.code(r))
}

// loopRun sends and compares. The sender is a function, so that any will do.
type loopRun struct {
	drive             func(ctx context.Context, t timing.Timing) (*sending, error)
	in                pixelReceiver
	frames, tolerance int
	asked             bool // the user named the steps
	progress          func(givenTiming)
}

func (l *loopRun) run(ctx context.Context, steps []givenTiming) (*loopReport, error) {
	r := &loopReport{Version: 1, Steps: []loopStep{}}
	for _, t := range steps {
		if ctx.Err() != nil {
			break
		}
		l.progress(t)
		s, err := l.step(ctx, t.Timing)
		if err != nil {
			return nil, err
		}
		r.Steps = append(r.Steps, s)
	}
	return r, nil
}

// step takes one timing. Its error is one that stops the whole climb.
func (l *loopRun) step(ctx context.Context, t timing.Timing) (loopStep, error) {
	s := loopStep{Timing: t.String(), ClockHz: t.PixelClock.Float(), Pictures: []loopPicture{}}
	sent, err := l.drive(ctx, t)
	switch {
	case errors.Is(err, ddc.ErrUnsupported):
		s.State, s.Why = loopUnable, err.Error()
		return s, nil
	case err != nil:
		return s, fmt.Errorf("nothing can be sent: %w", err)
	}
	err = l.compare(ctx, sent, &s)
	if closed := sent.close(); closed != nil {
		err = errors.Join(err, fmt.Errorf("put back what the screen showed: %w", closed))
	}
	return s, err
}

func (l *loopRun) compare(ctx context.Context, sent *sending, s *loopStep) error {
	for _, p := range loopPictures {
		want := p.Paint(sent.w, sent.h, 0)
		if err := sent.draw(want); err != nil {
			return err
		}
		if len(s.Pictures) == 0 && !l.locks(ctx, s) {
			return nil
		}
		ctx, cancel := context.WithTimeout(ctx, lookTime)
		got, err := l.in.Grab(ctx, staleFrames+l.frames)
		cancel()
		if err != nil {
			s.unable(err.Error())
			return nil
		}
		s.add(p, want, got[min(staleFrames, len(got)):], l.tolerance)
	}
	return nil
}

// locks waits for the receiver. One that gives pictures only cannot tell.
func (l *loopRun) locks(ctx context.Context, s *loopStep) bool {
	ctx, cancel := context.WithTimeout(ctx, settleTime+2*time.Second)
	defer cancel()
	seen := l.in.LookUp(ctx, ddc.UpOptions{Settle: settleTime, Frames: -1})
	if seen.Signal.State != ddc.Known {
		return true
	}
	switch seen.Signal.V {
	case ddc.Locked:
		return true
	case ddc.OutOfRange:
		s.State, s.Why = loopUnable, "locked, but beyond the receiver's own range"
	default:
		s.State, s.Why = loopNoLock, fmt.Sprint(seen.Timing.Err)
	}
	return false
}

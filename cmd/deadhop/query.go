package main

import (
	"context"
	"errors"
	"fmt"
	"io"

	"github.com/spf13/cobra"

	"deadhop/ddc"
	"deadhop/edid"
)

type queryReport struct {
	Version int          `json:"version"`
	Port    string       `json:"port"`
	Display string       `json:"display,omitempty"`
	Link    scdcReading  `json:"scdc"`
	Keys    hdcpReading  `json:"hdcp"`
	Input   controlValue `json:"input_select"`
	Power   controlValue `json:"power_mode"`
}

// Each reading is "measured", or "not-tried" or "could-not-read" with why.
type stated struct {
	State string `json:"state"`
	Why   string `json:"why,omitempty"`
}

type scdcReading struct {
	stated
	Version       byte    `json:"sink_version,omitempty"`
	ClockDetected bool    `json:"clock_detected"`
	Scrambling    bool    `json:"scrambling_asked"`
	Scrambled     bool    `json:"scrambled"`
	Ratio40       bool    `json:"clock_ratio_40"`
	Locked        [3]bool `json:"locked"` // channels 0 blue, 1 green, 2 red
	Errors        [3]*int `json:"errors"` // since the last read; null where not counted
}

type hdcpReading struct {
	stated
	Present  bool `json:"present"`
	KeyValid bool `json:"key_valid"`
	Repeater bool `json:"repeater"`
	Version2 bool `json:"version_2"`
}

type controlValue struct {
	stated
	Now uint16 `json:"now"`
	Max uint16 `json:"max"`
}

const (
	stateMeasured = "measured"
	stateNotTried = "not-tried"
	stateUnable   = "could-not-read"
)

func newQuery(a *app) *cobra.Command {
	cmd := &cobra.Command{
		Use:   "query PORT",
		Short: "Ask a display how it sees the link, its keys, its input and its power",
		Long: `Asks the display behind a DDC bus, beyond its EDID:

  link    SCDC: clock, lock and character errors of each lane. Only where the
          EDID announces it; reading clears the counters.
  keys    whether the port for content protection answers and has a valid key
  input   the socket that the display shows now (DDC/CI)
  power   on, standby or off (DDC/CI): is the scaler awake?

It is read-only: no setting is changed and no authentication is begun. The exit
code is 1 where a lane is not locked or has errors, or the key is not valid.`,
		Example: "  deadhop query out:HDMI-A-1\n  deadhop query bus:i2c-5 --json",
		Args:    exactly("the port"),
		RunE: func(cmd *cobra.Command, args []string) error {
			return a.query(cmd.Context(), args[0])
		},
	}
	jsonFlag(a, cmd.Flags())
	return cmd
}

func (a *app) query(ctx context.Context, id string) error {
	bench, simulated, err := a.openBench(ctx)
	if err != nil {
		return err
	}
	defer bench.Close()
	port, err := findPort(ctx, bench, id, nil)
	switch {
	case err != nil:
		return err
	case port.Info().Kind == ddc.InPort:
		return badInputf("%s is a receiver: a display is asked over an out: or bus: port", id)
	case simulated != nil:
		return cannotDo("ask a display", port, "a simulated display answers nothing but its EDID")
	}
	ctx, cancel := context.WithTimeout(ctx, lookTime)
	defer cancel()
	bus, err := displayBus(port)
	if err != nil {
		return fmt.Errorf("no display can be asked at %s: %w", id, err)
	}
	if c, ok := bus.(io.Closer); ok {
		defer c.Close()
	}
	r, codes := a.ask(ctx, bus, id)
	if a.json {
		if err := a.printJSON(r); err != nil {
			return err
		}
	} else {
		a.printQuery(r)
	}
	return finish(worst(codes...))
}

// displayBus opens the bus to the display. For an output it is the bus that
// the driver itself says belongs to it.
func displayBus(p ddc.Port) (ddc.Bus, error) {
	if b, ok := p.(ddc.BusPort); ok {
		return b.Bus()
	}
	return ddc.Writable(p)
}

func (a *app) ask(ctx context.Context, bus ddc.Bus, id string) (*queryReport, []exitCode) {
	r := &queryReport{Version: 1, Port: id}
	var codes []exitCode
	note := func(log []ddc.Attempt) { a.logAttempts(ddc.Downstream{Port: id, Log: log}) }

	read, err := ddc.ReadEDID(ctx, bus, ddc.ReadOptions{})
	note(read.Log)
	e, decodeErr := edid.Decode(read.Bytes)
	switch {
	case err != nil && len(read.Bytes) == 0:
		r.Link.stated = stated{stateUnable, "without the EDID it is not known whether the display has it: " + err.Error()}
		codes = append(codes, exitCannotTest)
	case decodeErr != nil:
		r.Link.stated = stated{stateUnable, "without a legible EDID it is not known whether the display has it"}
		codes = append(codes, exitCannotTest)
	case !announcesSCDC(e):
		r.Display = e.Identity().String()
		r.Link.stated = stated{stateNotTried, "the EDID does not announce it, so something else may answer there"}
	default:
		r.Display = e.Identity().String()
		s, log, err := ddc.ReadSCDC(ctx, bus)
		note(log)
		r.Link = linkReading(s, err)
		codes = append(codes, linkCode(&r.Link))
	}
	p, log, err := ddc.ReadHDCP(ctx, bus)
	note(log)
	r.Keys = hdcpReading{stated: statedBy(err), Present: p.Present, KeyValid: p.KSVValid, Repeater: p.Repeater, Version2: p.Version2}
	switch {
	case err != nil:
		codes = append(codes, exitCannotTest)
	case p.Present && !p.KSVValid:
		codes = append(codes, exitFault)
	default:
		codes = append(codes, exitPass)
	}
	for _, c := range []struct {
		control ddc.Control
		into    *controlValue
	}{{ddc.InputSelect, &r.Input}, {ddc.PowerMode, &r.Power}} {
		v, log, err := ddc.GetControl(ctx, bus, c.control)
		note(log)
		*c.into = controlValue{stated: statedBy(err), Now: v.Now, Max: v.Max}
		if err != nil {
			// Most displays have no DDC/CI, or have it switched off.
			c.into.Why = controlTrouble(err)
		}
	}
	return r, codes
}

func announcesSCDC(e *edid.EDID) bool {
	for _, c := range e.CTAs() {
		for _, b := range c.Blocks {
			if f, ok := b.(*edid.HDMIForum); ok && f.SCDC {
				return true
			}
		}
	}
	return false
}

func statedBy(err error) stated {
	if err != nil {
		return stated{stateUnable, err.Error()}
	}
	return stated{State: stateMeasured}
}

func linkReading(s ddc.SCDCStatus, err error) scdcReading {
	r := scdcReading{stated: statedBy(err), Version: s.SinkVersion, ClockDetected: s.ClockDetected, Scrambling: s.Scrambling,
		Scrambled: s.Scrambled, Ratio40: s.Ratio40, Locked: s.Locked}
	for i, n := range s.Errors {
		if n.State == ddc.Known {
			r.Errors[i] = &n.V
		}
	}
	return r
}

// linkCode judges a link that runs. Without a clock nothing is being sent, and
// the display's counters say nothing of the cable.
func linkCode(r *scdcReading) exitCode {
	switch {
	case r.State != stateMeasured:
		return exitCannotTest
	case !r.ClockDetected:
		return exitInconclusive
	}
	for i := range r.Locked {
		if !r.Locked[i] || r.Errors[i] != nil && *r.Errors[i] > 0 {
			return exitFault
		}
	}
	return exitPass
}

func controlTrouble(err error) string {
	switch {
	case errors.Is(err, ddc.ErrNoAck):
		return "nothing answers at 0x37: the display has no DDC/CI, has it switched off in its menu, or its scaler sleeps"
	case errors.Is(err, ddc.ErrNull):
		return "it answers commands and has nothing to say: busy, or asleep"
	}
	return err.Error()
}

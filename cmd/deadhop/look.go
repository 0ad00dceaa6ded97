package main

import (
	"context"
	"fmt"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"deadhop/chain"
	"deadhop/ddc"
	"deadhop/ddc/sim"
)

// settleTime is how long a receiver is given to lock before "no signal" is
// believed. Sources need about a second after hot-plug; 3 s is the trade's
// limit for a station (common practice, no source).
const settleTime = 3 * time.Second

// lookTime bounds a whole look. Six full reads of a slow bus fit into it.
const lookTime = 20 * time.Second

type lookOptions struct {
	chainFile, port, save, facing string
	reads                         int
	asIs                          bool
}

func newLook(a *app) *cobra.Command {
	var o lookOptions
	cmd := &cobra.Command{
		Use:   "look PLUG",
		Short: "Take one look at a plug and save it",
		Long: `Takes one look through the port that PLUG is plugged into, says what was seen,
and saves it for diagnosis. PLUG is a link of the chain file and one of its
ends, such as c2.source or c2.display. A video receiver (in:...) looks up
towards the source; an output or a bus (out:..., bus:...) looks down towards
the panel.

A receiver is first made to show the EDID that the chain file expects at that
place, so that the source sends what it would send to the unit; --as-is leaves
it alone.

The exit code is 0 when the look was taken, whatever it showed: judging is
what diagnose does. It is 3 when nothing at all could be measured.`,
		Example: `  deadhop look c2.display --chain board.yaml --port in:video0 --save looks/
  deadhop look c2.display --chain board.yaml --port out:HDMI-A-1 --save looks/
  deadhop look c2.display --chain board.yaml --bench testdata/sim/platform-2.yaml --port in:sim`,
		Args: exactly("PLUG"),
		RunE: func(cmd *cobra.Command, args []string) error {
			return a.look(cmd.Context(), args[0], o)
		},
	}
	f := cmd.Flags()
	f.StringVar(&o.chainFile, "chain", "", "chain file of the equipment")
	f.StringVar(&o.port, "port", "", "port of the bench that the plug is in (may be left out where only one fits)")
	f.StringVar(&o.facing, "facing", "", "up or down; follows from the port where it is named")
	f.StringVar(&o.save, "save", "", "folder or new file to save the look in")
	f.IntVar(&o.reads, "reads", 2, "how often to read the EDID, to tell a bad store from a bad bus")
	f.BoolVar(&o.asIs, "as-is", false, "looking up: leave the EDID that the receiver shows as it is")
	jsonFlag(a, f)
	return cmd
}

func (a *app) look(ctx context.Context, plugName string, o lookOptions) error {
	if o.reads < 1 || o.reads > 100 {
		return &usageError{"deadhop look", fmt.Errorf("--reads %d: 1 to 100 are possible", o.reads)}
	}
	c, err := loadChain(o.chainFile)
	if err != nil {
		return err
	}
	plug, err := c.lookPlug(plugName)
	if err != nil {
		return err
	}
	bench, simulated, err := a.openBench(ctx)
	if err != nil {
		return err
	}
	defer bench.Close()
	fits := facingFilter(o.facing)
	if o.port != "" {
		fits = nil
	}
	port, err := findPort(ctx, bench, o.port, fits)
	if err != nil {
		return err
	}
	facing := facingOf(port)
	if o.facing != "" && o.facing != string(facing) {
		return badInputf("%s looks %s, not %s", port.Info().ID, facing, o.facing)
	}
	if simulated != nil {
		if err := connectSim(simulated, plug, facing); err != nil {
			return err
		}
	}
	if in, ok := port.(ddc.In); ok && !o.asIs {
		if err := a.present(ctx, in, c.expectedEDID(plug)); err != nil {
			fmt.Fprintf(a.err, "deadhop: %s cannot show the expected EDID, so the source may stay silent: %v\n", port.Info().ID, err)
		}
	}
	l := a.takeLook(ctx, port, plug, o.reads)
	if ctx.Err() != nil {
		return ctx.Err()
	}
	var saved string
	if o.save != "" {
		if saved, err = saveLook(o.save, &l); err != nil {
			return err
		}
	}
	if a.json {
		if err := a.printJSON(l); err != nil {
			return err
		}
	} else {
		fmt.Fprintf(a.out, "%s, looking %s: %s\n", plug, facing, strings.Join(lookWords(&l), ", "))
		for _, line := range unmeasured(&l) {
			fmt.Fprintf(a.out, "    could not measure %s\n", line)
		}
		if saved != "" {
			fmt.Fprintf(a.out, "saved as %s\n", saved)
		} else {
			fmt.Fprintln(a.out, "not saved: give a folder with --save to diagnose it later")
		}
	}
	if !measuredAnything(&l) {
		return finish(exitCannotTest)
	}
	return nil
}

// takeLook looks through the port and returns what it saw.
func (a *app) takeLook(ctx context.Context, port ddc.Port, plug chain.Plug, reads int) chain.Look {
	ctx, cancel := context.WithTimeout(ctx, lookTime)
	defer cancel()
	l := chain.Look{
		Version: chain.LookVersion, Plug: plug.String(), Facing: facingOf(port), Port: port.Info().ID,
		TakenAt: time.Now().UTC().Format(time.RFC3339), Tool: "deadhop " + version,
	}
	switch p := port.(type) {
	case ddc.In:
		seen := p.LookUp(ctx, ddc.UpOptions{Settle: settleTime})
		l.Up = upReadings(seen)
		l.Presented.EDIDSHA256 = reading(seen.Presented, hashOf)
		// A receiver holds hot-plug high exactly while it shows an EDID.
		l.Presented.HotPlug = reading(seen.Presented, func(b []byte) bool { return len(b) > 0 })
	case ddc.Out:
		seen := p.LookDown(ctx, ddc.DownOptions{Reads: reads})
		a.logAttempts(seen)
		l.Down = downReadings(seen)
		l.Presented.Power5V = reading(seen.Supplies5V, same[bool])
	}
	return l
}

func facingOf(p ddc.Port) chain.Facing {
	if p.Info().Kind == ddc.InPort {
		return chain.Up
	}
	return chain.Down
}

// facingFilter keeps the ports that can look that way; "" keeps all.
func facingFilter(facing string) func(ddc.Port) bool {
	if facing == "" {
		return nil
	}
	return func(p ddc.Port) bool { return string(facingOf(p)) == facing }
}

// connectSim has the simulated bench's hand put the bench into the plug.
func connectSim(b *sim.Bench, plug chain.Plug, facing chain.Facing) error {
	return badInput(b.Connect(plug.String(), string(facing)))
}

func lookWords(l *chain.Look) []string {
	if l.Up != nil {
		return upWords(l.Up)
	}
	return downWords(l.Down)
}

func measuredAnything(l *chain.Look) bool {
	if u := l.Up; u != nil {
		return u.Power5V.State == chain.Measured || u.Signal.State == chain.Measured ||
			u.Timing.State == chain.Measured || u.Picture.State == chain.Measured || u.Sound.State == chain.Measured
	}
	d := l.Down
	return d.HotPlug.State == chain.Measured || d.Ack.State == chain.Measured || d.EDID.State == chain.Measured ||
		d.RxSense.State == chain.Measured || d.Connector.State == chain.Measured || d.KernelEDID.State == chain.Measured
}

// unmeasured lists what was tried and could not be measured, with the reason.
func unmeasured(l *chain.Look) []string {
	var out []string
	if u := l.Up; u != nil {
		out = because(out, "+5 V", u.Power5V)
		out = because(out, "lock", u.Signal)
		out = because(out, "timing", u.Timing)
		out = because(out, "picture", u.Picture)
		out = because(out, "sound", u.Sound)
	}
	if d := l.Down; d != nil {
		out = because(out, "hot-plug", d.HotPlug)
		out = because(out, "DDC acknowledge", d.Ack)
		out = because(out, "EDID", d.EDID)
		out = because(out, "termination", d.RxSense)
		out = because(out, "connector status", d.Connector)
		out = because(out, "the kernel's EDID", d.KernelEDID)
	}
	return out
}

func because[T any](out []string, what string, r chain.Reading[T]) []string {
	// What a port cannot observe at all is told by `deadhop ports`, and what a
	// failed rung above hides is told by that rung.
	if r.State != chain.CouldNotRead || r.Failure == chain.FailUnsupported || r.Failure == chain.FailBlocked {
		return out
	}
	return append(out, what+": "+why(r))
}

package main

import (
	"context"
	"errors"
	"fmt"
	"strings"

	"github.com/spf13/cobra"

	"deadhop/chain"
	"deadhop/ddc"
)

type guideOptions struct {
	chainFile, catalogue, save string
	in, out                    string
	saw                        []string
	byHand                     bool
}

// cautions stand before the first plug is touched.
const cautions = `Before you open anything: isolate the unit from the mains and let stored charge
run down; backlight inverters carry high voltage; wear a wrist strap; never plug
or pull a panel cable while it is fed; power is plugged last. Local codes and a
licensed person decide what you may do.`

func newGuide(a *app) *cobra.Command {
	var o guideOptions
	cmd := &cobra.Command{
		Use:   "guide",
		Short: "Ask for one plug after another until the hop is named",
		Long: `Walks you to the fault: it asks for one plug at a time, sees it arrive, looks,
and goes on until it can name the hop where the signal dies, the suspects and
the next step. Questions that only a person can answer take one key and Enter.
With --save every look is on disk before the next is asked for, and a run that
was broken off goes on from there.

On a simulated bench (--bench) the bench plugs itself in and answers for the
technician, unless --by-hand is given.`,
		Example: `  deadhop guide --chain board.yaml --save job-0412/
  deadhop guide --chain board.yaml --in in:video0 --out out:HDMI-A-1
  deadhop guide --chain testdata/chains/platform-2.yaml --bench testdata/sim/platform-2.yaml`,
		Args: exactly(),
		RunE: func(cmd *cobra.Command, _ []string) error {
			return a.guide(cmd.Context(), o)
		},
	}
	f := cmd.Flags()
	f.StringVar(&o.chainFile, "chain", "", "chain file of the equipment")
	f.StringVar(&o.catalogue, "faults", "", "a fault catalogue of your own, on top of the built-in one")
	f.StringVar(&o.save, "save", "", "folder for the looks; what it holds already counts")
	f.StringVar(&o.in, "in", "", "receiver to look up with")
	f.StringVar(&o.out, "out", "", "output or bus to look down with")
	f.StringArrayVar(&o.saw, "saw", nil, "something already found by hand (see: deadhop diagnose --help)")
	f.BoolVar(&o.byHand, "by-hand", false, "on a simulated bench, let me answer and press Enter myself")
	jsonFlag(a, f)
	return cmd
}

// guided is one guided run.
type guided struct {
	a     *app
	o     guideOptions
	c     *equipment
	cat   *chain.Catalogue
	ev    chain.Evidence
	bench ddc.Bench
	ports map[chain.Facing]ddc.Port
	hands hands
	// skipped holds the steps that cannot be done here.
	skipped map[string]bool
	taken   int
}

func (a *app) guide(ctx context.Context, o guideOptions) error {
	g := &guided{a: a, o: o, skipped: map[string]bool{}}
	var err error
	if g.c, err = loadChain(o.chainFile); err != nil {
		return err
	}
	if g.cat, err = loadCatalogue(o.catalogue); err != nil {
		return err
	}
	if err := g.begin(); err != nil {
		return err
	}
	bench, simulated, err := a.openBench(ctx)
	if err != nil {
		return err
	}
	defer bench.Close()
	g.bench = bench
	if err := g.choosePorts(ctx); err != nil {
		return err
	}
	if simulated != nil && !o.byHand {
		g.hands = &simHands{bench: simulated, say: g.sayf}
	} else {
		h, err := newPersonHands(ctx, a, bench)
		if err != nil {
			return err
		}
		h.simulated = simulated
		g.hands = h
	}
	report, err := g.run(ctx)
	if err != nil {
		if ctx.Err() != nil || errors.Is(err, errQuit) {
			g.sayf("\nStopped. %s", g.keptWords())
			return finish(exitInconclusive)
		}
		return err
	}
	if a.json {
		if err := a.printJSON(report); err != nil {
			return err
		}
	} else {
		fmt.Fprintln(a.out)
		a.printDiagnosis(report)
	}
	return finish(codeOfVerdict(report.Verdict))
}

// begin takes up what the folder holds and what was said to be known.
func (g *guided) begin() error {
	if g.o.save != "" {
		if _, err := evidenceFiles([]string{g.o.save}); err == nil {
			ev, err := loadEvidence([]string{g.o.save}, g.c.Chain, g.cat)
			if err != nil {
				return err
			}
			g.ev = ev
		}
	}
	for _, s := range g.o.saw {
		h, err := parseSaw(s, lastEpoch(g.ev))
		if err == nil {
			err = chain.Evidence{Checks: []chain.HandCheck{h}}.Validate(g.c.Chain, g.cat)
		}
		if err != nil {
			return &usageError{"deadhop guide", err}
		}
		g.ev.Checks = append(g.ev.Checks, h)
	}
	return nil
}

// choosePorts picks the port for each direction. One direction may be absent;
// a bench with neither cannot look at all.
func (g *guided) choosePorts(ctx context.Context) error {
	g.ports = map[chain.Facing]ddc.Port{}
	for _, want := range []struct {
		facing chain.Facing
		id     string
	}{{chain.Up, g.o.in}, {chain.Down, g.o.out}} {
		p, err := findPort(ctx, g.bench, want.id, facingFilter(string(want.facing)))
		switch {
		case err == nil:
			g.ports[want.facing] = p
		case want.id != "":
			return err
		default:
			g.sayf("Not looking %s: %v", want.facing, err)
		}
	}
	if len(g.ports) == 0 {
		return badInputf("this bench has no port to look with: `deadhop ports` lists what it has")
	}
	return nil
}

// run goes from step to step until the hop is named, nothing is left to do,
// or ctx ends.
func (g *guided) run(ctx context.Context) (*chain.Report, error) {
	g.intro()
	if err := g.intake(ctx); err != nil {
		return nil, err
	}
	for {
		report := chain.Diagnose(g.c.Chain, g.cat, g.ev)
		step := g.pick(&report)
		if g.finished(&report, step) {
			return &report, nil
		}
		g.sayf("")
		g.sayf("%d. %s", g.taken+1, step.Do)
		g.a.noteTo(g, step)
		var err error
		switch step.Kind {
		case chain.StepLook:
			err = g.lookStep(ctx, step)
		case chain.StepManual:
			err = g.askStep(ctx, step)
		case chain.StepRepair:
			err = g.repairStep(ctx, step)
		}
		if errors.Is(err, errSkip) {
			g.skipped[stepKey(step)] = true
			g.sayf("   left out")
			continue
		}
		if err != nil {
			return nil, err
		}
		g.taken++
	}
}

// intake asks what the unit itself shows, unless that is known: without a
// complaint every look would have to start from "is anything wrong at all?".
func (g *guided) intake(ctx context.Context) error {
	if len(g.ev.Looks)+len(g.ev.Checks)+len(g.ev.Actions) > 0 {
		return nil
	}
	step := chain.Step{Kind: chain.StepManual, Check: chain.CheckScreen}
	g.sayf("")
	g.sayf("First: what does the unit's own screen show of the picture, with all plugged in?")
	err := g.askStep(ctx, &step)
	if errors.Is(err, errSkip) {
		g.skipped[stepKey(&step)] = true
		g.sayf("   left out")
		return nil
	}
	return err
}

func (g *guided) intro() {
	var parts []string
	for i, s := range g.c.Stages {
		parts = append(parts, s.ID)
		if i < len(g.c.Links) {
			parts = append(parts, "-"+g.c.Links[i].ID+"-")
		}
	}
	if g.c.Equipment != "" {
		g.sayf("%s", g.c.Equipment)
	}
	g.sayf("%s", strings.Join(parts, " "))
	g.sayf("")
	g.sayf("%s", cautions)
	if n := len(g.ev.Looks) + len(g.ev.Checks) + len(g.ev.Actions); n > 0 {
		g.sayf("")
		g.sayf("Going on from %d findings taken before.", n)
	}
}

// finished reports whether the run has its answer.
func (g *guided) finished(r *chain.Report, step *chain.Step) bool {
	switch {
	case step == nil, step.Kind == chain.StepClose:
		return true
	case r.Verdict == chain.Healthy:
		return true
	}
	return r.Verdict == chain.FaultFound && r.Hop != nil && step.Kind == chain.StepRepair
}

// worthAsking is the least that a look or a check must be expected to tell,
// in bits, to be asked for before a repair is tried.
const worthAsking = 0.03

// pick is the best step that can be done here, nil where none is left. Until
// the hop is named, what tells something goes before what changes something,
// though a repair may be cheaper: a swap destroys evidence.
func (g *guided) pick(r *chain.Report) *chain.Step {
	var best *chain.Step
	for i := range r.Next {
		s := &r.Next[i]
		if s.Kind == chain.StepLook && g.ports[s.Facing] == nil || g.skipped[stepKey(s)] {
			continue
		}
		if best == nil {
			best = s
		}
		tells := (s.Kind == chain.StepLook || s.Kind == chain.StepManual) && s.Gain >= worthAsking
		if r.Hop == nil && tells {
			return s
		}
	}
	return best
}

func stepKey(s *chain.Step) string {
	return strings.Join([]string{string(s.Kind), s.Plug, string(s.Facing), string(s.Check), s.At, s.Repair, s.Part}, "|")
}

func (g *guided) lookStep(ctx context.Context, step *chain.Step) error {
	plug, err := g.c.Plug(step.Plug)
	if err != nil {
		return err
	}
	port := g.ports[step.Facing]
	if in, ok := port.(ddc.In); ok {
		if err := g.a.present(ctx, in, g.c.expectedEDID(plug)); err != nil {
			g.sayf("   %s cannot show the scaler's EDID: %v", port.Info().ID, err)
		}
	}
	if err := g.hands.plugIn(ctx, port, plug, step.Facing); err != nil {
		return err
	}
	l := g.a.takeLook(ctx, port, plug, 2)
	if ctx.Err() != nil {
		return ctx.Err()
	}
	l.Epoch = lastEpoch(g.ev)
	if g.o.save != "" {
		if _, err := saveLook(g.o.save, &l); err != nil {
			return err
		}
	}
	g.sayf("   seen: %s", strings.Join(lookWords(&l), ", "))
	g.ev.Looks = append(g.ev.Looks, l)
	if !measuredAnything(&l) {
		g.skipped[stepKey(step)] = true
	}
	return nil
}

func (g *guided) askStep(ctx context.Context, step *chain.Step) error {
	h := chain.HandCheck{Kind: step.Check, At: step.At, Epoch: lastEpoch(g.ev)}
	if err := g.hands.answer(ctx, &h); err != nil {
		return err
	}
	if err := (chain.Evidence{Checks: []chain.HandCheck{h}}).Validate(g.c.Chain, g.cat); err != nil {
		return err
	}
	if g.o.save != "" {
		if _, err := saveNote(g.o.save, &note{Check: &h, TakenAt: now()}); err != nil {
			return err
		}
	}
	g.ev.Checks = append(g.ev.Checks, h)
	return nil
}

func (g *guided) repairStep(ctx context.Context, step *chain.Step) error {
	act := chain.Action{Epoch: lastEpoch(g.ev) + 1, Part: step.Part, Repair: step.Repair}
	works, err := g.hands.repair(ctx, step)
	if err != nil {
		return err
	}
	act.Outcome = works
	if g.o.save != "" {
		if _, err := saveNote(g.o.save, &note{Action: &act, TakenAt: now()}); err != nil {
			return err
		}
	}
	g.ev.Actions = append(g.ev.Actions, act)
	return nil
}

// sayf is talk, which goes to standard error where the result is JSON.
func (g *guided) sayf(format string, args ...any) {
	w := g.a.out
	if g.a.json {
		w = g.a.err
	}
	fmt.Fprintf(w, format+"\n", args...)
}

func (g *guided) keptWords() string {
	if g.o.save == "" {
		return "Nothing was saved; give a folder with --save to go on later."
	}
	return fmt.Sprintf("What was found is in %s; the same command goes on from there.", g.o.save)
}

// noteTo says why a step is next and what to mind.
func (a *app) noteTo(g *guided, s *chain.Step) {
	if s.Why != "" {
		for _, line := range wrap("Why: "+s.Why, 74) {
			g.sayf("   %s", line)
		}
	}
	for _, c := range s.Cautions {
		for _, line := range wrap("CAUTION: "+c, 74) {
			g.sayf("   %s", line)
		}
	}
}

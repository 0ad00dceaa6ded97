package main

import (
	"context"
	"fmt"
	"os"

	"github.com/spf13/cobra"

	"deadhop/chain"
)

type diagnoseOptions struct {
	chainFile, catalogue string
	saw                  []string
}

func newDiagnose(a *app) *cobra.Command {
	var o diagnoseOptions
	cmd := &cobra.Command{
		Use:   "diagnose [LOOK|FOLDER ...]",
		Short: "Name the hop where the signal dies from saved looks",
		Long: `Draws the conclusion from looks that were saved: where the signal dies, which
parts are suspect in which order and why, and what to do next. Needs no
hardware. What was found by hand counts too, with --saw:

  indicators@STAGE=lit|dark      the stage's lamps
  supply@RAIL=VOLTS              a supply, measured at the board
  menu=shows|missing             the scaler's own menu on the unit's screen
  backlight=lit|dark             the unit's backlight
  torch=picture|nothing          a faint picture by torch, where there is no light
  screen=good|black|lines|white  what the unit's screen shows
  speaker=sound|silent           the unit's loudspeaker
  display@PLUG=picture|nothing   a known-good display at a plug
  wiggle@PART=comes|no-change    moving a plug or cable brings the fault
  temperature=cold|warm|no-difference
  moved=yes|no                   the unit was moved before it failed`,
		Example: `  deadhop diagnose --chain board.yaml looks/
  deadhop diagnose --chain board.yaml looks/ --saw menu=shows --saw display@c2.display=picture
  deadhop diagnose --chain board.yaml --json looks/`,
		RunE: func(cmd *cobra.Command, args []string) error {
			return a.diagnose(cmd.Context(), args, o)
		},
	}
	f := cmd.Flags()
	f.StringVar(&o.chainFile, "chain", "", "chain file of the equipment")
	f.StringVar(&o.catalogue, "faults", "", "a fault catalogue of your own, on top of the built-in one")
	f.StringArrayVar(&o.saw, "saw", nil, "something found by hand, CHECK[@PLACE]=ANSWER (may be repeated)")
	jsonFlag(a, f)
	return cmd
}

func loadCatalogue(path string) (*chain.Catalogue, error) {
	base, err := chain.DefaultCatalogue()
	if err != nil || path == "" {
		return base, err
	}
	data, err := os.ReadFile(path)
	if err != nil {
		return nil, badInputf("cannot read the fault catalogue: %w", err)
	}
	cat, err := chain.ParseCatalogue(path, data, base)
	return cat, badInput(err)
}

func (a *app) diagnose(_ context.Context, paths []string, o diagnoseOptions) error {
	c, err := loadChain(o.chainFile)
	if err != nil {
		return err
	}
	cat, err := loadCatalogue(o.catalogue)
	if err != nil {
		return err
	}
	ev, err := loadEvidence(paths, c.Chain, cat)
	if err != nil {
		return err
	}
	for _, s := range o.saw {
		h, err := parseSaw(s, lastEpoch(ev))
		if err != nil {
			return &usageError{"deadhop diagnose", err}
		}
		if err := (chain.Evidence{Checks: []chain.HandCheck{h}}).Validate(c.Chain, cat); err != nil {
			return &usageError{"deadhop diagnose", fmt.Errorf("--saw %q: %w", s, err)}
		}
		ev.Checks = append(ev.Checks, h)
	}
	report := chain.Diagnose(c.Chain, cat, ev)
	if a.json {
		if err := a.printJSON(report); err != nil {
			return err
		}
	} else {
		a.printDiagnosis(&report)
	}
	return finish(codeOfVerdict(report.Verdict))
}

func codeOfVerdict(v chain.Verdict) exitCode {
	switch v {
	case chain.Healthy:
		return exitPass
	case chain.FaultFound:
		return exitFault
	}
	return exitInconclusive
}

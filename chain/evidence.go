package chain

import (
	"fmt"
	"math"
	"slices"
	"sort"
	"strings"
)

// CheckKind is something that a person finds out by hand.
type CheckKind string

const (
	CheckIndicators  CheckKind = "indicators"  // at a stage: lit, dark
	CheckSupply      CheckKind = "supply"      // at a rail: volts
	CheckBacklight   CheckKind = "backlight"   // lit, dark
	CheckTorch       CheckKind = "torch"       // picture, nothing
	CheckMenu        CheckKind = "menu"        // shows, missing
	CheckScreen      CheckKind = "screen"      // the unit's own: good, black, lines, white
	CheckSpeaker     CheckKind = "speaker"     // the unit's own: sound, silent
	CheckDisplay     CheckKind = "display"     // a known-good display at a plug: picture, nothing
	CheckWiggle      CheckKind = "wiggle"      // at a plug, link or stage: comes, no-change
	CheckTemperature CheckKind = "temperature" // cold, warm, no-difference
	CheckMoved       CheckKind = "moved"       // yes, no
)

// answers that each kind of check knows.
var checkAnswers = map[CheckKind][]string{
	CheckIndicators: {"lit", "dark"}, CheckSupply: {}, CheckBacklight: {"lit", "dark"},
	CheckTorch: {"picture", "nothing"}, CheckMenu: {"shows", "missing"},
	CheckScreen: {"good", "black", "lines", "white"}, CheckSpeaker: {"sound", "silent"},
	CheckDisplay: {"picture", "nothing"}, CheckWiggle: {"comes", "no-change"},
	CheckTemperature: {"cold", "warm", "no-difference"}, CheckMoved: {"yes", "no"},
}

// HandCheck is one finding made by hand. It stands equal with a look.
type HandCheck struct {
	Kind   CheckKind `json:"kind"`
	At     string    `json:"at,omitempty"` // stage, rail, plug or link, as the kind asks
	Answer string    `json:"answer,omitempty"`
	Volts  float64   `json:"volts,omitempty"` // supply only
	Meter  string    `json:"meter,omitempty"`
	Epoch  int       `json:"epoch"`
	// For a known-good display: what was made sure of. Each that was not
	// gives a black screen a chance of its own.
	InputSelected  Reading[bool] `json:"input_selected"`
	CableProven    Reading[bool] `json:"cable_proven"`
	TimingAccepted Reading[bool] `json:"timing_accepted"` // the display can take what the source sends
}

// Outcome is what came of a repair.
type Outcome string

const (
	NotChecked Outcome = ""
	Works      Outcome = "works"
	StillBad   Outcome = "still-bad"
)

// Soak is the Repair of an Action that repairs nothing: the unit runs, cold
// and warm, until it is known whether anything is wrong at all.
const Soak = "soak"

// Action is a reseat, swap or reset that was done. It opens the epoch that it
// names: looks of earlier epochs speak of the state before it.
type Action struct {
	Epoch   int     `json:"epoch"`
	Part    string  `json:"part"`
	Repair  string  `json:"repair"` // id in the catalogue
	Outcome Outcome `json:"outcome,omitempty"`
}

// Evidence is everything that is known of a job.
type Evidence struct {
	Looks   []Look      `json:"looks"`
	Checks  []HandCheck `json:"checks,omitempty"`
	Actions []Action    `json:"actions,omitempty"`
}

// Validate reports the first piece of evidence that cannot be of this chain.
func (ev Evidence) Validate(c *Chain, cat *Catalogue) error {
	for i := range ev.Looks {
		if err := ev.Looks[i].Fits(c); err != nil {
			return fmt.Errorf("look %d: %w", i+1, err)
		}
	}
	for i := range ev.Checks {
		if err := ev.Checks[i].fits(c); err != nil {
			return fmt.Errorf("check %d: %w", i+1, err)
		}
	}
	parts := c.Parts()
	for i, a := range ev.Actions {
		if a.Repair == Soak && a.Part == "" {
			continue
		}
		if !slices.ContainsFunc(parts, func(p Part) bool { return p.ID == a.Part }) {
			return fmt.Errorf("action %d: unknown part %q", i+1, a.Part)
		}
		if cat.repair(a.Repair) == nil {
			return fmt.Errorf("action %d: unknown repair %q", i+1, a.Repair)
		}
	}
	return nil
}

func (h *HandCheck) fits(c *Chain) error {
	words, ok := checkAnswers[h.Kind]
	if !ok {
		var known []string
		for k := range checkAnswers {
			known = append(known, string(k))
		}
		sort.Strings(known)
		return fmt.Errorf("unknown check %q: use %s", h.Kind, strings.Join(known, ", "))
	}
	switch h.Kind {
	case CheckIndicators:
		if c.stageIndex(h.At) < 0 {
			return fmt.Errorf("indicators: unknown stage %q", h.At)
		}
	case CheckSupply:
		if c.railIndex(strings.TrimPrefix(h.At, "rail:")) < 0 {
			return fmt.Errorf("supply: unknown rail %q", h.At)
		}
		if math.IsNaN(h.Volts) || math.IsInf(h.Volts, 0) {
			return fmt.Errorf("supply: %g is no voltage", h.Volts)
		}
		return nil
	case CheckDisplay:
		if _, err := c.Plug(h.At); err != nil {
			return fmt.Errorf("display: %w", err)
		}
	case CheckWiggle:
		if c.partPlace(h.At) < 0 {
			return fmt.Errorf("wiggle: unknown part %q", h.At)
		}
	}
	if !slices.Contains(words, h.Answer) {
		return fmt.Errorf("%s: unknown answer %q: use %s", h.Kind, h.Answer, strings.Join(words, ", "))
	}
	return nil
}

// partPlace is the place of a stage, link or plug, -1 for anything else.
func (c *Chain) partPlace(id string) int {
	for _, p := range c.Parts() {
		if p.ID == id {
			return p.At
		}
	}
	return -1
}

package chain

import "fmt"

// Cautions that more than one step needs. Common practice, no source.
const (
	cautionStatic = "Static: wear the wrist strap and touch metal first."
	cautionMains  = "Mains and stored charge: only a person allowed to works inside with power on."
	cautionLaw    = "Local codes and a licensed person decide."
)

// possibleSteps lists every look and check that is still open in this epoch.
func (b *belief) possibleSteps(ev Evidence) []possible {
	c, epoch := b.c, ev.lastEpoch()
	can := learnAbilities(ev)
	looked := map[string]bool{}
	for i := range ev.Looks {
		if l := &ev.Looks[i]; l.Epoch == epoch {
			looked[l.Plug+string(l.Facing)] = true
		}
	}
	asked := map[string]bool{}
	for _, h := range ev.Checks {
		if h.Epoch == epoch {
			asked[string(h.Kind)+h.At] = true
		}
	}
	cost := func(k string) float64 { return b.cat.Costs[k].V }
	var out []possible
	for i, l := range c.Links {
		if l.Kind != HDMI {
			continue
		}
		for _, end := range []End{SourceEnd, DisplayEnd} {
			p := Plug{l.ID, end}
			minutes := cost("look")
			if c.place(p) != b.at {
				minutes += cost("move")
			}
			for _, f := range []Facing{Up, Down} {
				if looked[p.String()+string(f)] {
					continue
				}
				s := possible{minutes: minutes, access: len(c.Stages) + i,
					step: Step{Kind: StepLook, Plug: p.String(), Facing: f, Cautions: []string{cautionStatic},
						Do: fmt.Sprintf("Open %s (%s) and look %s.", p, c.Where(p), f)}}
				if f == Up {
					s.outcomes = c.upOutcomes(p, epoch, can)
				} else {
					s.outcomes = c.downOutcomes(p, epoch, can)
				}
				out = append(out, s)
			}
		}
	}
	hand := func(kind CheckKind, at, do string, r rung, good, bad string, base *observation, access int, cautions ...string) {
		if asked[string(kind)+at] {
			return
		}
		minutes := cost("hand")
		switch kind {
		case CheckSupply:
			minutes = cost("measure")
		case CheckTemperature:
			minutes = cost("temperature")
		}
		out = append(out, possible{minutes: minutes, access: access, outcomes: binary(base, r, good, bad),
			step: Step{Kind: StepManual, Check: kind, At: at, Do: do, Cautions: cautions}})
	}
	for i, s := range c.Stages {
		if s.Kind == Panel {
			continue
		}
		base := newObservation(epoch)
		base.at = stagePlace(i)
		hand(CheckIndicators, s.ID, "See whether the indicators of "+s.title()+" are lit.", handIndicator, "lit", "dark", base, -1)
	}
	for i, r := range c.Rails {
		base := newObservation(epoch)
		base.rail = i
		hand(CheckSupply, r.ID, fmt.Sprintf("Measure supply %s at the board, loaded: %.4g to %.4g V.", r.ID, r.Volts*(1-r.Tolerance), r.Volts*(1+r.Tolerance)),
			handSupply, "inside its limits", "outside its limits", base, -1, cautionMains, cautionLaw)
	}
	check := func(h HandCheck, minutes float64, access int, do, good string, answers ...string) {
		if asked[string(h.Kind)+h.At] {
			return
		}
		s := possible{minutes: minutes, access: access, step: Step{Kind: StepManual, Check: h.Kind, At: h.At, Do: do}}
		for _, a := range answers {
			h.Answer, h.Epoch = a, epoch
			s.outcomes = append(s.outcomes, outcome{a, a != good, []*observation{c.observeCheck(&h, b.cat)}})
		}
		out = append(out, s)
	}
	check(HandCheck{Kind: CheckScreen}, cost("hand"), -1, "See what the unit's own screen shows.", "good", "good", "black", "lines", "white")
	if c.soundExpected() {
		check(HandCheck{Kind: CheckSpeaker}, cost("hand"), -1, "Listen to the unit's own speaker.", "sound", "sound", "silent")
	}
	yes := Reading[bool]{State: Measured, Value: true}
	for i, l := range c.Links {
		if l.Kind != HDMI {
			continue
		}
		p := Plug{l.ID, DisplayEnd}
		check(HandCheck{Kind: CheckDisplay, At: p.String(), InputSelected: yes, CableProven: yes, TimingAccepted: yes}, cost("display"), len(c.Stages)+i,
			fmt.Sprintf("Feed a known-good display from %s (%s), its input selected and its cable proven.", p, c.Where(p)), "picture", "picture", "nothing")
	}
	unit := newObservation(epoch)
	hand(CheckBacklight, "", "See whether the backlight is lit.", handLight, "lit", "dark", unit, -1)
	hand(CheckTorch, "", "Shine a torch at the screen: does a faint picture show?", handTorch, "nothing", "a faint picture", unit, -1)
	hand(CheckMenu, "", "Call up the scaler's own menu.", handMenu, "it shows", "it is missing", unit, -1)
	hand(CheckTemperature, "", "Find out whether it fails cold and works warm.", handCold, "no difference", "fails cold", unit, -1)
	for _, p := range b.parts {
		if p.Kind != PartPlug {
			continue
		}
		base := newObservation(epoch)
		base.at = p.At
		hand(CheckWiggle, p.ID, "Move "+p.Name+" gently while watching, without unplugging it.", handWiggle, "no change", "the trouble comes and goes", base, b.accessOf(&p))
	}
	return out
}

// accessOf numbers the place that a part is reached at: stages first, then
// links; -1 for what needs none.
func (b *belief) accessOf(p *Part) int {
	if p.Kind == PartLead || p.Kind == PartRail || p.Kind == PartSetting {
		return -1
	}
	if p.Kind == PartStage {
		return p.At / 4
	}
	return len(b.c.Stages) + p.At/4
}

// accessCosts is the price of each place, 0 where it was opened already: a
// look at a plug opens its link.
func (b *belief) accessCosts(ev Evidence) []float64 {
	c := b.c
	out := make([]float64, len(c.Stages)+len(c.Links))
	for i, s := range c.Stages {
		out[i] = s.Access
	}
	for i, l := range c.Links {
		out[len(c.Stages)+i] = l.Access
	}
	for i := range ev.Looks {
		p, _ := c.Plug(ev.Looks[i].Plug)
		out[len(c.Stages)+c.linkIndex(p.Link)] = 0
	}
	for _, a := range ev.Actions {
		for i := range b.parts {
			if p := &b.parts[i]; p.ID == a.Part && b.accessOf(p) >= 0 {
				out[b.accessOf(p)] = 0
			}
		}
	}
	return out
}

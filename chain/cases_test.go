package chain

import (
	"math/rand/v2"

	"deadhop/edid/timing"
)

// This file is the physics of made-up cases. It is written apart from the
// inference: a signal walks along the path segment by segment and is spoilt on
// its way, and a request walks down it. Only the numbers of the catalogue are
// shared.

// fault is one mode on one part, with everything drawn that stays as it is
// for the whole job.
type fault struct {
	part   Part
	mode   *Mode
	does   [rungCount]bool // the variant: which readings it spoils when it shows
	half   bool            // of a plug: the damage is on the cable's half
	on     bool
	weight float64
}

// caseSim is one unit with its hidden faults and the bench at one plug.
type caseSim struct {
	c      *Chain
	cat    *Catalogue
	rng    *rand.Rand
	faults []fault
	at     int
	begun  bool
}

// everyFault lists all faults that the chain can have, undrawn.
func everyFault(c *Chain, cat *Catalogue) []fault {
	var all []fault
	for _, p := range c.Parts() {
		for i := range cat.Modes {
			m := &cat.Modes[i]
			if m.Part == p.Class && (m.ID != "scaler-audio" || c.soundExpected()) {
				all = append(all, fault{part: p, mode: m, weight: m.Prior.V})
			}
		}
	}
	return all
}

func drawCase(c *Chain, cat *Catalogue, rng *rand.Rand, count int) *caseSim {
	s := &caseSim{c: c, cat: cat, rng: rng, at: -1}
	all := everyFault(c, cat)
	for len(s.faults) < count {
		total := 0.0
		for _, f := range all {
			total += f.weight
		}
		x := rng.Float64() * total
		for i := range all {
			if x -= all[i].weight; x < 0 {
				f := all[i]
				for r := range f.does {
					f.does[r] = rng.Float64() < f.mode.Effect[r]
				}
				f.half = rng.Float64() < 0.5
				s.faults = append(s.faults, f)
				all = append(all[:i], all[i+1:]...)
				break
			}
		}
	}
	return s
}

// touch lets intermittent faults change as a person works on the unit.
func (s *caseSim) touch(place int) {
	for i := range s.faults {
		f := &s.faults[i]
		shows := f.mode.Shows.V
		switch {
		case shows >= 1:
			f.on = true
		case !s.begun:
			f.on = s.rng.Float64() < shows
		case place < 0 || place == s.at:
		case f.part.Kind == PartPlug && (f.part.At == place || f.part.At == s.at):
			f.on = s.rng.Float64() < shows
		case s.rng.Float64() >= f.mode.Keeps.V:
			f.on = s.rng.Float64() < shows
		}
	}
	s.begun = true
	if place >= 0 {
		s.at = place
	}
}

func (s *caseSim) stir() { s.begun = false }

// standingAt lists the faults that act at a place now, with supplies and
// settings.
func (s *caseSim) standingAt(place int) []*fault {
	var fs []*fault
	for i := range s.faults {
		f := &s.faults[i]
		hit := f.part.At == place
		for _, fed := range f.part.Feeds {
			hit = hit || fed == place
		}
		if hit && f.on {
			fs = append(fs, f)
		}
	}
	return fs
}

func (s *caseSim) leads() []*fault {
	var fs []*fault
	for i := range s.faults {
		if f := &s.faults[i]; f.part.Kind == PartLead && f.on {
			fs = append(fs, f)
		}
	}
	return fs
}

// signal is what travels towards the panel.
type signal struct{ spoilt [rungCount]bool }

func (g *signal) through(fs []*fault) {
	for _, f := range fs {
		for r := upPower; r <= upSilent; r++ {
			g.spoilt[r] = g.spoilt[r] || f.does[r]
		}
	}
}

// misread gives what a reading says where the truth is known.
func (s *caseSim) misread(r rung, bad bool) bool {
	if bad {
		return s.rng.Float64() >= s.cat.FalseGood[r]
	}
	return s.rng.Float64() < s.cat.FalseBad[r]
}

func (s *caseSim) walkUp(place int, lead bool) signal {
	var g signal
	for p := 0; p <= place; p++ {
		if p%4 == 0 && p > 0 && p < place {
			g.spoilt[upPower] = false // an active stage makes its own +5 V
			if s.rng.Float64() < 0.5 {
				g.spoilt[upNoise] = false
			}
		}
		for _, f := range s.standingAt(p) {
			if p == place && !f.half {
				continue // the bench sits on the sound half
			}
			g.through([]*fault{f})
		}
	}
	if lead {
		g.through(s.leads())
	}
	return g
}

func (s *caseSim) lookUp(p Plug, good timing.Timing) Look {
	place := s.c.place(p)
	s.touch(place)
	g := s.walkUp(place, true)
	u := &UpReadings{Power5V: got(!s.misread(upPower, g.spoilt[upPower]))}
	l := Look{Version: LookVersion, Plug: p.String(), Facing: Up, Presented: Presented{HotPlug: got(true)}, Up: u}
	for _, x := range []struct {
		r rung
		s Signal
	}{{upNone, SignalNone}, {upNoLock, SignalNoLock}, {upRange, SignalOutOfRange}} {
		if s.misread(x.r, g.spoilt[x.r]) {
			u.Signal = got(x.s)
			return l
		}
	}
	u.Signal = got(SignalLocked)
	e := s.c.Expected(p)
	t := good
	switch {
	case e != nil && e.HasLimits && s.misread(upOutside, g.spoilt[upOutside]):
		t.PixelClock = timing.Hz(400_000_000)
	case e != nil && e.HasTiming && s.misread(upOther, g.spoilt[upOther]):
		t.H.Back += 8
	}
	u.Timing = got(t)
	u.Picture = got(PictureGood)
	for _, x := range []struct {
		r rung
		p Picture
	}{{upBlack, PictureBlack}, {upNoise, PictureNoise}, {upLane, PictureLaneGone}} {
		if s.misread(x.r, g.spoilt[x.r]) {
			u.Picture = got(x.p)
			break
		}
	}
	return l
}

func (s *caseSim) lookDown(p Plug) Look {
	place, link := s.c.place(p), s.c.linkIndex(p.Link)
	s.touch(place)
	var bad [rungCount]bool
	hotPlug, ddc := true, true // the request still travels on this line
	for q := place; q <= s.c.end(); q++ {
		for _, f := range s.standingAt(q) {
			if q == place && f.half {
				continue // the bench sits on the cable's half
			}
			// What the lines meet decides what can be spoilt.
			for r := downPower; r <= downSense; r++ {
				switch r {
				case downPlug:
					bad[r] = bad[r] || hotPlug && f.does[r]
				case downSense:
					bad[r] = bad[r] || q <= stagePlace(link+1) && f.does[r]
				default:
					bad[r] = bad[r] || ddc && f.does[r]
				}
			}
		}
		if q%4 == 0 && q > place {
			hotPlug = hotPlug && s.c.Stages[q/4].HotPlug != Answers
			ddc = ddc && s.c.Stages[q/4].DDC != Answers
		}
	}
	for _, f := range s.leads() {
		for r := downPower; r <= downSense; r++ {
			bad[r] = bad[r] || f.does[r]
		}
	}
	if bad[downPower] {
		bad[downPlug], bad[downAck] = true, true
	}
	d := &DownReadings{HotPlug: got(!s.misread(downPlug, bad[downPlug])), RxSense: got(!s.misread(downSense, bad[downSense]))}
	l := Look{Version: LookVersion, Plug: p.String(), Facing: Down, Presented: Presented{Power5V: got(true)}, Down: d}
	d.Ack = got(!s.misread(downAck, bad[downAck]))
	if !d.Ack.Value {
		return l
	}
	d.Stable = got(!s.misread(downBus, bad[downBus]))
	if !d.Stable.Value {
		return l
	}
	e := EDIDReading{ChecksumsGood: !s.misread(downSum, bad[downSum]), SHA256: s.c.ExpectedEDID(p)}
	if e.ChecksumsGood && e.SHA256 != "" && s.misread(downID, bad[downID]) {
		e.SHA256 = "other"
	}
	d.EDID = got(e)
	return l
}

// hand answers a check.
func (s *caseSim) hand(kind CheckKind, at string) HandCheck {
	place := -1
	if kind == CheckDisplay {
		p, _ := s.c.Plug(at)
		place = s.c.place(p)
	}
	s.touch(place)
	h := HandCheck{Kind: kind, At: at}
	any := func(r rung, sits func(*fault) bool) bool {
		bad := false
		for i := range s.faults {
			f := &s.faults[i]
			bad = bad || f.on && f.does[r] && sits(f)
		}
		return s.misread(r, bad)
	}
	pick := func(bad bool, b, g string) {
		h.Answer = g
		if bad {
			h.Answer = b
		}
	}
	lit := func(f *fault) bool { // a supply matters here where it feeds scaler or panel
		if f.part.Kind != PartRail {
			return true
		}
		for _, p := range f.part.Feeds {
			if k := s.c.Stages[p/4].Kind; k == Scaler || k == Panel {
				return true
			}
		}
		return false
	}
	switch kind {
	case CheckIndicators:
		place := stagePlace(s.c.stageIndex(at))
		pick(any(handIndicator, func(f *fault) bool {
			for _, p := range f.part.Feeds {
				if p == place {
					return true
				}
			}
			return f.part.At == place && f.part.Kind == PartStage
		}), "dark", "lit")
	case CheckSupply:
		r := s.c.Rails[s.c.railIndex(at)]
		h.Volts = r.Volts
		if any(handSupply, func(f *fault) bool { return f.part.ID == "rail:"+at }) {
			h.Volts = 0
		}
	case CheckBacklight:
		pick(any(handLight, lit), "dark", "lit")
	case CheckTorch:
		pick(any(handTorch, lit), "picture", "nothing")
	case CheckMenu:
		pick(any(handMenu, lit), "missing", "shows")
	case CheckScreen:
		s.screen(&h, lit)
	case CheckDisplay:
		p, _ := s.c.Plug(at)
		yes := got(true)
		h.InputSelected, h.CableProven, h.TimingAccepted = yes, yes, yes
		g := s.walkUp(s.c.place(p), false)
		h.Answer = "picture"
		for _, r := range []rung{upNone, upNoLock, upRange, upOutside, upBlack, upColour, upFrozen, upNoise, upLane} {
			if s.misread(r, g.spoilt[r]) {
				h.Answer = "nothing"
			}
		}
	case CheckSpeaker:
		bad := false
		for i := range s.faults {
			f := &s.faults[i]
			for _, r := range []rung{upNone, upNoLock, upRange, upSilent} {
				bad = bad || f.on && f.does[r] && f.part.Kind != PartLead
			}
			bad = bad || f.on && f.does[handSilent] && lit(f)
		}
		pick(s.misread(handSilent, bad), "silent", "sound")
	case CheckTemperature:
		pick(any(handCold, func(*fault) bool { return true }), "cold", "no-difference")
	case CheckWiggle:
		place := s.c.partPlace(at)
		pick(any(handWiggle, func(f *fault) bool {
			return f.part.At >= 0 && f.part.Kind != PartSetting && f.part.At-place <= 1 && place-f.part.At <= 1
		}), "comes", "no-change")
	}
	return h
}

// screen is what the unit's own screen shows.
func (s *caseSim) screen(h *HandCheck, lit func(*fault) bool) {
	var lines, white, dark bool
	for i := range s.faults {
		f := &s.faults[i]
		if !f.on || f.part.Kind == PartLead {
			continue
		}
		lines = lines || f.does[handLines] && lit(f)
		white = white || f.does[handWhite] && lit(f)
		for _, r := range []rung{upNone, upNoLock, upRange, upOutside, upBlack, upColour, upFrozen, upNoise, upLane, handLight, handMenu, handScreen} {
			dark = dark || f.does[r]
		}
		dark = dark || f.does[upOther] && s.rng.Float64() < 0.15
	}
	switch {
	case s.misread(handLines, lines):
		h.Answer = "lines"
	case s.misread(handWhite, white):
		h.Answer = "white"
	default:
		works := s.rng.Float64() < unitWorks
		if dark {
			works = s.rng.Float64() < unitFails
		}
		h.Answer = "black"
		if works {
			h.Answer = "good"
		}
	}
}

// repair carries out a step and reports whether the unit then holds.
func (s *caseSim) repair(part, id string) Outcome {
	r := s.cat.repair(id)
	var left []fault
	for _, f := range s.faults {
		mine := f.part.ID == part && (r.Replaces || f.mode.Repair == id) ||
			r.Replaces && f.part.Kind == PartPlug && len(f.part.ID) > len(part) && f.part.ID[:len(part)+1] == part+"."
		if !mine || s.rng.Float64() >= r.Cures.V {
			left = append(left, f)
		}
	}
	s.faults = left
	return s.soak()
}

// soak finds out whether anything is still wrong, as well as a soak can.
func (s *caseSim) soak() Outcome {
	s.stir()
	held := s.rng.Float64() < unitFails
	if len(s.faults) == 0 {
		held = s.rng.Float64() < unitWorks
	}
	if held {
		return Works
	}
	return StillBad
}

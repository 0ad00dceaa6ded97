package chain

import (
	"math"
	"math/rand/v2"
)

// oracle holds the case physics' own model: for every single fault it keeps
// every variant (which readings it spoils, which half of a plug is damaged)
// with the distribution of its hidden state, and weighs them exactly.
type oracle struct {
	c      *Chain
	cat    *Catalogue
	none   float64 // log weight of nothing wrong
	groups []fault
	cands  []candidate
	at     int
	begun  bool
}

// candidate is one fault in one variant. does has a bit for each rung.
type candidate struct {
	group   int // of the same fault and damaged half
	does    uint64
	log     float64
	on, off float64
}

func newOracle(c *Chain, cat *Catalogue) *oracle {
	o := &oracle{c: c, cat: cat, at: -1, none: math.Log(cat.NoFault.V)}
	all := everyFault(c, cat)
	total := 0.0
	for _, f := range all {
		total += f.weight
	}
	for _, f := range all {
		var does []rung
		for r := range rungCount {
			if f.mode.Effect[r] > 0 {
				does = append(does, r)
			}
		}
		halves := 1
		if f.part.Kind == PartPlug {
			halves = 2
		}
		for h := range halves {
			g := f
			g.half = h == 1
			for _, r := range does {
				g.does[r] = true
			}
			o.groups = append(o.groups, g)
			for bits := range 1 << len(does) {
				p := f.weight / total * (1 - cat.NoFault.V) / float64(halves)
				mask := uint64(0)
				for i, r := range does {
					if bits>>i&1 == 1 {
						mask |= 1 << r
						p *= f.mode.Effect[r]
					} else {
						p *= 1 - f.mode.Effect[r]
					}
				}
				if p > 0 {
					o.cands = append(o.cands, candidate{group: len(o.groups) - 1, does: mask, log: math.Log(p), on: f.mode.Shows.V, off: 1 - f.mode.Shows.V})
				}
			}
		}
	}
	return o
}

// spoils is what one fault, showing, does to a look at a place: the rungs that
// are bad for certain, and the share of noise that an active stage lets by.
func (o *oracle) spoils(f *fault, l *Look) (bad [rungCount]bool, noise float64) {
	p, _ := o.c.Plug(l.Plug)
	s := caseSim{c: o.c, cat: o.cat}
	g := *f
	g.on = true
	s.faults = []fault{g}
	place := o.c.place(p)
	noise = 1
	if l.Facing == Up {
		for q := 0; q <= place; q++ {
			if q%4 == 0 && q > 0 && q < place {
				bad[upPower] = false
				if bad[upNoise] {
					noise *= 0.5
				}
			}
			for _, x := range s.standingAt(q) {
				if q == place && !x.half {
					continue
				}
				for r := upPower; r <= upSilent; r++ {
					bad[r] = bad[r] || x.does[r]
				}
				if x.does[upNoise] {
					noise = 1
				}
			}
		}
		for _, x := range s.leads() {
			for r := upPower; r <= upSilent; r++ {
				bad[r] = bad[r] || x.does[r]
			}
		}
		return bad, noise
	}
	link := o.c.linkIndex(p.Link)
	hot, ddc := true, true
	for q := place; q <= o.c.end(); q++ {
		for _, x := range s.standingAt(q) {
			if q == place && x.half {
				continue
			}
			for r := downPower; r <= downSense; r++ {
				reach := ddc
				if r == downPlug {
					reach = hot
				}
				if r == downSense {
					reach = q <= stagePlace(link+1)
				}
				bad[r] = bad[r] || reach && x.does[r]
			}
		}
		if q%4 == 0 && q > place {
			hot = hot && o.c.Stages[q/4].HotPlug != Answers
			ddc = ddc && o.c.Stages[q/4].DDC != Answers
		}
	}
	for _, x := range s.leads() {
		for r := downPower; r <= downSense; r++ {
			bad[r] = bad[r] || x.does[r]
		}
	}
	if bad[downPower] {
		bad[downPlug], bad[downAck] = true, true
	}
	return bad, noise
}

// chanceOf is the likelihood of the seen rungs where the truth is known.
func (o *oracle) chanceOf(ob *observation, bad [rungCount]bool, noise float64) float64 {
	l := 1.0
	for r, s := range ob.rungs {
		if s == unseen {
			continue
		}
		p := o.cat.FalseBad[r]
		if bad[r] {
			p = 1 - o.cat.FalseGood[r]
			if rung(r) == upNoise {
				p = noise*p + (1-noise)*o.cat.FalseBad[r]
			}
		}
		if s == passed {
			p = 1 - p
		}
		l *= p
	}
	if ob.whole != unseen {
		good := 1.0
		for r := upNone; r <= upLane; r++ {
			switch {
			case r == upOther:
			case bad[r] && r == upNoise:
				good *= noise*o.cat.FalseGood[r] + (1-noise)*(1-o.cat.FalseBad[r])
			case bad[r]:
				good *= o.cat.FalseGood[r]
			default:
				good *= 1 - o.cat.FalseBad[r]
			}
		}
		return chance(ob.whole, good)
	}
	if ob.works != unseen {
		good := unitWorks
		for _, r := range onScreen {
			if bad[r] && ob.rungs[r] == unseen && r != upOther {
				good = unitFails
			}
		}
		if bad[upOther] {
			good = 0.85*good + 0.15*unitFails
		}
		l *= chance(ob.works, good)
	}
	if ob.speaker != unseen {
		silent := o.cat.FalseBad[handSilent]
		for _, r := range onSpeaker {
			if bad[r] {
				silent = 1 - o.cat.FalseGood[handSilent]
			}
		}
		l *= chance(ob.speaker, 1-silent)
	}
	return l
}

func (o *oracle) look(l Look) {
	ob := o.c.observeLook(&l)
	o.weigh(ob, ob.at, func(g *fault) ([rungCount]bool, float64) { return o.spoils(g, &l) })
	o.at = ob.at
}

// weigh takes an observation in. reach says, for a fault that spoils all it
// can, which rungs it reaches here. What a variant does is then its own bits
// among those, so each pattern is worked out once.
func (o *oracle) weigh(ob *observation, place int, reach func(*fault) ([rungCount]bool, float64)) {
	var seenBits uint64
	for r, x := range ob.rungs {
		if x != unseen {
			seenBits |= 1 << r
		}
	}
	if ob.downOf >= 0 {
		seenBits |= 1 << downPower
	}
	if ob.whole != unseen {
		for r := upNone; r <= upLane; r++ {
			seenBits |= 1 << r
		}
	}
	if ob.works != unseen {
		for _, r := range onScreen {
			seenBits |= 1 << r
		}
	}
	if ob.speaker != unseen {
		for _, r := range onSpeaker {
			seenBits |= 1 << r
		}
	}
	none := o.chanceOf(ob, [rungCount]bool{}, 1)
	o.none += math.Log(none)
	masks := make([]uint64, len(o.groups))
	noises := make([]float64, len(o.groups))
	tables := make([]map[uint64]float64, len(o.groups))
	for i := range o.groups {
		bad, noise := reach(&o.groups[i])
		for r, x := range bad {
			if x && o.groups[i].does[r] {
				masks[i] |= 1 << r
			}
		}
		noises[i], tables[i] = noise, map[uint64]float64{}
	}
	for i := range o.cands {
		c := &o.cands[i]
		if place >= 0 {
			o.move(c, place)
		}
		key := c.does & masks[c.group] & seenBits
		l, ok := tables[c.group][key]
		if !ok {
			var bad [rungCount]bool
			for r := range bad {
				bad[r] = key>>r&1 == 1
			}
			if bad[downPower] {
				bad[downPlug], bad[downAck] = true, true
			}
			l = o.chanceOf(ob, bad, noises[c.group])
			tables[c.group][key] = l
		}
		c.weigh(l, none)
	}
	o.begun = true
}

func (o *oracle) move(c *candidate, place int) {
	if !o.begun || o.groups[c.group].mode.Shows.V >= 1 || place == o.at {
		return
	}
	keep := o.groups[c.group].mode.Keeps.V
	if o.groups[c.group].part.Kind == PartPlug && (o.groups[c.group].part.At == place || o.groups[c.group].part.At == o.at) {
		keep = 0
	}
	shows := o.groups[c.group].mode.Shows.V
	c.on, c.off = keep*c.on+(1-keep)*shows, keep*c.off+(1-keep)*(1-shows)
}

func (c *candidate) weigh(on, off float64) {
	sum := c.on*on + c.off*off
	c.log += math.Log(sum)
	if sum <= 0 {
		return // it cannot be
	}
	c.on, c.off = c.on*on/sum, c.off*off/sum
}

// check asks the case physics, without noise, what a fault reaches by hand.
func (o *oracle) check(h HandCheck) {
	exact := *o.cat
	exact.FalseBad, exact.FalseGood = [rungCount]float64{}, [rungCount]float64{}
	place := -1
	ob := o.c.observeCheck(&h, o.cat)
	if h.Kind == CheckDisplay {
		place = ob.at
	}
	o.weigh(ob, place, func(g *fault) (bad [rungCount]bool, noise float64) {
		f := *g
		f.on = true
		if h.Kind == CheckDisplay {
			if f.part.Kind == PartLead {
				return bad, 1
			}
			return o.spoils(&f, &Look{Plug: h.At, Facing: Up})
		}
		s := caseSim{c: o.c, cat: &exact, faults: []fault{f}, begun: true, rng: fixedRand()}
		s.faults[0].on = true
		if h.Kind == CheckScreen || h.Kind == CheckSpeaker {
			bad = f.does
			if f.part.Kind == PartLead {
				bad = [rungCount]bool{}
			}
			if !onUnit(o.c, &f) {
				bad[handLines], bad[handWhite], bad[handSilent] = false, false, false
			}
			return bad, 1
		}
		answer := s.hand(h.Kind, h.At)
		for r, x := range o.c.observeCheck(&answer, o.cat).rungs {
			bad[r] = x == failed
		}
		return bad, 1
	})
	if place >= 0 {
		o.at = place
	}
}

// onUnit reports whether a fault can reach the unit's own screen and speaker:
// a supply does where it feeds scaler or panel.
func onUnit(c *Chain, f *fault) bool {
	for _, p := range f.part.Feeds {
		if k := c.Stages[p/4].Kind; k == Scaler || k == Panel {
			return true
		}
	}
	return f.part.Kind != PartRail
}

// masses is how likely each remedy is to be the right one, up to a factor.
func (o *oracle) masses() map[remedyName]float64 {
	top := o.none
	for i := range o.cands {
		top = max(top, o.cands[i].log)
	}
	mass := map[remedyName]float64{{}: math.Exp(o.none - top)}
	for i := range o.cands {
		f := &o.groups[o.cands[i].group]
		mass[remedyName{f.part.ID, f.mode.Repair}] += math.Exp(o.cands[i].log - top)
	}
	return mass
}

// fixedRand draws the same numbers each time; without noise in the catalogue
// they decide nothing.
func fixedRand() *rand.Rand { return rand.New(rand.NewPCG(1, 1)) }

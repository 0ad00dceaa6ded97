package chain

import "slices"

// view is one observation with what each part can have to do with it.
type view struct {
	b     *belief
	o     *observation
	seen  []rung // the rungs that were seen, in ladder order
	regen int    // place of the last stage before the plug that makes +5 V anew
}

// ownPlug is how much of a fault at the opened plug itself is seen: the bench
// sits on one half of the contact. Estimate.
const ownPlug = 0.5

// unitWorks and unitFails are the chances that the whole unit is found
// working while nothing shows, and while a fault shows. Estimates.
const (
	unitWorks = 0.98
	unitFails = 0.03
)

// wrongMode is how often another timing than the expected one, inside the
// limits, spoils the unit's own picture. Estimate.
const wrongMode = 0.15

// onScreen lists what shows on the unit's own screen.
var onScreen = []rung{upNone, upNoLock, upRange, upOutside, upOther, upBlack, upColour, upFrozen, upNoise, upLane,
	handLight, handMenu, handLines, handWhite, handScreen}

func newView(b *belief, o *observation) *view {
	v := &view{b: b, o: o, regen: -1}
	for r := range rungCount {
		if o.rungs[r] != unseen {
			v.seen = append(v.seen, r)
		}
	}
	for i, s := range b.c.Stages {
		if p := stagePlace(i); p < o.upTo && s.Kind != Source && s.Kind != Panel {
			v.regen = p
		}
	}
	return v
}

// onSpeaker lists what silences the unit's own speaker.
var onSpeaker = []rung{upNone, upNoLock, upRange, upSilent, handSilent}

// reaches fills in how far each rung looks upon the instance and reports
// whether the instance, when it shows, has any influence on what was seen.
func (v *view) reaches(i int, w *rungs) bool {
	p := &v.b.parts[v.b.inst[i].part]
	m := &v.b.cat.Modes[v.b.inst[i].mode]
	touched := false
	for r := range rungCount {
		w[r] = 0
		onUnit := v.o.works != unseen && slices.Contains(onScreen, r) || v.o.speaker != unseen && slices.Contains(onSpeaker, r)
		if onUnit && m.Effect[r] > 0 && v.o.rungs[r] == unseen {
			w[r], touched = 1, p.Kind != PartLead || touched
			if p.Kind == PartLead {
				w[r] = 0
			}
			if r == upOther {
				w[r] = wrongMode
			}
			continue
		}
		if m.Effect[r] == 0 || v.o.rungs[r] == unseen && !(r == downPower && v.o.downOf >= 0) && !(v.o.whole != unseen && v.inWhole(r)) {
			continue
		}
		if w[r] = float32(v.weight(p, r)); w[r] > 0 {
			touched = true
		}
	}
	return touched
}

// inWhole reports whether a rung has a say in a picture that was judged as a
// whole. A display takes many timings, so another timing has not.
func (v *view) inWhole(r rung) bool { return r >= upNone && r <= upLane && r != upOther }

// weight is how far a rung of this observation looks upon the part: 1 in
// full, 0 not at all.
func (v *view) weight(p *Part, r rung) float64 {
	switch {
	case r <= upSilent:
		return v.upWeight(p, r)
	case r <= downSense:
		return v.downWeight(p, r)
	}
	switch r {
	case handIndicator:
		return truth(p.At == v.o.at && p.Kind != PartSetting || feeds(p, v.o.at, v.o.at))
	case handSupply:
		return truth(p.Kind == PartRail && p.ID == "rail:"+v.b.c.Rails[v.o.rail].ID)
	case handWiggle:
		return truth(p.At >= 0 && p.At >= v.o.at-1 && p.At <= v.o.at+1 && p.Kind != PartSetting)
	case handLight, handMenu, handSilent, handLines, handWhite:
		if p.Kind == PartRail {
			return truth(v.feedsKind(p, Scaler) || v.feedsKind(p, Panel))
		}
	}
	return 1
}

func truth(b bool) float64 {
	if b {
		return 1
	}
	return 0
}

// feeds reports whether a rail feeds a stage from place lo to place hi.
func feeds(p *Part, lo, hi int) bool {
	for _, f := range p.Feeds {
		if f >= lo && f <= hi {
			return true
		}
	}
	return false
}

func (v *view) feedsKind(p *Part, k StageKind) bool {
	for i, s := range v.b.c.Stages {
		if s.Kind == k && feeds(p, stagePlace(i), stagePlace(i)) {
			return true
		}
	}
	return false
}

func (v *view) upWeight(p *Part, r rung) float64 {
	if p.Kind == PartLead {
		return truth(v.o.lead)
	}
	first := 0
	if r == upPower && v.regen >= 0 {
		first = v.regen // +5 V is made anew there, whatever came in
	}
	switch {
	case p.Kind == PartRail:
		return truth(feeds(p, first, v.o.upTo-1))
	case p.At < first:
		return 0
	case r == upNoise && p.At < v.regen:
		return retimed
	case p.At < v.o.upTo:
		return 1
	case p.At == v.o.upTo:
		return ownPlug
	}
	return 0
}

// retimed is how much of the noise from before an active stage is still seen
// after it: the stage restores edges, and hands errors on. Estimate.
const retimed = 0.5

func (v *view) downWeight(p *Part, r rung) float64 {
	if p.Kind == PartLead {
		return truth(v.o.lead)
	}
	end := v.o.ends[1]
	switch r {
	case downPlug:
		end = v.o.ends[0]
	case downSense:
		end = v.o.ends[2]
	}
	switch {
	case p.Kind == PartRail:
		return truth(feeds(p, v.o.downOf+1, end))
	case p.At > end:
		return 0
	case p.At > v.o.downOf:
		return 1
	case p.At == v.o.downOf:
		return ownPlug
	}
	return 0
}

// likelihood of the observation where two instances show, given by how far
// each is looked upon (w) and how likely it fails each rung (q); nil for
// none. They combine rung by rung (noisy-or).
func (v *view) likelihood(wx, qx, wy, qy *rungs) float64 {
	o := v.o
	l := 1.0
	if o.works != unseen {
		good := 1.0
		for _, r := range onScreen {
			if o.rungs[r] == unseen {
				good *= survival(r, wx, qx, wy, qy)
			}
		}
		l *= chance(o.works, unitWorks*good+unitFails*(1-good))
	}
	if o.speaker != unseen {
		good := 1.0
		for _, r := range onSpeaker {
			good *= survival(r, wx, qx, wy, qy)
		}
		l *= chance(o.speaker, v.pass(handSilent, good))
	}
	if o.whole != unseen {
		good := 1 - min(o.leak, 0.9)
		for r := upNone; r <= upLane; r++ {
			if v.inWhole(r) {
				good *= v.pass(r, survival(r, wx, qx, wy, qy))
			}
		}
		l *= chance(o.whole, good)
	}
	if o.downOf < 0 {
		for _, r := range v.seen {
			l *= chance(o.rungs[r], v.pass(r, survival(r, wx, qx, wy, qy)))
		}
		return l
	}
	// Where the bench's +5 V does not arrive, hot-plug and acknowledge fail
	// together: one cause, counted once.
	arrives := survival(downPower, wx, qx, wy, qy)
	with, without := 1.0, 1.0
	for _, r := range v.seen {
		p := chance(o.rungs[r], v.pass(r, survival(r, wx, qx, wy, qy)))
		with *= p
		if r == downPlug || r == downAck {
			p = chance(o.rungs[r], v.pass(r, 0))
		}
		without *= p
	}
	return l * (arrives*with + (1-arrives)*without)
}

// learn sharpens which rungs each instance fails, given that it shows with
// chance onX. The other instance's share is taken at its expectation.
func (v *view) learn(wx, qx *rungs, onX float64, wy, qy *rungs, onY float64) {
	one := func(w, q, w2, q2 *rungs, on, on2 float64, r rung) {
		if w == nil || w[r] == 0 || q[r] == 0 {
			return
		}
		other := 1.0
		if w2 != nil {
			other = 1 - on2*float64(w2[r]*q2[r])
		}
		was := float64(q[r])
		set := chance(v.o.rungs[r], v.pass(r, other*(1-float64(w[r]))))
		clear := chance(v.o.rungs[r], v.pass(r, other))
		now := was * set / (was*set + (1-was)*clear)
		q[r] = float32(on*now + (1-on)*was)
	}
	for _, r := range v.seen {
		if v.o.downOf >= 0 && (r == downPlug || r == downAck) && v.powerGone() {
			continue // the one cause above explains both
		}
		var px, py rungs
		if qx != nil {
			px = *qx
		}
		if qy != nil {
			py = *qy
		}
		one(wx, qx, wy, &py, onX, onY, r)
		one(wy, qy, wx, &px, onY, onX, r)
	}
	if v.o.works == passed {
		for _, r := range onScreen {
			clearBit(wx, qx, onX, r)
			clearBit(wy, qy, onY, r)
		}
	}
	if v.o.whole == passed {
		for r := upNone; r <= upLane; r++ {
			if v.inWhole(r) {
				clearBit(wx, qx, onX, r)
				clearBit(wy, qy, onY, r)
			}
		}
	}
	if v.o.downOf >= 0 && (v.o.rungs[downAck] == passed || v.o.rungs[downPlug] == passed) {
		clearBit(wx, qx, onX, downPower)
		clearBit(wy, qy, onY, downPower)
	}
}

// powerGone reports whether a look down saw neither hot-plug nor acknowledge.
func (v *view) powerGone() bool {
	return v.o.rungs[downAck] == failed && v.o.rungs[downPlug] == failed
}

// clearBit lowers the chance of a variant that was seen not to be.
func clearBit(w, q *rungs, on float64, r rung) {
	if w != nil && w[r] > 0 {
		q[r] *= float32(1 - 0.98*on*float64(w[r]))
	}
}

func survival(r rung, wx, qx, wy, qy *rungs) float64 {
	s := 1.0
	if wx != nil {
		s -= float64(wx[r] * qx[r])
	}
	if wy != nil {
		s *= 1 - float64(wy[r]*qy[r])
	}
	return s
}

// pass is the chance that a rung is read as passed, given how likely it
// really is.
func (v *view) pass(r rung, s float64) float64 {
	return min(max((1-v.b.cat.FalseBad[r])*s+v.b.cat.FalseGood[r]*(1-s), leastChance), 1-leastChance)
}

// leastChance keeps every reading possible, so that no part is ruled out for
// ever by one wrong reading or by a catalogue that is too sure.
const leastChance = 1e-6

func chance(s seen, pass float64) float64 {
	if s == passed {
		return pass
	}
	return 1 - pass
}

package chain

import (
	"math"
	"strings"
)

// instance is one mode on one part.
type instance struct {
	part, mode int
	weight     float64
}

// hypothesis is nothing wrong (both -1), one instance, or a pair of them.
type hypothesis struct{ a, b int32 }

// state of one instance: cured, present but not showing, showing.
const (
	cured = iota
	quiet
	showing
	states
)

// belief is the exact posterior over all hypotheses. Each keeps its weight as
// a logarithm and, for what shows only at times, the distribution of the
// hidden states of its one or two instances.
type belief struct {
	c     *Chain
	cat   *Catalogue
	parts []Part
	inst  []instance
	hyp   []hypothesis
	logw  []float64
	state [][states * states]float64
	epoch int
	at    int
	begun bool
	// bits holds for each hypothesis and each of its two instances how likely
	// the instance is of the variant that fails a rung. A part that is broken
	// in one way today is broken in that way at every plug: what varies from
	// unit to unit must not be drawn anew at every look.
	bits  [][2]rungs
	reach []rungs // scratch: how far each rung of an observation looks upon each instance
	hits  []bool
}

// maxPairStages is the longest chain for which pairs are kept.
const maxPairStages = 12

func newBelief(c *Chain, cat *Catalogue) *belief {
	b := &belief{c: c, cat: cat, parts: c.Parts(), at: -1}
	total := 0.0
	for pi, p := range b.parts {
		for mi := range cat.Modes {
			if m := &cat.Modes[mi]; m.Part == p.Class && !(m.ID == "scaler-audio" && !c.soundExpected()) {
				b.inst = append(b.inst, instance{pi, mi, m.Prior.V})
				total += m.Prior.V
			}
		}
	}
	n := len(b.inst)
	pairs := 0.0
	for i := range n {
		for k := i + 1; k < n; k++ {
			pairs += b.inst[i].weight * b.inst[k].weight
		}
	}
	two := cat.TwoFaults.V
	if len(c.Stages) > maxPairStages || n < 2 {
		two = 0
	}
	b.add(-1, -1, cat.NoFault.V)
	for i := range n {
		b.add(i, -1, (1-cat.NoFault.V)*(1-two)*b.inst[i].weight/total)
	}
	if two > 0 {
		for i := range n {
			for k := i + 1; k < n; k++ {
				b.add(i, k, (1-cat.NoFault.V)*two*b.inst[i].weight*b.inst[k].weight/pairs)
			}
		}
	}
	b.reach = make([]rungs, n)
	b.hits = make([]bool, n)
	return b
}

func (b *belief) add(a, k int, w float64) {
	b.hyp = append(b.hyp, hypothesis{int32(a), int32(k)})
	b.logw = append(b.logw, math.Log(w))
	b.state = append(b.state, outer(b.start(a), b.start(k)))
	var bits [2]rungs
	for side, i := range [2]int{a, k} {
		if i >= 0 {
			for r, q := range b.cat.Modes[b.inst[i].mode].Effect {
				bits[side][r] = float32(q)
			}
		}
	}
	b.bits = append(b.bits, bits)
}

// start is the state of an instance before anything was seen.
func (b *belief) start(i int) [states]float64 {
	if i < 0 {
		return [states]float64{1, 0, 0}
	}
	s := b.cat.Modes[b.inst[i].mode].Shows.V
	return [states]float64{0, 1 - s, s}
}

func outer(x, y [states]float64) (z [states * states]float64) {
	for i := range x {
		for k := range y {
			z[i*states+k] = x[i] * y[k]
		}
	}
	return z
}

func (b *belief) modeOf(i int32) *Mode { return &b.cat.Modes[b.inst[i].mode] }
func (b *belief) partOf(i int32) *Part { return &b.parts[b.inst[i].part] }

// rungs holds one number for each rung.
type rungs [rungCount]float32

// update takes one observation in.
func (b *belief) update(o *observation) {
	keep := b.keeps(o)
	b.stand(o)
	v := newView(b, o)
	none := v.likelihood(nil, nil, nil, nil)
	for i := range b.inst {
		b.hits[i] = v.reaches(i, &b.reach[i])
	}
	for h, y := range b.hyp {
		if y.a < 0 {
			b.logw[h] += math.Log(none)
			continue
		}
		b.age(h, keep)
		l := b.likes(v, h, none)
		st := &b.state[h]
		for i := range states {
			for k := range states {
				st[i*states+k] *= l[truthInt(i == showing)][truthInt(k == showing)]
			}
		}
		b.settle(h)
		b.learn(v, h)
	}
	b.normalise()
}

func truthInt(b bool) int {
	if b {
		return 1
	}
	return 0
}

// age lets the hidden states of a hypothesis change between observations.
func (b *belief) age(h int, keep []float64) {
	y := b.hyp[h]
	if k := keep[y.a]; k < 1 {
		for j := range states {
			redraw(&b.state[h], states, j, b.modeOf(y.a).Shows.V, k)
		}
	}
	if y.b >= 0 && keep[y.b] < 1 {
		for i := range states {
			redraw(&b.state[h], 1, i*states, b.modeOf(y.b).Shows.V, keep[y.b])
		}
	}
}

// likes is the likelihood of the observation for neither, either and both
// instances of a hypothesis showing.
func (b *belief) likes(v *view, h int, none float64) (l [2][2]float64) {
	y := b.hyp[h]
	l[0][0], l[1][0], l[0][1], l[1][1] = none, none, none, none
	var wa, wb, qa, qb *rungs
	if b.hits[y.a] {
		wa, qa = &b.reach[y.a], &b.bits[h][0]
		l[1][0] = v.likelihood(wa, qa, nil, nil)
		l[1][1] = l[1][0]
	}
	if y.b >= 0 && b.hits[y.b] {
		wb, qb = &b.reach[y.b], &b.bits[h][1]
		l[0][1] = v.likelihood(nil, nil, wb, qb)
		l[1][1] = l[0][1]
		if wa != nil {
			l[1][1] = v.likelihood(wa, qa, wb, qb)
		}
	}
	return l
}

// learn updates which variant the instances of a hypothesis are.
func (b *belief) learn(v *view, h int) {
	y, st := b.hyp[h], &b.state[h]
	onA := st[showing*states] + st[showing*states+1] + st[showing*states+2]
	onB := st[showing] + st[states+showing] + st[2*states+showing]
	var wa, wb, qa, qb *rungs
	if b.hits[y.a] {
		wa, qa = &b.reach[y.a], &b.bits[h][0]
	}
	if y.b >= 0 && b.hits[y.b] {
		wb, qb = &b.reach[y.b], &b.bits[h][1]
	}
	if wa != nil || wb != nil {
		v.learn(wa, qa, onA, wb, qb, onB)
	}
}

// settle moves the mass of a hypothesis from its states into its weight.
func (b *belief) settle(h int) {
	sum := 0.0
	for _, x := range b.state[h] {
		sum += x
	}
	b.logw[h] += math.Log(sum)
	if sum > 0 {
		for i := range b.state[h] {
			b.state[h][i] /= sum
		}
	}
}

func (b *belief) normalise() {
	top := math.Inf(-1)
	for _, w := range b.logw {
		top = max(top, w)
	}
	sum := 0.0
	for _, w := range b.logw {
		sum += math.Exp(w - top)
	}
	shift := top + math.Log(sum)
	for i := range b.logw {
		b.logw[i] -= shift
	}
}

// keeps says for each instance with what chance its hidden state is still the
// one of the last observation. Untouched, it is: ten looks at one plug are
// not ten witnesses.
func (b *belief) keeps(o *observation) []float64 {
	keep := make([]float64, len(b.inst))
	moved := o.at >= 0 && o.at != b.at && (o.upTo >= 0 || o.downOf >= 0)
	for i := range b.inst {
		m := &b.cat.Modes[b.inst[i].mode]
		k := 1.0
		switch {
		case m.Shows.V >= 1 || !b.begun:
		case o.epoch != b.epoch:
			k = 0
		case moved && b.parts[b.inst[i].part].Kind == PartPlug && (b.parts[b.inst[i].part].At == o.at || b.parts[b.inst[i].part].At == b.at):
			k = 0 // opening the plug itself moves its contacts
		case moved:
			k = m.Keeps.V
		}
		keep[i] = k
	}
	return keep
}

// stand remembers where the bench is.
func (b *belief) stand(o *observation) {
	b.epoch, b.begun = o.epoch, true
	if o.upTo >= 0 || o.downOf >= 0 {
		b.at = o.at
	}
}

// redraw lets one instance lose its hidden state with chance 1-keep. stride
// and base pick its three states out of the nine.
func redraw(st *[states * states]float64, stride, base int, shows, keep float64) {
	q, s := &st[base+quiet*stride], &st[base+showing*stride]
	present := *q + *s
	*q = keep**q + (1-keep)*present*(1-shows)
	*s = keep**s + (1-keep)*present*shows
}

// act notes a repair: what it is meant for is cured with its chance.
func (b *belief) act(a Action) {
	r := b.cat.repair(a.Repair)
	for h, y := range b.hyp {
		if r == nil {
			break // a soak alone
		}
		if y.a >= 0 && b.cures(r, a.Part, y.a) {
			for k := range states {
				b.cure(h, states, k, r.Cures.V)
			}
		}
		if y.b >= 0 && b.cures(r, a.Part, y.b) {
			for k := range states {
				b.cure(h, 1, k*states, r.Cures.V)
			}
		}
	}
	if a.Outcome != NotChecked {
		b.verify(a.Outcome)
	}
	b.epoch = a.Epoch
	b.renew()
}

// verify takes in whether the repair held. A repair is verified by a soak, so
// that a fault that only rests at the moment comes out too.
func (b *belief) verify(o Outcome) {
	held := unitWorks
	if o != Works {
		held = 1 - unitWorks
	}
	left := unitFails
	if o != Works {
		left = 1 - unitFails
	}
	for h, y := range b.hyp {
		if y.a < 0 {
			b.logw[h] += math.Log(held)
			continue
		}
		for i := range states {
			for k := range states {
				if i == cured && (y.b < 0 || k == cured) {
					b.state[h][i*states+k] *= held
				} else {
					b.state[h][i*states+k] *= left
				}
			}
		}
		b.settle(h)
	}
	b.normalise()
}

// renew draws every hidden state anew: a repair moves everything.
func (b *belief) renew() {
	keep := make([]float64, len(b.inst))
	for i := range keep {
		if b.cat.Modes[b.inst[i].mode].Shows.V >= 1 {
			keep[i] = 1
		}
	}
	for h, y := range b.hyp {
		if y.a >= 0 {
			b.age(h, keep)
		}
	}
}

func (b *belief) cure(h, stride, base int, p float64) {
	st := &b.state[h]
	for _, s := range []int{quiet, showing} {
		moved := st[base+s*stride] * p
		st[base+s*stride] -= moved
		st[base] += moved
	}
}

// cures reports whether a repair of a part is meant for the instance. A new
// cable brings new plugs.
func (b *belief) cures(r *Repair, part string, i int32) bool {
	of := b.partOf(i)
	if of.ID == part {
		return r.Replaces || b.modeOf(i).Repair == r.ID
	}
	return r.Replaces && of.Kind == PartPlug && strings.HasPrefix(of.ID, part+".")
}

// replacement is the repair that puts in a new part for the instance: of the part itself, or of the cable that a plug belongs to.
func (b *belief) replacement(i int32) (part int, r *Repair) {
	of := b.partOf(i)
	id := of.ID
	if of.Kind == PartPlug {
		id, _, _ = strings.Cut(of.ID, ".")
	}
	for k := range b.inst {
		if b.partOf(int32(k)).ID == id {
			if r := b.cat.repair(b.modeOf(int32(k)).Repair); r.Replaces {
				return b.inst[k].part, r
			}
		}
	}
	return -1, nil
}

// posterior is the probability of each hypothesis.
func (b *belief) posterior() []float64 {
	p := make([]float64, len(b.logw))
	for i, w := range b.logw {
		p[i] = math.Exp(w)
	}
	return p
}

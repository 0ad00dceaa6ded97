package chain

import (
	"fmt"
	"math"
	"sort"
	"strings"
)

// Explanation says what speaks for and against one suspect.
type Explanation struct {
	Part     string `json:"part"`
	Mode     string `json:"mode"`
	Sentence string `json:"sentence"`
	// Prior and Posterior are its probability before and after all evidence.
	Prior     float64   `json:"prior"`
	Posterior float64   `json:"posterior"`
	For       []Witness `json:"for"`     // strongest first
	Against   []Witness `json:"against"` // strongest first
}

// Witness is one piece of evidence with its weight: how many bits the odds of
// the suspect would lose without it. 1 bit doubles the odds.
type Witness struct {
	Evidence string  `json:"evidence"`
	Bits     float64 `json:"bits"`
	Sentence string  `json:"sentence"`
}

// Explain weighs each piece of evidence for one suspect by leaving it out:
// what the others say stays, so pieces that say the same are not counted
// twice, and may each weigh little.
func Explain(c *Chain, cat *Catalogue, ev Evidence, part, mode string) (Explanation, error) {
	x := Explanation{Part: part, Mode: mode, For: []Witness{}, Against: []Witness{}}
	if err := ev.Validate(c, cat); err != nil {
		return x, err
	}
	fresh := newBelief(c, cat)
	i := fresh.find(part, mode)
	if i < 0 {
		return x, fmt.Errorf("the mode %q of part %q is not in this chain and catalogue", mode, part)
	}
	x.Prior = fresh.marginal(i)
	all := newBelief(c, cat)
	all.take(ev)
	x.Posterior = all.marginal(i)
	weigh := func(name, say string, without Evidence) {
		b := newBelief(c, cat)
		b.take(without)
		w := Witness{Evidence: name, Bits: logOdds(x.Posterior) - logOdds(b.marginal(i))}
		w.Sentence = fmt.Sprintf("%s: odds %s.", say, times(w.Bits))
		switch {
		case w.Bits > 0.05:
			x.For = append(x.For, w)
		case w.Bits < -0.05:
			x.Against = append(x.Against, w)
		}
	}
	for k := range ev.Looks {
		without := ev
		without.Looks = append(append([]Look(nil), ev.Looks[:k]...), ev.Looks[k+1:]...)
		l := &ev.Looks[k]
		say := fmt.Sprintf("Looking %s at %s: all good", l.Facing, l.Plug)
		if found, _ := c.judgeLook(l); len(found) > 0 {
			var parts []string
			for _, f := range found {
				parts = append(parts, strings.TrimSuffix(f.Sentence[strings.Index(f.Sentence, ": ")+2:], "."))
			}
			say = fmt.Sprintf("Looking %s at %s: %s", l.Facing, l.Plug, strings.Join(parts, ", "))
		}
		weigh(l.Plug+" "+string(l.Facing), say, without)
	}
	for k, h := range ev.Checks {
		without := ev
		without.Checks = append(append([]HandCheck(nil), ev.Checks[:k]...), ev.Checks[k+1:]...)
		answer := h.Answer
		if h.Kind == CheckSupply {
			answer = fmt.Sprintf("%.2f V", h.Volts)
		}
		name := strings.TrimSpace(string(h.Kind) + " " + h.At)
		weigh(name, upperFirst(name)+": "+answer, without)
	}
	for _, list := range [][]Witness{x.For, x.Against} {
		sort.SliceStable(list, func(a, b int) bool { return math.Abs(list[a].Bits) > math.Abs(list[b].Bits) })
	}
	p := all.partOf(i)
	x.Sentence = fmt.Sprintf("%s, %s: %.1f %% before, %.1f %% now.", upperFirst(p.Name), all.modeOf(i).Name, 100*x.Prior, 100*x.Posterior)
	return x, nil
}

func logOdds(p float64) float64 {
	p = min(max(p, 1e-12), 1-1e-12)
	return math.Log2(p / (1 - p))
}

func times(bits float64) string {
	if bits >= 0 {
		return fmt.Sprintf("%.3g times higher with it", math.Exp2(bits))
	}
	return fmt.Sprintf("%.3g times lower with it", math.Exp2(-bits))
}

// find is the instance of a mode on a part, -1 for none.
func (b *belief) find(part, mode string) int32 {
	for i := range b.inst {
		if b.partOf(int32(i)).ID == part && b.modeOf(int32(i)).ID == mode {
			return int32(i)
		}
	}
	return -1
}

// marginal is the probability that an instance is at fault, alone or with
// another, and not cured.
func (b *belief) marginal(i int32) float64 {
	sum := 0.0
	for h, y := range b.hyp {
		if y.a != i && y.b != i {
			continue
		}
		left := 0.0
		for k, m := range b.state[h] {
			if y.a == i && k/states != cured || y.b == i && k%states != cured {
				left += m
			}
		}
		sum += math.Exp(b.logw[h]) * left
	}
	return sum
}

// Supposition is what would follow if a look or check came out in one way.
type Supposition struct {
	Outcome  string    `json:"outcome"`
	P        float64   `json:"p"`
	Suspects []Suspect `json:"suspects"` // the first few
	Nothing  float64   `json:"nothing_wrong"`
	Next     []Step    `json:"next"` // the first of them
}

// WhatIf works out, for a look at a plug, what each thing that it may show
// would mean, likeliest first.
func WhatIf(c *Chain, cat *Catalogue, ev Evidence, plug string, facing Facing) ([]Supposition, error) {
	if err := ev.Validate(c, cat); err != nil {
		return nil, err
	}
	p, err := c.Plug(plug)
	if err != nil {
		return nil, err
	}
	if c.Links[c.linkIndex(p.Link)].Kind != HDMI {
		return nil, fmt.Errorf("no look is possible at %s: %s is a panel link", plug, p.Link)
	}
	outcomes := c.upOutcomes(p, ev.lastEpoch(), learnAbilities(ev))
	if facing == Down {
		outcomes = c.downOutcomes(p, ev.lastEpoch(), learnAbilities(ev))
	}
	var out []Supposition
	for _, o := range outcomes {
		s := Supposition{Outcome: o.word}
		var top *observation
		best := 0.0
		for _, obs := range o.obs {
			b := newBelief(c, cat)
			b.take(ev)
			if w := b.chanceOf(obs); w > best {
				top, best = obs, w
			}
			s.P += b.chanceOf(obs)
		}
		if top == nil || s.P < 1e-4 {
			continue
		}
		b := newBelief(c, cat)
		b.take(ev)
		b.update(top)
		var r Report
		r.suspects(b)
		s.Suspects, s.Nothing = r.Suspects[:min(3, len(r.Suspects))], r.NothingWrong
		if next := nextSteps(b, ev); len(next) > 0 {
			s.Next = next[:1]
		}
		out = append(out, s)
	}
	sort.SliceStable(out, func(i, k int) bool { return out[i].P > out[k].P })
	return out, nil
}

// chanceOf is how likely an observation is under the whole belief.
func (b *belief) chanceOf(o *observation) float64 {
	hyp := make([]int, len(b.hyp))
	into := make([]float64, len(b.hyp))
	for i := range hyp {
		hyp[i] = i
	}
	b.predict(o, b.keeps(o), hyp, into)
	sum := 0.0
	for i, p := range b.posterior() {
		sum += p * into[i]
	}
	return sum
}

package chain

import (
	"fmt"
	"math"
	"sort"
	"strings"

	"deadhop/chain/plan"
)

// Size of the problem that is planned: the likeliest hypotheses carry nearly
// all the weight, the rest is left to the next update.
const (
	planHypotheses = 40
	planShare      = 0.995
	shownSteps     = 5
	handOnMinutes  = 600 // what is left when every known repair failed; estimate
)

// remedy is one repair of one part, or closing the job, or handing it on.
type remedy struct {
	part   *Part
	repair *Repair
	kind   StepKind
}

// problem is the decision as package plan takes it.
type problem struct {
	plan.Problem
	hyp      []int // indices into belief.hyp
	tests    []possible
	remedies []remedy
}

// compile turns the belief into a decision problem.
func (b *belief) compile(ev Evidence) *problem {
	p := &problem{}
	p.Access = b.accessCosts(ev)
	post := b.present()
	order := make([]int, len(b.hyp))
	for i := range order {
		order[i] = i
	}
	sort.SliceStable(order, func(i, k int) bool { return post[order[i]] > post[order[k]] })
	index := map[hypothesis]int{}
	keep := func(h int) {
		if _, ok := index[b.hyp[h]]; !ok && post[h] > 0 {
			index[b.hyp[h]] = len(p.hyp)
			p.hyp = append(p.hyp, h)
			p.Prior = append(p.Prior, post[h])
		}
	}
	sum := 0.0
	for _, h := range order {
		if len(p.hyp) >= planHypotheses || sum >= planShare {
			break
		}
		keep(h)
		sum += post[h]
	}
	single := map[int32]int{}
	for h, y := range b.hyp {
		if y.a >= 0 && y.b < 0 {
			single[y.a] = h
		}
	}
	// What is left of a pair after one repair must be there too.
	for _, h := range append([]int(nil), p.hyp...) {
		if y := b.hyp[h]; y.b >= 0 {
			keep(single[y.a])
			keep(single[y.b])
		}
	}
	keep(0)
	b.compileRepairs(p, index)
	for _, t := range b.possibleSteps(ev) {
		p.addTest(b, t)
	}
	return p
}

// present is the posterior of each hypothesis with what is cured moved on to
// what is left.
func (b *belief) present() []float64 {
	post := b.posterior()
	single := make([]int, len(b.inst))
	for h, y := range b.hyp {
		if y.a >= 0 && y.b < 0 {
			single[y.a] = h
		}
	}
	out := make([]float64, len(post))
	for h, y := range b.hyp {
		st := &b.state[h]
		if y.a < 0 {
			out[h] += post[h]
			continue
		}
		for i := range states {
			for k := range states {
				to := h
				switch {
				case i == cured && (y.b < 0 || k == cured):
					to = 0
				case y.b >= 0 && i == cured:
					to = single[y.b]
				case y.b >= 0 && k == cured:
					to = single[y.a]
				}
				out[to] += post[h] * st[i*states+k]
			}
		}
	}
	return out
}

func (b *belief) compileRepairs(p *problem, index map[hypothesis]int) {
	type key struct {
		part   int
		repair string
	}
	at := map[key]int{}
	verify := b.cat.Costs["verify"].V
	worth := b.cat.Costs["parts_per_minute"].V
	add := func(part int, r *Repair) {
		k := key{part, r.ID}
		if _, ok := at[k]; ok {
			return
		}
		at[k] = len(p.Repairs)
		p.Repairs = append(p.Repairs, plan.Repair{Cost: r.Minutes.V + r.Parts.V*worth + verify, Access: b.accessOf(&b.parts[part])})
		p.remedies = append(p.remedies, remedy{&b.parts[part], r, StepRepair})
	}
	for _, h := range p.hyp {
		y := b.hyp[h]
		for _, i := range []int32{y.a, y.b} {
			if i < 0 {
				continue
			}
			add(b.inst[i].part, b.cat.repair(b.modeOf(i).Repair))
			if part, r := b.replacement(i); r != nil {
				add(part, r)
			}
		}
	}
	for n := range p.Repairs {
		rem := p.remedies[n]
		for x, h := range p.hyp {
			y := b.hyp[h]
			ca := y.a >= 0 && b.cures(rem.repair, rem.part.ID, y.a)
			cb := y.b >= 0 && b.cures(rem.repair, rem.part.ID, y.b)
			left := -1
			switch {
			case !ca && !cb:
				continue
			case ca && !cb && y.b >= 0:
				left = index[hypothesis{y.b, -1}]
			case cb && !ca:
				left = index[hypothesis{y.a, -1}]
			}
			p.Repairs[n].Cures = append(p.Repairs[n].Cures, plan.Cure{Hypothesis: x, Chance: rem.repair.Cures.V, Left: left})
		}
	}
	p.Repairs = append(p.Repairs, plan.Repair{Cost: b.cat.Costs["close"].V, Access: -1, Cures: []plan.Cure{{Hypothesis: index[hypothesis{-1, -1}], Chance: 1, Left: -1}}})
	p.remedies = append(p.remedies, remedy{kind: StepClose})
	var all []plan.Cure
	for x := range p.hyp {
		all = append(all, plan.Cure{Hypothesis: x, Chance: 1, Left: -1})
	}
	p.Repairs = append(p.Repairs, plan.Repair{Cost: handOnMinutes, Access: -1, Cures: all})
	p.remedies = append(p.remedies, remedy{kind: StepHandOn})
}

// addTest works out how likely each outcome is under each hypothesis.
func (p *problem) addTest(b *belief, t possible) {
	test := plan.Test{Cost: t.minutes, Access: t.access}
	for range t.outcomes {
		test.Chance = append(test.Chance, make([]float64, len(p.hyp)))
	}
	var keep []float64
	for oi, o := range t.outcomes {
		for _, obs := range o.obs {
			if keep == nil {
				keep = b.keeps(obs)
			}
			b.predict(obs, keep, p.hyp, test.Chance[oi])
		}
	}
	for x := range p.hyp {
		sum := 0.0
		for _, row := range test.Chance {
			sum += row[x]
		}
		for _, row := range test.Chance {
			row[x] /= sum
		}
	}
	p.Tests = append(p.Tests, test)
	p.tests = append(p.tests, t)
}

// predict adds the likelihood of an observation under the given hypotheses.
func (b *belief) predict(o *observation, keep []float64, hyp []int, into []float64) {
	v := newView(b, o)
	none := v.likelihood(nil, nil, nil, nil)
	for i := range b.hits {
		b.hits[i] = false
	}
	ready := map[int32]bool{}
	prepare := func(i int32) {
		if i >= 0 && !ready[i] {
			ready[i] = true
			b.hits[i] = v.reaches(int(i), &b.reach[i])
		}
	}
	for x, h := range hyp {
		y := b.hyp[h]
		if y.a < 0 {
			into[x] += none
			continue
		}
		prepare(y.a)
		prepare(y.b)
		was := b.state[h]
		b.age(h, keep)
		l := b.likes(v, h, none)
		sum, present := 0.0, 0.0
		for i := range states {
			for k := range states {
				if i == cured || y.b >= 0 && k == cured {
					continue
				}
				present += b.state[h][i*states+k]
				sum += b.state[h][i*states+k] * l[truthInt(i == showing)][truthInt(k == showing)]
			}
		}
		if present > 0 {
			sum /= present
		} else {
			sum = none
		}
		into[x] += sum
		b.state[h] = was
	}
}

// nextSteps ranks what to do next, the cheapest way to a verified repair
// first.
func nextSteps(b *belief, ev Evidence) []Step {
	p := b.compile(ev)
	res := plan.Solve(&p.Problem, plan.DefaultBudget)
	out := []Step{}
	for _, o := range res.Options {
		if len(out) == shownSteps {
			break
		}
		s := p.describe(b, o)
		s.Total, s.Gain = o.Total, o.Gain
		out = append(out, s)
	}
	return out
}

func (p *problem) describe(b *belief, o plan.Option) Step {
	if o.Kind == plan.DoTest {
		return p.describeTest(b, o)
	}
	rem, rep := p.remedies[o.Index], p.Repairs[o.Index]
	m, all := 0.0, 0.0
	for _, w := range p.Prior {
		all += w
	}
	for _, c := range rep.Cures {
		m += p.Prior[c.Hypothesis] * c.Chance
	}
	share := m / all
	s := Step{Kind: rem.kind, Minutes: p.cost(rep.Cost, rep.Access)}
	switch rem.kind {
	case StepClose:
		s.Repair = Soak
		s.Do = "Let the unit soak, cold starts and warm running; where it holds, close the job as \"nothing found\"."
		s.Why = fmt.Sprintf("The odds that nothing is wrong are %.0f %%, and further looking costs more than it brings.", 100*share)
		s.If = []Branch{{Outcome: "it holds", P: share, Then: "close the job"},
			{Outcome: "it fails", P: 1 - share, Then: p.leading(b, p.failed(o.Index))}}
		return s
	case StepHandOn:
		s.Do = "Hand the unit on: every repair that is known here has been tried."
		s.Why = "No known fault explains what was seen."
		return s
	}
	s.Part, s.Repair = rem.part.ID, rem.repair.ID
	s.Do = upperFirst(strings.ReplaceAll(rem.repair.Do, "{part}", rem.part.Name)) + "."
	s.Why = fmt.Sprintf("The odds that it cures the unit are %.0f %%, and it is cheaper now than another look.", 100*share)
	if rem.repair.Caution != "" {
		s.Cautions = []string{upperFirst(rem.repair.Caution) + ".", cautionLaw}
	}
	s.If = []Branch{{Outcome: "it works then", P: share, Then: "verify it with the same looks, and soak it"},
		{Outcome: "it is still bad", P: 1 - share, Then: p.leading(b, p.failed(o.Index))}}
	return s
}

// failed is the belief after a repair that did not bring the unit back.
func (p *problem) failed(r int) []float64 {
	post := append([]float64(nil), p.Prior...)
	for _, c := range p.Repairs[r].Cures {
		moved := p.Prior[c.Hypothesis] * c.Chance
		post[c.Hypothesis] -= moved
		if c.Left >= 0 {
			post[c.Left] += moved
		}
	}
	return post
}

func (p *problem) cost(c float64, access int) float64 {
	if access >= 0 {
		c += p.Access[access]
	}
	return c
}

func (p *problem) describeTest(b *belief, o plan.Option) Step {
	t, test := p.tests[o.Index], &p.Tests[o.Index]
	s := t.step
	s.Minutes = p.cost(test.Cost, test.Access)
	good, bad := make([]float64, len(p.hyp)), make([]float64, len(p.hyp))
	for i, oc := range t.outcomes {
		row := good
		if oc.bad {
			row = bad
		}
		for h := range row {
			row[h] += test.Chance[i][h]
		}
	}
	goodPost, pg := plan.Update(p.Prior, good)
	badPost, pb := plan.Update(p.Prior, bad)
	goodWord, badWord := "good", "bad"
	if s.Kind == StepManual {
		var words []string
		for _, oc := range t.outcomes[1:] {
			words = append(words, oc.word)
		}
		goodWord, badWord = t.outcomes[0].word, strings.Join(words, " or ")
	}
	s.If = []Branch{{Outcome: goodWord, P: pg, Then: p.leading(b, goodPost)}, {Outcome: badWord, P: pb, Then: p.leading(b, badPost)}}
	s.Why = fmt.Sprintf("It parts the suspects for little: if %s (%.0f %%), they are %s; if %s (%.0f %%), %s.",
		goodWord, 100*pg, s.If[0].Then, badWord, 100*pb, s.If[1].Then)
	return s
}

// leading names the parts that lead under a belief.
func (p *problem) leading(b *belief, w []float64) string {
	share := map[string]float64{}
	sum := 0.0
	for x, h := range p.hyp {
		sum += w[x]
		y := b.hyp[h]
		if y.a < 0 {
			share["nothing wrong"] += w[x]
			continue
		}
		share[b.partOf(y.a).ID] += w[x]
		if y.b >= 0 && b.inst[y.a].part != b.inst[y.b].part {
			share[b.partOf(y.b).ID] += w[x]
		}
	}
	names := make([]string, 0, len(share))
	for n := range share {
		names = append(names, n)
	}
	sort.Slice(names, func(i, k int) bool {
		if share[names[i]] != share[names[k]] {
			return share[names[i]] > share[names[k]]
		}
		return names[i] < names[k]
	})
	var out []string
	for _, n := range names[:min(3, len(names))] {
		if s := share[n] / sum; s >= 0.05 && !math.IsNaN(s) {
			out = append(out, fmt.Sprintf("%s %.0f %%", n, 100*s))
		}
	}
	return strings.Join(out, ", ")
}

package plan

import (
	"math"
	"slices"
	"sort"
)

// Budget bounds a search. It counts work, not time, so that the same problem
// always gets the same plan.
type Budget struct {
	Nodes int // beliefs that may be expanded, over all depths
	Width int // actions that are followed from a belief below the first, where the problem is too large to follow all
}

// DefaultBudget keeps a plan for twelve stages far below a second.
var DefaultBudget = Budget{Nodes: 4000, Width: 5}

// Kind is what an Option is.
type Kind uint8

const (
	DoTest Kind = iota
	DoRepair
)

// Option is one first action with the expected total cost from here to the
// verified repair if it is taken and all goes on as well as known.
type Option struct {
	Kind  Kind
	Index int // into Tests or Repairs
	Total float64
	Gain  float64 // bits about the hypotheses; 0 for a repair
}

// Result ranks the options, cheapest first. Exact says that the search went
// to the end everywhere.
type Result struct {
	Options []Option
	Exact   bool
	Nodes   int
}

// Solve ranks what to do first. It searches exactly where the problem is small
// enough for the budget, else as many steps ahead as the budget allows, with
// an estimate of the rest.
func Solve(p *Problem, b Budget) Result {
	s := newSearch(p, b)
	root := s.root()
	var best Result
	depths := []int{1, maxDepth, 2, 3}
	if s.large {
		depths = []int{1, 2}
	}
	for i, depth := range depths {
		if i == 2 {
			s.nodes = 0 // the exact search failed: look as far as it goes
		}
		s.memo = map[uint64]float64{}
		s.cut, s.narrow = false, i > 0 && s.large || i > 1
		opts := s.options(root, depth)
		if s.nodes >= b.Nodes && i > 0 {
			continue // out of budget on the way: the last whole depth stands
		}
		sort.SliceStable(opts, func(i, k int) bool { return opts[i].Total < opts[k].Total-1e-9 })
		best = Result{Options: opts, Exact: !s.cut && !s.narrow}
		if best.Exact {
			break
		}
	}
	best.Nodes = s.nodes
	return best
}

const (
	maxDepth    = 60
	negligible  = 1e-4  // outcomes rarer than this are not followed further in a large problem
	quantum     = 1e8   // beliefs are the same when they agree to this
	exactNumber = 1e-12 // a chance this near to 0 or 1 is one
)

type state struct {
	p       []float64 // normalised
	tests   []uint64  // tests that were made and would tell nothing new
	repairs []uint64
	access  uint64
}

type search struct {
	*Problem
	budget Budget
	nodes  int
	memo   map[uint64]float64
	cut    bool // an estimate stood in for a search
	large  bool // narrow the search
	narrow bool
	sure   []bool    // the test has no noise: repeating it tells nothing by itself
	cheap  []float64 // per hypothesis: the cheapest way to cure it
	group  []int     // per hypothesis: the repair that is its cheapest cure
	sums   []float64 // scratch, one per repair
}

func newSearch(p *Problem, b Budget) *search {
	s := &search{Problem: p, budget: b, cheap: make([]float64, len(p.Prior)),
		group: make([]int, len(p.Prior)), sums: make([]float64, len(p.Repairs))}
	for h := range s.cheap {
		s.cheap[h] = math.Inf(1)
	}
	for r := range p.Repairs {
		for _, c := range p.Repairs[r].Cures {
			if c.Chance > 0 && p.Repairs[r].Cost < s.cheap[c.Hypothesis] {
				s.cheap[c.Hypothesis], s.group[c.Hypothesis] = p.Repairs[r].Cost, r
			}
		}
	}
	for i := range p.Tests {
		sure := true
		for _, row := range p.Tests[i].Chance {
			for _, x := range row {
				sure = sure && (x < exactNumber || x > 1-exactNumber)
			}
		}
		s.sure = append(s.sure, sure)
	}
	noisy := 0
	for _, x := range s.sure {
		if !x {
			noisy++
		}
	}
	s.large = len(p.Prior) > 14 && noisy > 0 || noisy > 8
	return s
}

func (s *search) root() state {
	st := state{p: slices.Clone(s.Prior), tests: make([]uint64, (len(s.Tests)+63)/64), repairs: make([]uint64, (len(s.Repairs)+63)/64)}
	normalise(st.p)
	return st
}

func normalise(p []float64) float64 {
	sum := 0.0
	for _, x := range p {
		sum += x
	}
	if sum > 0 {
		for i := range p {
			p[i] /= sum
		}
	}
	return sum
}

func has(set []uint64, i int) bool { return set[i/64]&(1<<(i%64)) != 0 }

func with(set []uint64, i int) []uint64 {
	out := slices.Clone(set)
	out[i/64] |= 1 << (i % 64)
	return out
}

// price adds access that was not paid yet.
func (s *search) price(st state, cost float64, access int) (float64, uint64) {
	if access < 0 || st.access&(1<<access) != 0 {
		return cost, st.access
	}
	return cost + s.Access[access], st.access | 1<<access
}

// options values every first action that comes near the best one.
func (s *search) options(st state, depth int) (opts []Option) {
	slack, best := 0.0, math.Inf(1)
	for i := range s.Tests {
		slack = max(slack, 2*s.Tests[i].Cost)
	}
	if len(s.Tests) == 0 {
		slack = math.Inf(1)
	}
	for _, a := range s.candidates(st, s.narrow) {
		total := s.follow(st, a, depth, best+slack)
		if math.IsInf(total, 1) {
			continue
		}
		best = min(best, total)
		opts = append(opts, Option{Kind: a.kind, Index: a.index, Gain: a.gain, Total: total})
	}
	return opts
}

type action struct {
	kind  Kind
	index int
	gain  float64
	score float64
}

// candidates lists the actions worth following, best first by what they are
// expected to bring for their cost.
func (s *search) candidates(st state, narrow bool) []action {
	var out []action
	for i := range s.Tests {
		if has(st.tests, i) {
			continue
		}
		g := Gain(st.p, &s.Tests[i])
		if g < 1e-9 {
			continue
		}
		cost, _ := s.price(st, s.Tests[i].Cost, s.Tests[i].Access)
		out = append(out, action{DoTest, i, g, s.tells(st.p, i) / cost})
	}
	tests := len(out)
	for r := range s.Repairs {
		if has(st.repairs, r) {
			continue
		}
		m := s.curing(st.p, r)
		if m < 1e-12 {
			continue
		}
		cost, _ := s.price(st, s.Repairs[r].Cost, s.Repairs[r].Access)
		out = append(out, action{DoRepair, r, 0, m / cost})
	}
	by := func(part []action) {
		sort.SliceStable(part, func(i, k int) bool { return part[i].score > part[k].score })
	}
	by(out[:tests])
	by(out[tests:])
	if narrow {
		kept := append([]action{}, out[:min(tests, s.budget.Width)]...)
		return append(kept, out[tests:min(len(out), tests+2)]...)
	}
	return out
}

func (s *search) curing(p []float64, r int) float64 {
	m := 0.0
	for _, c := range s.Repairs[r].Cures {
		m += p[c.Hypothesis] * c.Chance
	}
	return m
}

// follow is the expected total cost of an action and the best that follows.
// It gives up as soon as it cannot beat limit.
func (s *search) follow(st state, a action, depth int, limit float64) float64 {
	if a.kind == DoRepair {
		return s.followRepair(st, a.index, depth, limit)
	}
	t := &s.Tests[a.index]
	cost, access := s.price(st, t.Cost, t.Access)
	total := cost
	type branch struct {
		p     []float64
		m, lb float64
	}
	var bs []branch
	rest := 0.0
	for _, row := range t.Chance {
		post := make([]float64, len(st.p))
		m := 0.0
		for h, x := range st.p {
			post[h] = x * row[h]
			m += post[h]
		}
		if m <= 0 {
			continue
		}
		normalise(post)
		lb := s.atLeast(post)
		bs = append(bs, branch{post, m, lb})
		rest += m * lb
	}
	if len(bs) < 2 && s.sure[a.index] {
		return math.Inf(1)
	}
	done := st.tests
	if !s.sure[a.index] {
		done = with(st.tests, a.index)
	}
	for _, b := range bs {
		if total+rest >= limit {
			return math.Inf(1)
		}
		rest -= b.m * b.lb
		next := state{b.p, done, st.repairs, access}
		d := depth - 1
		if s.narrow && b.m < negligible*10 {
			d = 0
		}
		total += b.m * s.value(next, d)
	}
	return total
}

func (s *search) followRepair(st state, r, depth int, limit float64) float64 {
	rep := &s.Repairs[r]
	cost, access := s.price(st, rep.Cost, rep.Access)
	post := s.afterFailure(st.p, r)
	m := normalise(post)
	if m < exactNumber {
		return cost
	}
	if cost+m*s.atLeast(post) >= limit {
		return math.Inf(1)
	}
	return cost + m*s.value(state{post, st.tests, with(st.repairs, r), access}, depth-1)
}

// afterFailure is the unnormalised belief after a repair that did not bring
// the unit back.
func (s *search) afterFailure(p []float64, r int) []float64 {
	post := slices.Clone(p)
	for _, c := range s.Repairs[r].Cures {
		moved := p[c.Hypothesis] * c.Chance
		post[c.Hypothesis] -= moved
		if c.Left >= 0 {
			post[c.Left] += moved
		}
	}
	for h := range post {
		post[h] = max(post[h], 0)
	}
	return post
}

// atLeast bounds the cost to go from below: every hypothesis needs at least
// its cheapest cure.
func (s *search) atLeast(p []float64) float64 {
	lb := 0.0
	for h, x := range p {
		if x > 0 {
			lb += x * s.cheap[h]
		}
	}
	return lb
}

// value is the least expected cost from a belief on.
func (s *search) value(st state, depth int) float64 {
	if depth <= 0 || s.nodes >= s.budget.Nodes {
		est, sure := s.estimate(st)
		if !sure {
			s.cut = true
		}
		return est
	}
	key := s.key(st)
	if v, ok := s.memo[key]; ok {
		return v
	}
	s.nodes++
	best := math.Inf(1)
	for _, a := range s.candidates(st, s.narrow) {
		best = min(best, s.follow(st, a, depth, best))
	}
	if math.IsInf(best, 1) {
		best, _ = s.estimate(st) // nothing left to try: the estimate prices giving up
	}
	s.memo[key] = best
	return best
}

// key identifies a state. Tests without noise are left out: what they told is
// in the belief.
func (s *search) key(st state) uint64 {
	const prime = 1099511628211
	k := uint64(14695981039346656037)
	mix := func(x uint64) {
		for range 8 {
			k = (k ^ x&0xff) * prime
			x >>= 8
		}
	}
	for _, x := range st.p {
		mix(uint64(math.Round(x * quantum)))
	}
	for _, x := range st.tests {
		mix(x)
	}
	for _, x := range st.repairs {
		mix(x)
	}
	mix(st.access)
	return k
}

package plan

import (
	"flag"
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/require"
)

// alphabetic is the exact optimum of a noise-free series chain, by dynamic
// programming over the stretches that may hold the fault: the optimal
// alphabetic tree where all costs are 1. It is written apart from the search.
func alphabetic(prior, costs []float64) float64 {
	n := len(prior)
	best := make([][]float64, n)
	for i := range best {
		best[i] = make([]float64, n)
	}
	for size := 2; size <= n; size++ {
		for i := 0; i+size <= n; i++ {
			j := i + size - 1
			w := 0.0
			for _, p := range prior[i : j+1] {
				w += p
			}
			best[i][j] = math.Inf(1)
			for k := i; k < j; k++ {
				best[i][j] = min(best[i][j], costs[k]*w+best[i][k]+best[k+1][j])
			}
		}
	}
	return best[0][n-1]
}

func ones(n int) []float64 {
	out := make([]float64, n)
	for i := range out {
		out[i] = 1
	}
	return out
}

// Published: Gilbert and Moore, Variable-Length Binary Encodings, Bell System
// Technical Journal 38 (1959) 933-967: the alphabetic code of space and the 26
// letters has mean length 4.1978. The letter table is from memory.
func TestAlphabeticCodeOfGilbertAndMoore(t *testing.T) {
	letters := []float64{.1859, .0642, .0127, .0218, .0317, .1031, .0208, .0152, .0467, .0575, .0008, .0049, .0321, .0198,
		.0574, .0632, .0152, .0008, .0484, .0514, .0796, .0228, .0083, .0175, .0013, .0164, .0005}
	require.InDelta(t, 4.1978, alphabetic(letters, ones(26)), 0.00005)
	p := series(letters, ones(26))
	r := Solve(p, DefaultBudget)
	t.Log(r.Nodes, r.Options[0])
	require.True(t, r.Exact)
	require.InDelta(t, 4.1978, r.Options[0].Total-locate, 0.0002)
}

// policyCost runs the planner at every belief that can come up and weighs
// what it does.
func policyCost(t *testing.T, p *Problem) float64 {
	r := Solve(p, DefaultBudget)
	require.NotEmpty(t, r.Options)
	o := r.Options[0]
	if o.Kind == DoRepair {
		left := newSearch(p, DefaultBudget)
		post := left.afterFailure(left.root().p, o.Index)
		m := normalise(post)
		if m < 1e-9 {
			return p.Repairs[o.Index].Cost
		}
		q := *p
		q.Prior = post
		return p.Repairs[o.Index].Cost + m*policyCost(t, &q)
	}
	total := p.Tests[o.Index].Cost
	for _, row := range p.Tests[o.Index].Chance {
		post, m := Update(p.Prior, row)
		if m > 0 {
			q := *p
			q.Prior = post
			total += m * policyCost(t, &q)
		}
	}
	return total
}

func randomSeries(rng *rand.Rand, stages int, equal bool) (prior, costs []float64) {
	sum := 0.0
	for range stages {
		x := rng.ExpFloat64() + 0.01
		prior = append(prior, x)
		sum += x
	}
	for i := range prior {
		prior[i] /= sum
	}
	costs = ones(stages - 1)
	if !equal {
		for i := range costs {
			costs[i] = 0.5 + 4.5*rng.Float64()
		}
	}
	return prior, costs
}

var chainsFlag = flag.Int("chains", 60, "random series chains per kind of cost")

// Random chains of perfect looks against the exact optimum and against the
// walk from the source.
func TestRandomSeriesChains(t *testing.T) {
	for _, equal := range []bool{true, false} {
		rng := rand.New(rand.NewPCG(4, 1))
		var got, want [13]float64
		var walked [13]float64
		for range *chainsFlag {
			n := 3 + rng.IntN(10)
			prior, costs := randomSeries(rng, n, equal)
			got[n] += policyCost(t, series(prior, costs)) - locate
			want[n] += alphabetic(prior, costs)
			walked[n] += walk(prior, costs)
		}
		all, best := 0.0, 0.0
		for n := range got {
			if want[n] > 0 {
				t.Logf("equal costs %v, %d stages, seed 4/1: %.5f of the optimum, %.3f of the walk from the source", equal, n, got[n]/want[n], got[n]/walked[n])
				require.LessOrEqual(t, got[n], walked[n]+1e-9)
			}
			all, best = all+got[n], best+want[n]
		}
		t.Logf("equal costs %v, all: %.6f of the optimum", equal, all/best)
		require.InDelta(t, 1, all/best, map[bool]float64{true: 0.005, false: 0.01}[equal])
	}
}

// Small problems with noisy looks and costs of all kinds: the narrowed search
// that large problems get, run to the verified repair, against the exact
// optimum.
func TestNarrowedSearchAgainstTheExactOptimum(t *testing.T) {
	rng := rand.New(rand.NewPCG(4, 2))
	got, want := 0.0, 0.0
	solved := 0
	for range *chainsFlag {
		p := noisyProblem(rng, 5)
		exact := Solve(p, Budget{Nodes: 200000, Width: 99})
		if !exact.Exact {
			continue
		}
		solved++
		want += exact.Options[0].Total
		got += narrowCost(newSearch(p, DefaultBudget).root(), p, 0)
	}
	require.Greater(t, solved, *chainsFlag/2)
	t.Logf("%d noisy problems, seed 4/2: %.4f of the exact optimum", solved, got/want)
	require.Less(t, got/want, 1.05)
}

func noisyProblem(rng *rand.Rand, n int) *Problem {
	prior, costs := randomSeries(rng, n, false)
	p := series(prior, costs)
	for i := range p.Tests {
		miss := 0.02 + 0.08*rng.Float64()
		for h := range prior {
			bad := miss
			if h <= i {
				bad = 1 - miss
			}
			p.Tests[i].Chance[0][h], p.Tests[i].Chance[1][h] = 1-bad, bad
		}
	}
	for h := range p.Repairs {
		p.Repairs[h].Cost = 5 + 60*rng.Float64()
	}
	return p
}

// narrowCost runs the planner as it runs on large problems, in every branch.
func narrowCost(st state, p *Problem, deep int) float64 {
	s := newSearch(p, DefaultBudget)
	s.memo, s.narrow = map[uint64]float64{}, true
	best, choice := math.Inf(1), action{}
	for _, a := range s.candidates(st, true) {
		if total := s.follow(st, a, 2, math.Inf(1)); total < best {
			best, choice = total, a
		}
	}
	if math.IsInf(best, 1) || deep > 40 {
		est, _ := s.estimate(st)
		return est
	}
	if choice.kind == DoRepair {
		rep := &p.Repairs[choice.index]
		post := s.afterFailure(st.p, choice.index)
		m := normalise(post)
		if m < 1e-9 {
			return rep.Cost
		}
		return rep.Cost + m*narrowCost(state{post, st.tests, with(st.repairs, choice.index), st.access}, p, deep+1)
	}
	test := &p.Tests[choice.index]
	total := test.Cost
	for _, row := range test.Chance {
		post, m := Update(st.p, row)
		if m > 1e-9 {
			total += m * narrowCost(state{post, with(st.tests, choice.index), st.repairs, st.access}, p, deep+1)
		}
	}
	return total
}

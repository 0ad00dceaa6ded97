package plan

import (
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

// Random chains of perfect looks against the exact optimum. The full count of
// chains runs with scripts/bench.
func TestRandomSeriesChains(t *testing.T) {
	for _, equal := range []bool{true, false} {
		rng := rand.New(rand.NewPCG(4, 1))
		got, want := 0.0, 0.0
		for range 60 {
			prior, costs := randomSeries(rng, 3+rng.IntN(10), equal)
			got += policyCost(t, series(prior, costs)) - locate
			want += alphabetic(prior, costs)
		}
		require.InDelta(t, 1, got/want, map[bool]float64{true: 0.005, false: 0.01}[equal])
		t.Logf("equal costs %v: %.6f of the optimum", equal, got/want)
	}
}

package plan

import (
	"math"
	"testing"

	"github.com/stretchr/testify/require"
)

// locate is dear to repair wrongly, so that the cheapest way is to find the
// one fault first; the cost of that repair is taken off again.
const locate = 1000

func series(prior, costs []float64) *Problem {
	p := &Problem{Prior: prior}
	for t := range costs {
		good, bad := make([]float64, len(prior)), make([]float64, len(prior))
		for h := range prior {
			if h > t {
				good[h] = 1
			} else {
				bad[h] = 1
			}
		}
		p.Tests = append(p.Tests, Test{Cost: costs[t], Access: -1, Chance: [][]float64{good, bad}})
	}
	for h := range prior {
		p.Repairs = append(p.Repairs, Repair{Cost: locate, Access: -1, Cures: []Cure{{h, 1, -1}}})
	}
	return p
}

var (
	exPrior = []float64{.15, .20, .35, .20, .10} // source, switch, cable, display board, panel
	exCosts = []float64{4, 3, 2, 5}
)

func first(t *testing.T, p *Problem) (Option, Result) {
	t.Helper()
	require.NoError(t, p.Check())
	r := Solve(p, DefaultBudget)
	require.NotEmpty(t, r.Options)
	return r.Options[0], r
}

func digits(t *testing.T, want, got float64, n int) {
	t.Helper()
	require.InDelta(t, want, got, 0.5001*math.Pow10(-n))
}

// Worked by hand: a series chain of five with perfect probes.
func TestSeriesChainOfFive(t *testing.T) {
	p := series(exPrior, []float64{1, 1, 1, 1})
	digits(t, 2.2016, Entropy(exPrior), 4)
	for i, want := range []float64{.6098, .9341, .8813, .4690} {
		digits(t, want, Gain(exPrior, &p.Tests[i]), 4)
	}
	o, r := first(t, p)
	require.True(t, r.Exact)
	require.Equal(t, Option{DoTest, 1, o.Total, o.Gain}, o, "the second probe first")
	digits(t, 2.30, o.Total-locate, 2)
	digits(t, 2.80, walk(exPrior, []float64{1, 1, 1, 1}), 2)

	p = series(exPrior, exCosts)
	for i, want := range []float64{.1525, .3114, .4406, .0938} {
		digits(t, want, Gain(exPrior, &p.Tests[i])/exCosts[i], 4)
	}
	o, _ = first(t, p)
	require.Equal(t, 2, o.Index, "with costs the third probe first")
	digits(t, 7.00, o.Total-locate, 2)
	digits(t, 9.35, walk(exPrior, exCosts), 2)

	bad, chance := Update(exPrior, p.Tests[2].Chance[1])
	digits(t, .70, chance, 2)
	for h, want := range []float64{3. / 14, 2. / 7, .5, 0, 0} {
		require.InDelta(t, want, bad[h], 1e-12)
	}
	digits(t, 1.4926, Entropy(bad), 4)
	digits(t, 1.0000, Gain(bad, &p.Tests[1]), 4)
	digits(t, .7496, Gain(bad, &p.Tests[0]), 4)
	digits(t, .3333, Gain(bad, &p.Tests[1])/3, 4)
	digits(t, .1874, Gain(bad, &p.Tests[0])/4, 4)
	good, _ := Update(exPrior, p.Tests[2].Chance[0])
	digits(t, .9183, Entropy(good), 4)
	require.InDelta(t, 2./3, good[3], 1e-12)
}

// walk is the cost of probing from the source on until a probe is bad.
func walk(prior, costs []float64) float64 {
	total, left := 0.0, 1.0
	for i, c := range costs {
		total += left * c
		left -= prior[i]
	}
	return total
}

// Worked by hand: the same probes with noise.
func TestNoisyProbes(t *testing.T) {
	p := series(exPrior, exCosts)
	for i := range p.Tests {
		for h := range exPrior {
			bad := .02
			if h <= i {
				bad = .95
			}
			p.Tests[i].Chance[0][h], p.Tests[i].Chance[1][h] = 1-bad, bad
		}
	}
	post, chance := Update(exPrior, p.Tests[2].Chance[1])
	digits(t, .671, chance, 3)
	for h, want := range []float64{.21237, .28316, .49553, .00596, .00298} {
		digits(t, want, post[h], 5)
	}
	post, chance = Update(exPrior, p.Tests[2].Chance[0])
	digits(t, .329, chance, 3)
	for h, want := range []float64{.02280, .03040, .05319, .59574, .29787} {
		digits(t, want, post[h], 5)
	}
	for i, want := range []float64{.4699, .7378, .6710, .3201} {
		digits(t, want, Gain(exPrior, &p.Tests[i]), 4)
	}
}

// Worked by hand: hot-plug low at the source, then the third probe.
func TestReturnEvidence(t *testing.T) {
	low := []float64{.10, .50, .40, .30, .01}
	high := make([]float64, len(low))
	for h := range low {
		high[h] = 1 - low[h]
	}
	post, chance := Update(exPrior, low)
	digits(t, .316, chance, 3)
	for h, want := range []float64{.0475, .3165, .4430, .1899, .0032} {
		digits(t, want, post[h], 4)
	}
	digits(t, .1055, Gain(exPrior, &Test{Cost: 1, Chance: [][]float64{low, high}}), 4)
	post, _ = Update(post, series(exPrior, exCosts).Tests[2].Chance[1])
	for h, want := range []float64{.0588, .3922, .5490, 0, 0} {
		digits(t, want, post[h], 4)
	}
}

// Worked by hand: repair order by probability over cost.
func TestRepairOrder(t *testing.T) {
	p := &Problem{Prior: exPrior}
	for h, c := range []float64{120, 60, 15, 70, 200} {
		p.Repairs = append(p.Repairs, Repair{Cost: c, Access: -1, Cures: []Cure{{h, 1, -1}}})
	}
	order, total := RepairOrder(p)
	require.Equal(t, []int{2, 1, 3, 0, 4}, order)
	digits(t, 135.5, total, 1)
	digits(t, 221.75, CostOfOrder(p, []int{0, 1, 2, 3, 4}), 2)
	o, r := first(t, p)
	require.True(t, r.Exact)
	digits(t, 135.5, o.Total, 1)
}

// Published: the troubleshooting exercise of Jensen and Nielsen, Bayesian
// Networks and Decision Graphs, 2nd edition 2007 (from memory); the best
// expected cost is computed.
func TestSoftwareTroubleshooting(t *testing.T) {
	p := &Problem{Prior: []float64{.8, .15, .05}, Repairs: []Repair{
		{1, -1, []Cure{{0, 1, -1}}},
		{2, -1, []Cure{{1, .95, -1}}},
		{25, -1, []Cure{{0, .99, -1}, {1, .99, -1}}},
		{500, -1, []Cure{{0, 1, -1}, {1, 1, -1}, {2, 1, -1}}},
	}}
	digits(t, 27.875, CostOfOrder(p, []int{0, 1, 2, 3}), 3)
	digits(t, 30.15, CostOfOrder(p, []int{0, 1, 3}), 2)
	o, r := first(t, p)
	require.True(t, r.Exact)
	require.Equal(t, 0, o.Index)
	digits(t, 27.875, o.Total, 3)
}

// Published: the test set of Pattipati and Alexandridis, IEEE Transactions on
// Systems, Man and Cybernetics 20 (1990) 872-887; the matrix is recalled, the
// optimum reproduced by exhaustive search.
func TestFiveTestsSixStates(t *testing.T) {
	p := &Problem{Prior: []float64{.70, .01, .02, .10, .05, .12}}
	rows := []string{"00000", "01001", "00110", "10011", "11000", "11110"}
	for k := range 5 {
		pass, fail := make([]float64, 6), make([]float64, 6)
		for h, row := range rows {
			if row[k] == '1' {
				fail[h] = 1
			} else {
				pass[h] = 1
			}
		}
		p.Tests = append(p.Tests, Test{Cost: 1, Access: -1, Chance: [][]float64{pass, fail}})
	}
	for h := range rows {
		p.Repairs = append(p.Repairs, Repair{Cost: locate, Access: -1, Cures: []Cure{{h, 1, -1}}})
	}
	o, r := first(t, p)
	require.True(t, r.Exact)
	digits(t, 2.18, o.Total-locate, 2)
}

// Package plan finds the cheapest way to a verified repair: which test, check
// or repair to do next when the cause is uncertain. It knows nothing of video;
// a problem is hypotheses with weights, tests with likelihoods, repairs with
// chances to cure, and what each costs.
package plan

import (
	"fmt"
	"math"
)

// Problem is one decision. All slices over hypotheses have len(Prior).
type Problem struct {
	Prior   []float64 // weight of each hypothesis, not below 0
	Tests   []Test
	Repairs []Repair
	// Access is what it costs to reach a place, paid once. Tests and repairs
	// name a place by its index, or -1.
	Access []float64
}

// Test is a look or a check.
type Test struct {
	Cost   float64
	Access int
	// Chance[o][h] is the probability of outcome o under hypothesis h; over
	// the outcomes it sums to 1.
	Chance [][]float64
}

// Repair is an action whose success is verified at once: its cost includes
// that.
type Repair struct {
	Cost   float64
	Access int
	Cures  []Cure
}

// Cure is what a repair does under one hypothesis.
type Cure struct {
	Hypothesis int
	Chance     float64
	// Left is the hypothesis that remains after a cure of one of two faults,
	// or -1 where everything then works.
	Left int
}

// Check reports what makes a problem no problem at all.
func (p *Problem) Check() error {
	n := len(p.Prior)
	sum := 0.0
	for h, w := range p.Prior {
		if w < 0 || math.IsNaN(w) {
			return fmt.Errorf("hypothesis %d has weight %g", h, w)
		}
		sum += w
	}
	if sum <= 0 {
		return fmt.Errorf("no hypothesis has any weight")
	}
	for t, test := range p.Tests {
		if test.Cost <= 0 {
			return fmt.Errorf("test %d costs %g", t, test.Cost)
		}
		for h := range n {
			total := 0.0
			for _, row := range test.Chance {
				total += row[h]
			}
			if math.Abs(total-1) > 1e-6 {
				return fmt.Errorf("test %d: the outcomes under hypothesis %d sum to %g", t, h, total)
			}
		}
	}
	curable := make([]bool, n)
	for r, rep := range p.Repairs {
		if rep.Cost <= 0 {
			return fmt.Errorf("repair %d costs %g", r, rep.Cost)
		}
		for _, c := range rep.Cures {
			if c.Chance < 0 || c.Chance > 1 {
				return fmt.Errorf("repair %d: chance %g", r, c.Chance)
			}
			curable[c.Hypothesis] = curable[c.Hypothesis] || c.Chance > 0
		}
	}
	for h, ok := range curable {
		if !ok && p.Prior[h] > 0 {
			return fmt.Errorf("no repair cures hypothesis %d", h)
		}
	}
	return nil
}

// Entropy is in bits.
func Entropy(p []float64) float64 {
	sum, h := 0.0, 0.0
	for _, x := range p {
		sum += x
	}
	if sum <= 0 {
		return 0
	}
	for _, x := range p {
		if x > 0 {
			h -= x / sum * math.Log2(x/sum)
		}
	}
	return h
}

// Gain is the mutual information, in bits, between a test's outcome and the
// hypotheses weighed by p.
func Gain(p []float64, t *Test) float64 {
	g := Entropy(p)
	sum := 0.0
	for _, x := range p {
		sum += x
	}
	post := make([]float64, len(p))
	for _, row := range t.Chance {
		m := 0.0
		for h := range p {
			post[h] = p[h] * row[h]
			m += post[h]
		}
		g -= m / sum * Entropy(post)
	}
	return max(g, 0)
}

// Update is the posterior after an outcome, normalised, and the probability of
// that outcome.
func Update(p []float64, row []float64) (post []float64, chance float64) {
	post = make([]float64, len(p))
	sum := 0.0
	for h := range p {
		post[h] = p[h] * row[h]
		chance += post[h]
		sum += p[h]
	}
	if chance <= 0 {
		return post, 0
	}
	for h := range post {
		post[h] /= chance
	}
	return post, chance / sum
}

package plan

import "math"

// giveUp prices a belief that no repair is left for, in units of the dearest
// repair: it must never look attractive.
const giveUp = 3

// estimate is the cost to go from a belief without searching: the repairs in
// the order of chance over cost. It can be kept to, so it is never too low;
// one that is too low makes a search put off what it has to do, because every
// idle step moves its own mistake out of sight. sure says that it is no
// estimate but the exact cost, because one repair is certain.
func (s *search) estimate(st state) (cost float64, sure bool) {
	best := s.sequence(st)
	if r := s.certain(st); r >= 0 {
		c, _ := s.price(st, s.Repairs[r].Cost, s.Repairs[r].Access)
		if c <= s.atLeast(st.p)+1e-9 {
			return c, true
		}
		best = min(best, c)
	}
	return best, false
}

// certain is a repair that cures every hypothesis left for sure, at the least
// price; -1 for none.
func (s *search) certain(st state) int {
	best := -1
	for r := range s.Repairs {
		if has(st.repairs, r) || best >= 0 && s.Repairs[r].Cost >= s.Repairs[best].Cost {
			continue
		}
		m := 0.0
		for _, c := range s.Repairs[r].Cures {
			if c.Left < 0 {
				m += st.p[c.Hypothesis] * c.Chance
			}
		}
		if m > 1-1e-9 {
			best = r
		}
	}
	return best
}

// sequence is the expected cost of repairing without any test, each time the
// repair with most chance for its cost (optimal where one fault has one
// repair, costs independent).
func (s *search) sequence(st state) float64 {
	_, total := s.repairOrder(st)
	return total
}

func (s *search) repairOrder(st state) (order []int, total float64) {
	p := append([]float64(nil), st.p...)
	done := append([]uint64(nil), st.repairs...)
	access := st.access
	left, dearest := 1.0, 0.0
	for left > 1e-6 {
		best, score, price := -1, 0.0, 0.0
		var opened uint64
		for r := range s.Repairs {
			dearest = max(dearest, s.Repairs[r].Cost)
			if has(done, r) {
				continue
			}
			m := s.curing(p, r)
			c, a := s.price(state{access: access}, s.Repairs[r].Cost, s.Repairs[r].Access)
			if m > 1e-9 && m/c > score {
				best, score, price, opened = r, m/c, c, a
			}
		}
		if best < 0 {
			return order, total + left*giveUp*dearest
		}
		order = append(order, best)
		total += left * price
		p = s.afterFailure(p, best)
		left = 0
		for _, x := range p {
			left += x
		}
		done[best/64] |= 1 << (best % 64)
		access = opened
	}
	return order, total
}

// doubt is the entropy, in bits, over which repair is needed: hypotheses with
// the same cheapest cure need not be told apart.
func (s *search) doubt(p []float64) float64 {
	clear(s.sums)
	total := 0.0
	for h, x := range p {
		s.sums[s.group[h]] += x
		total += x
	}
	if total <= 0 {
		return 0
	}
	d := 0.0
	for _, x := range s.sums {
		if x > 0 {
			d -= x / total * math.Log2(x/total)
		}
	}
	return d
}

// tells is how much of that doubt a test is expected to take away.
func (s *search) tells(p []float64, t int) float64 {
	g, total := s.doubt(p), 0.0
	for _, x := range p {
		total += x
	}
	for _, row := range s.Tests[t].Chance {
		clear(s.sums)
		m := 0.0
		for h, x := range p {
			if w := x * row[h]; w > 0 {
				s.sums[s.group[h]] += w
				m += w
			}
		}
		if m <= 0 {
			continue
		}
		d := 0.0
		for _, x := range s.sums {
			if x > 0 {
				d -= x / m * math.Log2(x/m)
			}
		}
		g -= m / total * d
	}
	return max(g, 0)
}

// RepairOrder is the order in which to try repairs without any further test,
// by chance over cost, and its expected cost until one works.
func RepairOrder(p *Problem) (order []int, total float64) {
	s := newSearch(p, Budget{})
	return s.repairOrder(s.root())
}

// CostOfOrder is the expected cost of trying repairs in the given order until
// one works; what none of them cures is not counted further.
func CostOfOrder(p *Problem, order []int) float64 {
	s := newSearch(p, Budget{})
	st := s.root()
	total, left := 0.0, 1.0
	b := st.p
	for _, r := range order {
		total += left * s.Repairs[r].Cost
		b = s.afterFailure(b, r)
		left = 0
		for _, x := range b {
			left += x
		}
	}
	if math.IsNaN(total) {
		return 0
	}
	return total
}

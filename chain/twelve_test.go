package chain

import (
	"fmt"
	"testing"
)

// longChain has n stages: a source, switches and extenders in turn, a scaler
// and a panel.
func longChain(t testing.TB, n int) *Chain {
	t.Helper()
	y := "version: 1\nequipment: long run\nstages:\n  - {id: s0, kind: source}\n"
	for i := 1; i < n-2; i++ {
		y += fmt.Sprintf("  - {id: s%d, kind: %s, ddc: buffers, hot_plug: buffers}\n", i, []string{"extender", "switch"}[i%2])
	}
	y += fmt.Sprintf("  - {id: s%d, kind: scaler}\n  - {id: s%d, kind: panel}\nlinks:\n", n-2, n-1)
	for i := 0; i < n-2; i++ {
		y += fmt.Sprintf("  - {id: c%d, kind: hdmi, from: s%d, to: s%d}\n", i+1, i, i+1)
	}
	y += fmt.Sprintf("  - {id: p1, kind: panel, from: s%d, to: s%d}\n", n-2, n-1)
	y += "rails:\n  - {id: main, volts: 12, feeds: [s0"
	for i := 1; i < n; i++ {
		y += fmt.Sprintf(", s%d", i)
	}
	y += "]}\nexpect:\n  - {at: s" + fmt.Sprint(n-2) + ", timing: 1280x1024@60, limits: {pixel_clock: 25 to 135 MHz}}\n"
	c, err := Parse("long.yaml", []byte(y))
	if err != nil {
		t.Fatal(err)
	}
	return c
}

func BenchmarkUpdate(b *testing.B) {
	for _, n := range []int{4, 6, 8, 10, 12} {
		b.Run(fmt.Sprintf("stages=%d", n), func(b *testing.B) {
			c, cat := longChain(b, n), catalogueForTest(b)
			l := darkUp("c2.display")
			bel := newBelief(c, cat)
			b.ReportMetric(float64(len(bel.hyp)), "hypotheses")
			for b.Loop() {
				bel.update(c.observeLook(&l))
			}
		})
	}
}

func BenchmarkPlan(b *testing.B) {
	for _, n := range []int{4, 6, 8, 10, 12} {
		b.Run(fmt.Sprintf("stages=%d", n), func(b *testing.B) {
			c, cat := longChain(b, n), catalogueForTest(b)
			l := darkUp("c2.display")
			bel := newBelief(c, cat)
			bel.update(c.observeLook(&l))
			for b.Loop() {
				nextSteps(bel, Evidence{Looks: []Look{l}})
			}
		})
	}
}

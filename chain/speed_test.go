package chain

import (
	"runtime"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

// fastest is the shortest of several runs: what the code needs, not what a
// busy machine adds.
func fastest(n int, f func()) time.Duration {
	best := time.Hour
	for range n {
		start := time.Now()
		f()
		best = min(best, time.Since(start))
	}
	return best
}

// For 12 stages with pairs one update takes under 5 ms and one plan under
// 150 ms, within 50 MiB.
func TestTwelveStagesStayQuick(t *testing.T) {
	c, cat := longChain(t, 12), catalogueForTest(t)
	var before, after runtime.MemStats
	runtime.GC()
	runtime.ReadMemStats(&before)
	b := newBelief(c, cat)
	looks := []Look{darkUp("c6.display"), goodUp("c5.display", c.Expect[0].Timing), badDown("c5.source")}
	update := fastest(3, func() {
		for i := range looks {
			b.update(c.observeLook(&looks[i]))
		}
	}) / time.Duration(len(looks))
	ev := Evidence{Looks: looks}
	plan := fastest(3, func() { nextSteps(b, ev) })
	runtime.ReadMemStats(&after)
	used := float64(after.TotalAlloc-before.TotalAlloc) / (1 << 20)
	t.Logf("%d hypotheses: update %v, plan %v, %.1f MiB allocated in all", len(b.hyp), update, plan, used)
	require.Greater(t, len(b.hyp), len(b.inst)*len(b.inst)/2, "pairs are there")
	require.Less(t, update, 5*time.Millisecond)
	require.Less(t, plan, 150*time.Millisecond)
	require.Less(t, used, 50.0, "even what was freed again counts here")
	runtime.KeepAlive(b)
}

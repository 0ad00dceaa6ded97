package chain

import (
	"encoding/json"
	"testing"

	"github.com/stretchr/testify/require"
)

func TestExplainWeighsEachLook(t *testing.T) {
	c, cat := loadTestChain(t, "departure-board"), catalogueForTest(t)
	ev := Evidence{
		Looks:  []Look{goodUp("c2.source", c.Expect[0].Timing), darkUp("c2.display")},
		Checks: []HandCheck{{Kind: CheckMenu, Answer: "shows"}}}
	x, err := Explain(c, cat, ev, "c2", "cable-tmds-open")
	require.NoError(t, err)
	require.Greater(t, x.Posterior, 5*x.Prior)
	require.Equal(t, "c2.display up", x.For[0].Evidence)
	require.Contains(t, x.For[0].Sentence, "there is no signal")
	y, err := Explain(c, cat, ev, "source", "source-dead")
	require.NoError(t, err)
	require.Equal(t, "c2.source up", y.Against[0].Evidence)
	require.Less(t, y.Posterior, y.Prior)
	_, err = Explain(c, cat, ev, "c2", "source-dead")
	require.ErrorContains(t, err, `the mode "source-dead" of part "c2" is not in this chain`)
}

func TestWhatIfCoversAllOutcomes(t *testing.T) {
	c, cat := loadTestChain(t, "departure-board"), catalogueForTest(t)
	ev := Evidence{Checks: []HandCheck{blackScreen}}
	all, err := WhatIf(c, cat, ev, "c2.display", Up)
	require.NoError(t, err)
	sum := 0.0
	for _, s := range all {
		sum += s.P
		if s.Outcome == "all good" {
			require.NotContains(t, []string{"source", "c1", "switch", "c2"}, s.Suspects[0].Part)
		}
		if s.Outcome == "no signal" {
			require.NotContains(t, []string{"panel", "p1", "scaler"}, s.Suspects[0].Part)
		}
	}
	require.InDelta(t, 1, sum, 0.01)
}

// No reading carries weight unless it was measured.
func TestUnknownCarriesNoWeight(t *testing.T) {
	c, cat := loadTestChain(t, "departure-board"), catalogueForTest(t)
	before := Diagnose(c, cat, Evidence{Checks: []HandCheck{blackScreen}})
	empty := Look{Plug: "c1.display", Facing: Up, Up: &UpReadings{
		Signal: Reading[Signal]{State: CouldNotRead, Failure: FailTimeout}}}
	after := Diagnose(c, cat, Evidence{Checks: []HandCheck{blackScreen}, Looks: []Look{empty}})
	require.Equal(t, len(before.Suspects), len(after.Suspects))
	for i := range before.Suspects {
		require.Equal(t, before.Suspects[i].Part, after.Suspects[i].Part)
		require.InDelta(t, before.Suspects[i].P, after.Suspects[i].P, 1e-9)
	}
}

// A source that reads another EDID than the panel's may send another timing,
// and one that sees no hot-plug may send nothing.
func TestWhatTheBenchPresentedCounts(t *testing.T) {
	c, cat := loadTestChain(t, "departure-board"), catalogueForTest(t)
	dark := darkUp("c1.display")
	dark.Presented.HotPlug = got(false)
	r := Diagnose(c, cat, Evidence{Looks: []Look{dark}})
	require.NotEqual(t, FaultFound, r.Verdict)
	dark.Presented.HotPlug = got(true)
	r = Diagnose(c, cat, Evidence{Looks: []Look{dark}})
	require.Equal(t, FaultFound, r.Verdict)
}

// Ten looks at one plug that nobody touched are not ten witnesses.
func TestUntouchedLooksShareAnIntermittentsState(t *testing.T) {
	c, cat := loadTestChain(t, "departure-board"), catalogueForTest(t)
	one := goodUp("c2.display", c.Expect[0].Timing)
	loose := func(n int, apart bool) float64 {
		var ev Evidence
		for range n {
			ev.Looks = append(ev.Looks, one)
			if apart {
				ev.Looks = append(ev.Looks, goodUp("c1.display", c.Expect[0].Timing))
			}
		}
		b := newBelief(c, cat)
		b.take(ev)
		return b.marginal(b.find("c2.source", "plug-loose"))
	}
	require.InDelta(t, loose(1, false), loose(10, false), 0.25*loose(1, false))
	require.Less(t, loose(10, true), 0.5*loose(10, false))
}

// A repair opens a new epoch: what was seen before it speaks of the state
// before it, and a repair that did not help brings the next suspect up.
func TestRepairsOpenEpochs(t *testing.T) {
	c, cat := loadTestChain(t, "departure-board"), catalogueForTest(t)
	ev := Evidence{Looks: []Look{goodUp("c2.source", c.Expect[0].Timing), darkUp("c2.display")}}
	r := Diagnose(c, cat, ev)
	require.Equal(t, "c2", r.Suspects[0].Part)
	failed := ev
	failed.Actions = []Action{{Epoch: 1, Part: "c2", Repair: "swap-hdmi-cable", Outcome: StillBad}}
	r = Diagnose(c, cat, failed)
	require.NotEqual(t, "c2", r.Suspects[0].Part)
	require.Empty(t, r.Findings, "nothing was looked at in the new epoch")
	ev.Actions = []Action{{Epoch: 1, Part: "c2", Repair: "swap-hdmi-cable", Outcome: Works}}
	ev.Looks = append(ev.Looks, goodUp("c2.display", c.Expect[0].Timing))
	ev.Looks[2].Epoch = 1
	r = Diagnose(c, cat, ev)
	require.Equal(t, Healthy, r.Verdict)
}

func TestContradictionIsNamed(t *testing.T) {
	c, cat := loadTestChain(t, "departure-board"), catalogueForTest(t)
	r := Diagnose(c, cat, Evidence{Looks: []Look{darkUp("c1.display"), goodUp("c2.display", c.Expect[0].Timing)}})
	require.NotEmpty(t, r.Contradictions)
	require.Contains(t, r.Contradictions[0].Sentence, "intermittent")
}

func TestDiagnosisIsDeterministicAndJSON(t *testing.T) {
	c, cat := loadTestChain(t, "totem-long"), catalogueForTest(t)
	ev := Evidence{Looks: []Look{darkUp("c2.display"), badDown("c1.source")}, Checks: []HandCheck{blackScreen}}
	first, err := json.Marshal(Diagnose(c, cat, ev))
	require.NoError(t, err)
	for range 3 {
		again, err := json.Marshal(Diagnose(c, cat, ev))
		require.NoError(t, err)
		require.Equal(t, string(first), string(again))
	}
}

func TestHistoryTeachesPriors(t *testing.T) {
	c, cat := loadTestChain(t, "departure-board"), catalogueForTest(t)
	var a, b History
	for range 30 {
		a.Close("bench-1", c.Equipment, "cable-tmds-open")
	}
	b.Close("bench-2", c.Equipment, "")
	b.Close("bench-2", "another unit", "source-dead")
	a.Merge(b)
	a.Merge(b) // once more counts nothing twice
	data, err := a.Encode()
	require.NoError(t, err)
	back, err := ParseHistory("h.json", data)
	require.NoError(t, err)
	require.Equal(t, a, *back)

	taught, shown, err := cat.Learn(c, a, CatalogueJobs)
	require.NoError(t, err)
	sum := 0.0
	for _, l := range shown {
		sum += l.Share
		if l.Mode == "cable-tmds-open" {
			require.Equal(t, 30, l.Counted)
			// Dirichlet: (100 x share + 30) / (100 + 31).
			require.InDelta(t, (CatalogueJobs*l.Catalogue+30)/131, l.Share, 1e-12)
			require.InDelta(t, CatalogueJobs*l.Catalogue/(CatalogueJobs*l.Catalogue+30), l.OfCatalogue, 1e-12)
		}
	}
	require.InDelta(t, 1, sum, 1e-9)
	require.Equal(t, "cable-tmds-open", Diagnose(c, taught, Evidence{}).Suspects[0].Mode)

	same, _, err := cat.Learn(c, History{}, CatalogueJobs)
	require.NoError(t, err)
	x, y := newBelief(c, cat), newBelief(c, same)
	for h := range x.logw {
		require.InDelta(t, x.logw[h], y.logw[h], 1e-9, "without jobs nothing changes")
	}
	_, err = ParseHistory("h.json", []byte(`{"version": 3}`))
	require.EqualError(t, err, "h.json: history version 3: this program reads version 1")
}

func TestDrawFaultIsRepeatable(t *testing.T) {
	c, cat := loadTestChain(t, "totem-long"), catalogueForTest(t)
	seen := map[string]bool{}
	for seed := range uint64(60) {
		part, mode := DrawFault(c, cat, seed)
		again, _ := DrawFault(c, cat, seed)
		require.Equal(t, part, again)
		seen[mode] = true
	}
	require.Greater(t, len(seen), 10)
}

// The outcomes that a plan reckons with are all there are: under every
// hypothesis their chances sum to 1 before anything is scaled.
func TestOutcomesAreComplete(t *testing.T) {
	for _, name := range []string{"departure-board", "totem-long"} {
		c, cat := loadTestChain(t, name), catalogueForTest(t)
		for k := range c.Expect {
			c.Expect[k].EDIDSHA256 = "some"
		}
		b := newBelief(c, cat)
		ev := Evidence{Looks: []Look{darkUp("c2.display")}, Checks: []HandCheck{blackScreen}}
		b.take(ev)
		hyp := make([]int, len(b.hyp))
		for i := range hyp {
			hyp[i] = i
		}
		for _, p := range b.possibleSteps(ev) {
			sum := make([]float64, len(hyp))
			for _, o := range p.outcomes {
				for _, obs := range o.obs {
					b.predict(obs, b.keeps(obs), hyp, sum)
				}
			}
			for h, s := range sum {
				require.InDelta(t, 1, s, 1e-6, "%s under %v", p.step.Do, b.hyp[h])
			}
		}
	}
}

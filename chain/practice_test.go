package chain

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

func display(plug, answer string) HandCheck {
	return HandCheck{Kind: CheckDisplay, At: plug, Answer: answer, InputSelected: got(true), CableProven: got(true), TimingAccepted: got(true)}
}

// places sums the suspects by where they are.
func places(c *Chain, r Report, in func(Part) bool) float64 {
	sum := 0.0
	for _, s := range r.Suspects {
		for _, p := range c.Parts() {
			if p.ID == s.Part && in(p) {
				sum += s.P
			}
		}
	}
	return sum
}

func partByID(c *Chain, id string) Part {
	for _, p := range c.Parts() {
		if p.ID == id {
			return p
		}
	}
	return Part{At: -1}
}

var blackScreen = HandCheck{Kind: CheckScreen, Answer: "black"}

// Common practice, no source: a known-good display fed from the cable that
// enters the scaler shows a picture, so scaler, panel cable and panel are the
// suspects and nothing upstream. The contact at the scaler's own socket stays:
// the display proves the cable's plug, not the socket.
func TestPictureAtTheScalerClearsEverythingUpstream(t *testing.T) {
	c, cat := loadTestChain(t, "departure-board"), catalogueForTest(t)
	r := Diagnose(c, cat, Evidence{Checks: []HandCheck{blackScreen, display("c2.display", "picture")}})
	require.Equal(t, FaultFound, r.Verdict)
	for _, id := range r.Overlap {
		p := partByID(c, id)
		require.True(t, p.Kind == PartRail || p.At >= plugPlace(1, DisplayEnd), "%s is upstream", id)
	}
	for _, id := range []string{"scaler", "p1", "panel"} {
		require.Contains(t, r.Overlap, id)
	}
	require.Less(t, places(c, r, func(p Part) bool { return p.Kind != PartSetting && p.At >= 0 && p.At < plugPlace(1, DisplayEnd) }), 0.2, "mostly pairs and false readings")
	for _, s := range r.Suspects[:5] {
		p := partByID(c, s.Part)
		require.True(t, p.Kind == PartRail || p.At >= plugPlace(1, DisplayEnd), "%s is upstream", s.Part)
	}
}

// Common practice, no source: it shows nothing, so source, switch and the
// cables between are the suspects and never the panel.
func TestNothingAtTheScalerClearsThePanel(t *testing.T) {
	c, cat := loadTestChain(t, "departure-board"), catalogueForTest(t)
	r := Diagnose(c, cat, Evidence{Checks: []HandCheck{blackScreen, display("c2.display", "nothing")}})
	for _, id := range []string{"source", "c1", "switch", "c2"} {
		require.Contains(t, r.Overlap, id)
	}
	for _, id := range []string{"scaler", "p1", "panel"} {
		require.NotContains(t, r.Overlap, id)
	}
	for _, s := range r.Suspects[:8] {
		require.Less(t, partByID(c, s.Part).At, stagePlace(2), s.Part)
	}
}

// A display whose input, cable and timing were not made sure of may be black
// for reasons of its own, so it tells less.
func TestFalseBlackOfADisplay(t *testing.T) {
	c, cat := loadTestChain(t, "departure-board"), catalogueForTest(t)
	sure := Diagnose(c, cat, Evidence{Checks: []HandCheck{blackScreen, display("c2.display", "nothing")}})
	unsure := Diagnose(c, cat, Evidence{Checks: []HandCheck{blackScreen, {Kind: CheckDisplay, At: "c2.display", Answer: "nothing"}}})
	beyond := func(p Part) bool { return p.At >= stagePlace(2) }
	require.Greater(t, places(c, unsure, beyond), 2*places(c, sure, beyond))
}

// Common practice, no source: where nothing lights, the supply comes first.
func TestSupplyFirstWhereNothingLights(t *testing.T) {
	c, cat := loadTestChain(t, "departure-board"), catalogueForTest(t)
	r := Diagnose(c, cat, Evidence{Checks: []HandCheck{
		{Kind: CheckIndicators, At: "source", Answer: "dark"},
		{Kind: CheckIndicators, At: "switch", Answer: "dark"},
		{Kind: CheckIndicators, At: "scaler", Answer: "dark"},
		{Kind: CheckBacklight, Answer: "dark"}}})
	require.Equal(t, "rail:main", r.Suspects[0].Part)
	require.Contains(t, r.Overlap, "rail:main")
	s := r.Next[0]
	require.True(t, s.Part == "rail:main" || s.Check == CheckSupply, s.Do)
	require.Contains(t, strings.Join(s.Cautions, " "), "ains")
}

// Common practice, no source: reseat before swap, and power is plugged last.
func TestReseatBeforeSwapAndPowerLast(t *testing.T) {
	c, cat := loadTestChain(t, "departure-board"), catalogueForTest(t)
	r := Diagnose(c, cat, Evidence{
		Looks:  []Look{goodUp("c2.source", c.Expect[0].Timing), darkUp("c2.display")},
		Checks: []HandCheck{{Kind: CheckWiggle, At: "c2.source", Answer: "comes"}}})
	require.Equal(t, "c2.source", r.Suspects[0].Part)
	for _, s := range r.Next {
		if s.Kind == StepRepair {
			require.Equal(t, "reseat", s.Repair, s.Do)
			break
		}
	}
	require.Contains(t, cat.repair("power-cycle").Do, "plug power last")
}

func TestNothingLookedAt(t *testing.T) {
	c, cat := loadTestChain(t, "departure-board"), catalogueForTest(t)
	r := Diagnose(c, cat, Evidence{})
	require.Equal(t, NothingSeen, r.Verdict)
	require.False(t, r.Forward.Known)
	require.False(t, r.Return.Known)
	require.Empty(t, r.Overlap)
	require.Contains(t, []StepKind{StepLook, StepManual}, r.Next[0].Kind, "look before any repair")
	require.InDelta(t, cat.NoFault.V, r.NothingWrong, 1e-9)
}

package main

import (
	"fmt"
	"os"
	"slices"
	"testing"

	"github.com/stretchr/testify/require"

	"deadhop/chain"
	"deadhop/ddc/sim"
)

// sweepDetails are the ways in which a kind of fault is staged; "" is the
// kind alone.
var sweepDetails = map[string][]string{
	"output-driver":  {"", "pair: red", "pair: blue", "pair: clock"},
	"wrong-mode":     {"mode: {vic: 4}", "mode: {dmt: 0x45}", "mode: {vic: 1}"},
	"loose":          {"chance: 1", "chance: 1, wires: [red]", "chance: 1, wires: [clock]", "chance: 1, wires: [scl]", "chance: 1, wires: [five-volts]"},
	"wire-open":      {"wires: [scl]", "wires: [sda]", "wires: [hot-plug]", "wires: [five-volts]"},
	"wire-resistive": {"ohms: 500"},
	"pair-open":      {"pair: red", "pair: green", "pair: blue", "pair: clock"},
	"pair-lossy":     {"above_khz: 90000, pair: red", "above_khz: 90000, pair: blue"},
	"own-edid":       {"edid: {built: {maker: XQZ, product: 3, name: OTHER, timing: {vic: 4}, hdmi: true, sound: true}}"},
	"wrong-edid":     {"edid: {built: {maker: XQZ, product: 3, name: OTHER, timing: {vic: 4}, hdmi: true, sound: true}}"},
	"corrupt":        {"bytes: [{at: 21, is: 7}]", "bytes: [{at: 0, is: 7}]"},
	"lane-open":      {"lane: 0", "lane: 2", "lane: 3"},
	"capacitors":     {"chance: 1"},
	"unplugged":      {}, // the bench's visit cures it, so nothing is left to find
}

// TestEveryFaultOnEveryPart stages every kind of fault on every part of both
// chains that can have it. The physics know faults that the catalogue has no
// mode for, so not all can be named; what is missed is logged.
func TestEveryFaultOnEveryPart(t *testing.T) {
	if testing.Short() {
		t.Skip("several hundred diagnoses")
	}
	cat, err := chain.DefaultCatalogue()
	require.NoError(t, err)
	staged, named := 0, 0
	for _, equipment := range []string{"departure-board", "totem-long"} {
		path := "../../testdata/chains/" + equipment + ".yaml"
		data, err := os.ReadFile(path)
		require.NoError(t, err)
		c, err := chain.Parse(path, data)
		require.NoError(t, err)
		for _, part := range c.Parts() {
			for _, kind := range sim.FaultKinds() {
				details, ok := sweepDetails[kind]
				if !ok {
					details = []string{""}
				}
				for _, d := range details {
					f := stagedFault{equipment: equipment, part: part.ID, fault: "kind: " + kind}
					if d != "" {
						f.fault += ", " + d
					}
					if !stageable(t, f) {
						continue
					}
					c, ev := inspectAll(t, f)
					r := chain.Diagnose(c, cat, ev)
					staged++
					if slices.Contains(r.Overlap, f.part) {
						named++
						continue
					}
					best := "nothing"
					if len(r.Suspects) > 0 {
						best = fmt.Sprintf("%s %s %.2f", r.Suspects[0].Part, r.Suspects[0].Mode, r.Suspects[0].P)
					}
					t.Logf("missed: %s %s, %s: %s; overlap %v, first %s", f.equipment, f.part, f.fault, r.Verdict, r.Overlap, best)
				}
			}
		}
	}
	t.Logf("%d staged, %d in the named overlap", staged, named)
	require.Greater(t, staged, 250)
	require.GreaterOrEqual(t, named*100, 85*staged)
}

// stageable reports whether the fault can sit on its part.
func stageable(t *testing.T, f stagedFault) bool {
	t.Helper()
	path, whole := wholeBench(t, f.equipment)
	b, err := sim.Load(path, []byte(withFault(whole, f)))
	if err != nil {
		require.Regexp(t, "cannot sit on|no pull-ups of its own", err.Error())
		return false
	}
	return b.Close() == nil
}

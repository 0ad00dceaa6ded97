package main

import (
	"fmt"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"deadhop/chain"
)

// stagedFault is one fault put on a simulated piece of equipment whose
// physics know nothing of the diagnosis.
type stagedFault struct {
	equipment string // chain file and bench file of this name
	part      string // where it sits
	fault     string // the rest of the fault, as in a bench file
	rounds    int    // how often all plugs are looked at, for what comes and goes; 0 is once
}

var stagedFaults = []stagedFault{
	// The source, and what it is set to.
	{equipment: "departure-board", part: "source", fault: "kind: no-boot"},
	{equipment: "departure-board", part: "source", fault: "kind: regulator"},
	{equipment: "departure-board", part: "source", fault: "kind: output-driver, pair: red"},
	{equipment: "departure-board", part: "source", fault: "kind: output-driver, pair: blue"},
	{equipment: "departure-board", part: "source", fault: "kind: five-volts-open"},
	{equipment: "departure-board", part: "setting:mode", fault: "kind: wrong-mode, mode: {dmt: 0x52}"},
	{equipment: "totem-long", part: "setting:mode", fault: "kind: wrong-mode, mode: {dmt: 0x10}"},
	{equipment: "totem-long", part: "player", fault: "kind: no-boot"},
	// Cables and their plugs, by position and by what they carry.
	{equipment: "departure-board", part: "c1", fault: "kind: pair-open, pair: blue"},
	{equipment: "departure-board", part: "c1", fault: "kind: pair-open, pair: green"},
	{equipment: "departure-board", part: "c1", fault: "kind: wire-open, wires: [scl]"},
	{equipment: "departure-board", part: "c1", fault: "kind: wire-open, wires: [five-volts]"},
	{equipment: "departure-board", part: "c2", fault: "kind: wire-open, wires: [hot-plug]"},
	{equipment: "departure-board", part: "c2", fault: "kind: wire-open, wires: [sda]"},
	{equipment: "departure-board", part: "c2", fault: "kind: pair-open, pair: clock"},
	{equipment: "totem-long", part: "c1", fault: "kind: wire-open, wires: [hot-plug]"},
	{equipment: "totem-long", part: "c2", fault: "kind: pair-lossy, pair: green, above_khz: 100000"},
	{equipment: "totem-long", part: "c3", fault: "kind: wire-open, wires: [five-volts]"},
	{equipment: "totem-long", part: "c3", fault: "kind: pair-open, pair: red"},
	{equipment: "departure-board", part: "c1.source", fault: "kind: loose, chance: 1"},
	{equipment: "departure-board", part: "c1.display", fault: "kind: loose, chance: 1"},
	{equipment: "departure-board", part: "c2.source", fault: "kind: loose, chance: 1"},
	{equipment: "totem-long", part: "c3.display", fault: "kind: loose, chance: 1, wires: [blue, clock]"},
	{equipment: "departure-board", part: "c2.display", fault: "kind: loose, chance: 0.5", rounds: 4},
	{equipment: "totem-long", part: "c3.source", fault: "kind: loose, chance: 0.5", rounds: 4},
	{equipment: "departure-board", part: "c1.source", fault: "kind: loose, chance: 1, half: socket"},
	{equipment: "departure-board", part: "c2.display", fault: "kind: loose, chance: 1, half: socket"},
	{equipment: "totem-long", part: "c2.source", fault: "kind: loose, chance: 1, wires: [five-volts], half: socket"},
	{equipment: "totem-long", part: "c2.display", fault: "kind: loose, chance: 1, wires: [red]"},
	// Switch and extender.
	{equipment: "departure-board", part: "switch", fault: "kind: regulator"},
	{equipment: "departure-board", part: "switch", fault: "kind: port-dead"},
	{equipment: "departure-board", part: "switch", fault: "kind: ddc-buffer-dead"},
	{equipment: "departure-board", part: "switch", fault: "kind: hot-plug-dead"},
	{equipment: "totem-long", part: "switch", fault: "kind: regulator"},
	{equipment: "totem-long", part: "switch", fault: "kind: hot-plug-dead"},
	{equipment: "totem-long", part: "setting:edid:switch", fault: "kind: own-edid, edid: {built: {maker: XQZ, product: 2, name: SPLIT, timing: {vic: 4}, hdmi: true, sound: true}}"},
	{equipment: "totem-long", part: "setting:edid:switch", fault: "kind: corrupt, bytes: [{at: 21, is: 7}]"},
	{equipment: "totem-long", part: "extender", fault: "kind: unsteady"},
	{equipment: "totem-long", part: "extender", fault: "kind: regulator"},
	// The scaler and the EDID it holds.
	{equipment: "departure-board", part: "scaler", fault: "kind: regulator"},
	{equipment: "departure-board", part: "scaler", fault: "kind: input-dead"},
	{equipment: "departure-board", part: "scaler", fault: "kind: panel-output"},
	{equipment: "totem-long", part: "scaler", fault: "kind: regulator"},
	{equipment: "departure-board", part: "setting:edid:scaler", fault: "kind: corrupt, bytes: [{at: 54, is: 0}, {at: 55, is: 0}]"},
	{equipment: "totem-long", part: "setting:edid:scaler", fault: "kind: wrong-edid, edid: {built: {maker: XQZ, product: 3, name: SPARE, timing: {dmt: 0x23}}}"},
	// The panel and its cable.
	{equipment: "departure-board", part: "p1", fault: "kind: lane-open, lane: 0"},
	{equipment: "totem-long", part: "p1", fault: "kind: vdd-open"},
	{equipment: "departure-board", part: "panel", fault: "kind: glass"},
	{equipment: "departure-board", part: "panel", fault: "kind: panel-supply"},
	{equipment: "totem-long", part: "panel", fault: "kind: backlight"},
	// Supplies, and the bench itself.
	{equipment: "departure-board", part: "rail:main", fault: "kind: no-output"},
	{equipment: "departure-board", part: "rail:main", fault: "kind: capacitors, chance: 1"},
	{equipment: "departure-board", part: "rail:main", fault: "kind: capacitors, chance: 0.5", rounds: 4},
	{equipment: "totem-long", part: "rail:five", fault: "kind: no-output"},
	{equipment: "totem-long", part: "rail:brick", fault: "kind: no-output"},
	{equipment: "departure-board", part: "lead", fault: "kind: pair-open, pair: blue"},
	{equipment: "totem-long", part: "lead", fault: "kind: wire-open, wires: [five-volts]"},
}

// Every fault must lie in the named overlap, and come first among the
// suspects in at least 20 of 24.
func TestStagedFaults(t *testing.T) {
	cat, err := chain.DefaultCatalogue()
	require.NoError(t, err)
	first := 0
	var later []string
	for _, f := range stagedFaults {
		name := f.equipment + "/" + f.part + "/" + f.fault
		t.Run(name, func(t *testing.T) {
			c, ev := inspectAll(t, f)
			r := chain.Diagnose(c, cat, ev)
			require.Equal(t, chain.FaultFound, r.Verdict, r.Summary)
			require.Contains(t, r.Overlap, f.part, "the named overlap; forward: %s return: %s", r.Forward.Sentence, r.Return.Sentence)
			require.NotEmpty(t, r.Suspects)
			if r.Suspects[0].Part == f.part {
				first++
				return
			}
			var list []string
			for _, s := range r.Suspects[:min(4, len(r.Suspects))] {
				list = append(list, fmt.Sprintf("%s %s %.2f", s.Part, s.Mode, s.P))
			}
			later = append(later, name+" behind "+strings.Join(list, "; "))
		})
	}
	t.Logf("first in %d of %d", first, len(stagedFaults))
	for _, l := range later {
		t.Log(l)
	}
	require.GreaterOrEqual(t, first*24, 20*len(stagedFaults))
}

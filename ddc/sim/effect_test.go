package sim_test

import (
	"fmt"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"deadhop/ddc"
	"deadhop/ddc/sim"
)

// everything that can be seen of a bench, as text. The questions come first:
// a look seats the plug that it opens.
func everything(t *testing.T, b *sim.Bench) string {
	t.Helper()
	var s strings.Builder
	for _, q := range []sim.Question{sim.MenuVisible, sim.BacklightOn, sim.FaintPicture, sim.OwnScreen, sim.OwnSound} {
		fmt.Fprintf(&s, "%s %+v\n", q, ask(t, b, q, ""))
	}
	fmt.Fprintf(&s, "%+v\n", ask(t, b, sim.SupplyVolts, "rail:main"))
	for _, plug := range b.Plugs() {
		u := up(t, b, plug)
		u.Presented = ddc.Value[[]byte]{}
		fmt.Fprintf(&s, "%s up %+v\n", plug, u)
		d := down(t, b, plug)
		d.Log = nil
		fmt.Fprintf(&s, "%s down %+v\n", plug, d)
	}
	return s.String()
}

// Every kind of fault must show somewhere, on every sort of part it can sit
// on: one that shows nowhere is no fault.
func TestEveryKindOfFaultShows(t *testing.T) {
	healthy := everything(t, with(t))
	parts := map[string][]string{}
	for _, p := range []string{"player", "selector", "scaler", "panel", "c1", "p1", "c1.source", "c2.display", "p1.source", "rail:main", "lead", "setting:mode", "setting:edid:selector", "setting:edid:scaler"} {
		parts[p] = nil
	}
	details := "mode: {vic: 4}, edid: {built: {maker: XQZ, product: 2, name: OTHER, timing: {vic: 4}}}, bytes: [{at: 30, is: 1}], " +
		"wires: [five-volts], ohms: 5000, above_khz: 1000, lane: 0, chance: 1"
	staged := map[string]int{}
	for _, kind := range sim.FaultKinds() {
		for part := range parts {
			text := plain + "faults:\n  - {part: '" + part + "', kind: " + kind + ", " + details + "}\n"
			b, err := sim.Load("test.yaml", []byte(text))
			if err != nil {
				require.Regexp(t, "cannot sit on|no pull-ups of its own", err.Error(), "%s on %s", kind, part)
				continue
			}
			staged[kind]++
			if kind == "corrupt" && part == "setting:edid:selector" {
				continue // this selector holds no EDID to corrupt
			}
			assert.NotEqual(t, healthy, everything(t, b), "%s on %s shows nowhere", kind, part)
			require.NoError(t, b.Close())
		}
	}
	for _, kind := range sim.FaultKinds() {
		assert.Positive(t, staged[kind], "%s sits on no part of a chain", kind)
	}
}

// What a repeater does with the return path, in each of its ways. Buffers
// that wake only with +5 V and a hot-plug that is high are from a component
// data sheet; the rest is common practice, no source.
func TestReturnPathOfRepeaters(t *testing.T) {
	const passes = "ddc: passes, hot_plug: passes"
	const own = ", edid: {built: {maker: ZQX, product: 5, name: OWN, timing: {vic: 4}}}"
	for _, c := range []struct {
		name, repeater, fault string
		hotPlug, ack          bool
		bytes                 int
	}{
		{"passing, powered", passes, "", true, true, 256},
		{"passing, dead", passes, "{part: selector, kind: regulator}", false, false, 0},
		{"passing, display without hot-plug", passes, "{part: scaler, kind: hot-plug-dead}", false, true, 256},
		{"buffering, display without hot-plug", "ddc: buffers, hot_plug: passes", "{part: scaler, kind: hot-plug-dead}", false, false, 0},
		{"buffering, good display", "ddc: buffers, hot_plug: passes", "", true, true, 256},
		{"buffering, its pull-ups gone", "ddc: buffers, hot_plug: passes", "{part: selector, kind: pull-up-missing}", true, false, 0},
		{"answering, display gone", "ddc: answers, hot_plug: driven" + own, "{part: c2, kind: wire-open, wires: [hot-plug, scl]}", true, true, 128},
		{"answering from pin 18 while dead", "ddc: answers, hot_plug: wired" + own, "{part: selector, kind: regulator}", true, true, 128},
		{"driven hot-plug needs the board", "ddc: answers, hot_plug: driven" + own, "{part: selector, kind: regulator}", false, true, 128},
	} {
		t.Run(c.name, func(t *testing.T) {
			var faults []string
			if c.fault != "" {
				faults = []string{c.fault}
			}
			b := changed(t, []string{passes, c.repeater}, faults...)
			d := down(t, b, "c1.source")
			assert.Equal(t, c.hotPlug, d.HotPlug.V, "hot-plug")
			assert.Equal(t, c.ack, d.Ack.V, "acknowledge")
			assert.Len(t, d.EDID.V, c.bytes)
		})
	}
}

// A repeater's own supply feeds pin 18 of its output, unless it passes on
// what comes in.
func TestFiveVoltsBehindARepeater(t *testing.T) {
	dead := "{part: selector, kind: regulator}"
	assert.False(t, up(t, with(t, dead), "c2.display").Power5V.V)
	through := changed(t, []string{"ddc: passes", "five_volts: passes, ddc: passes"}, dead)
	assert.True(t, up(t, through, "c2.display").Power5V.V)
	cut := "{part: c1, kind: wire-open, wires: [five-volts]}"
	assert.True(t, up(t, with(t, cut), "c2.display").Power5V.V)
	through = changed(t, []string{"ddc: passes", "five_volts: passes, ddc: passes"}, cut)
	assert.False(t, up(t, through, "c2.display").Power5V.V)
}

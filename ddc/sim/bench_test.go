package sim_test

import (
	"context"
	"os"
	"path/filepath"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"deadhop/ddc"
	"deadhop/ddc/sim"
	"deadhop/edid"
)

const loosePlug = "{part: c1.display, kind: loose, chance: 0.5}"

// Looks repeated without a touch see the same; a touch draws anew, with about
// the stated chance, and the same seed gives the same run.
func TestIntermittentFaults(t *testing.T) {
	ctx := context.Background()
	run := func() (seen []bool) {
		b := with(t, loosePlug)
		for range 400 {
			first := up(t, b, "c1.display").Power5V.V
			again := in(t, b).LookUp(ctx, ddc.UpOptions{}).Power5V.V
			require.Equal(t, first, again, "untouched")
			seen = append(seen, first)
		}
		return seen
	}
	first := run()
	assert.Equal(t, first, run())
	good := 0
	for _, x := range first {
		if x {
			good++
		}
	}
	// 400 draws at one half: within 4 standard deviations of 10.
	assert.InDelta(t, 200, good, 40)
}

// A source reads a noisy bus once and keeps to what it read.
func TestNoisyBusDoesNotFlickerUntouched(t *testing.T) {
	b := with(t, "{part: c1, kind: wire-open, wires: [ground]}")
	seen := map[string]bool{}
	for range 20 {
		first := up(t, b, "c1.display").Timing.V
		for range 3 {
			require.Equal(t, first, in(t, b).LookUp(context.Background(), ddc.UpOptions{}).Timing.V)
		}
		seen[first.Size()] = true
	}
	assert.True(t, seen["640x480"], "at 3 wrong bits in 100 bytes most reads fail: %v", seen)
}

func TestRepairs(t *testing.T) {
	for _, c := range []struct {
		fault, part, wrong, right string
	}{
		{"{part: c1, kind: wire-open, wires: [scl]}", "c1", "reseat", "swap"},
		{"{part: c1.display, kind: unplugged}", "c1.display", "reset", "reseat"},
		{"{part: c1.display, kind: loose, chance: 1}", "c1", "reset", "reseat"},
		{"{part: 'setting:mode', kind: wrong-mode, mode: {vic: 1}}", "setting:mode", "swap", "set-mode"},
		{"{part: 'setting:edid:scaler', kind: corrupt, bytes: [{at: 0, is: 1}]}", "setting:edid:scaler", "reset", "rewrite-edid"},
		{"{part: selector, kind: hung}", "rail:main", "swap", "reset"},
		{"{part: selector, kind: hung}", "selector", "reseat", "reset"},
		{"{part: scaler, kind: input-dead}", "scaler", "reset", "swap"},
		{"{part: rail:main, kind: no-output}", "rail:main", "reset", "swap"},
		{"{part: lead, kind: pair-open}", "lead", "reset", "swap"},
		{"{part: panel, kind: backlight, cured_by: [reseat]}", "panel", "swap", "reseat"},
	} {
		b := with(t, c.fault)
		require.NoError(t, b.Repair(c.part, c.wrong))
		assert.Len(t, b.Hidden(), 1, "%s after %s", c.fault, c.wrong)
		require.NoError(t, b.Repair("c2", "swap")) // another part
		assert.Len(t, b.Hidden(), 1)
		require.NoError(t, b.Repair(c.part, c.right))
		assert.Empty(t, b.Hidden(), "%s after %s", c.fault, c.right)
	}
	b := with(t)
	require.ErrorContains(t, b.Repair("c9", "swap"), `"c9" is no part of this equipment`)
	require.ErrorContains(t, b.Repair("c1", "hit"), `unknown action "hit"`)
}

// The bench's visit puts a plug in that had come out, and destroys the
// evidence with it.
func TestVisitSeatsAPlug(t *testing.T) {
	b := with(t, "{part: c2.source, kind: unplugged}")
	assert.Equal(t, sim.ScreenMessage, ask(t, b, sim.OwnScreen, "").Screen)
	assert.False(t, up(t, b, "c2.display").Power5V.V, "one end away it is still out")
	assert.True(t, down(t, b, "c2.source").Ack.V)
	b.Disconnect()
	assert.Equal(t, sim.ScreenPicture, ask(t, b, sim.OwnScreen, "").Screen)
}

// A bad lead of the bench spoils every look, and nothing of the equipment.
func TestBadLead(t *testing.T) {
	b := with(t, "{part: lead, kind: pair-open, pair: blue}")
	for _, plug := range b.Plugs() {
		assert.Equal(t, ddc.Got(ddc.NoLock), up(t, b, plug).Signal)
	}
	assert.Equal(t, sim.ScreenPicture, ask(t, b, sim.OwnScreen, "").Screen)
	assert.True(t, ask(t, b, sim.GoodDisplay, "c1.display").Yes, "a display brings its own cable")
}

func TestWithdrawnEDIDLeavesTheSourceSilent(t *testing.T) {
	ctx := context.Background()
	b := with(t)
	require.NoError(t, b.Connect("c1.display", "up"))
	p := in(t, b)
	require.NoError(t, p.PresentEDID(ctx, nil))
	u := p.LookUp(ctx, ddc.UpOptions{})
	assert.Equal(t, ddc.Got(true), u.Power5V)
	assert.Equal(t, ddc.Got(ddc.NoSignal), u.Signal)
	require.ErrorIs(t, u.Timing.Err, ddc.ErrNoSignal)
	require.Error(t, p.PresentEDID(ctx, make([]byte, 127)))
	got, err := p.PresentedEDID(ctx)
	require.NoError(t, err)
	assert.Empty(t, got)
}

func TestEventsAndConnections(t *testing.T) {
	ctx, cancel := context.WithCancel(context.Background())
	b := with(t)
	events, err := b.Watch(ctx)
	require.NoError(t, err)
	require.NoError(t, b.Connect("c1.display", "up"))
	require.NoError(t, b.Connect("c2.source", "down"))
	b.Disconnect()
	b.Disconnect()
	var got []ddc.Event
	for range 5 {
		e := <-events
		e.At = time.Time{}
		got = append(got, e)
	}
	assert.Equal(t, []ddc.Event{
		{Kind: ddc.Plugged, Port: "in:sim"}, {Kind: ddc.SignalChanged, Port: "in:sim"},
		{Kind: ddc.Unplugged, Port: "in:sim"}, {Kind: ddc.Plugged, Port: "out:sim"}, {Kind: ddc.Unplugged, Port: "out:sim"},
	}, got)
	cancel()
	_, open := <-events
	assert.False(t, open)

	for _, c := range []struct{ plug, facing, err string }{
		{"c9.source", "up", `there is no plug "c9.source"`},
		{"c1", "up", `there is no plug "c1"`},
		{"p1.source", "down", "panel link"},
		{"c1.source", "left", `not "left"`},
	} {
		require.ErrorContains(t, b.Connect(c.plug, c.facing), c.err)
	}
	plug, facing := b.Connected()
	assert.Empty(t, plug+facing)
}

// A reader that does not keep up is told that it missed something.
func TestLostEventsAreTold(t *testing.T) {
	b := with(t)
	events, err := b.Watch(context.Background())
	require.NoError(t, err)
	for range 100 {
		require.NoError(t, b.Connect("c1.source", "down"))
	}
	for range 64 {
		require.NotEqual(t, ddc.EventsLost, (<-events).Kind)
	}
	b.Disconnect()
	assert.Equal(t, ddc.EventsLost, (<-events).Kind)
	require.NoError(t, b.Close())
	require.NoError(t, b.Close())
	_, err = b.Ports(context.Background())
	require.Error(t, err)
}

func TestAnswersMustFitTheEquipment(t *testing.T) {
	b := with(t)
	for _, c := range []struct {
		q      sim.Question
		target string
	}{
		{sim.IndicatorsLit, "nobody"}, {sim.SupplyVolts, "main"}, {sim.GoodDisplay, "p1.source"},
		{sim.WiggleSpotted, "c9"}, {"colour-of-the-box", ""},
	} {
		_, err := b.Ask(c.q, c.target)
		require.Error(t, err, c.q)
	}
	loose := with(t, loosePlug)
	assert.True(t, ask(t, loose, sim.WiggleSpotted, "c1").Yes)
	assert.False(t, ask(t, loose, sim.WiggleSpotted, "c2").Yes)
}

// What the simulated displays show must be beyond doubt: the decoder, which
// is other code, finds nothing wrong in it.
func TestBuiltEDIDIsClean(t *testing.T) {
	for _, timing := range []string{"{vic: 16}", "{vic: 4}", "{dmt: 0x10}", "{dmt: 0x23}",
		"{clock_khz: 76420, h: [1366, 48, 32, 146], v: [768, 3, 5, 24], positive: [h, v]}"} {
		b := changed(t, []string{"timing: {vic: 16}", "timing: " + timing})
		d := down(t, b, "c2.display")
		e, err := edid.Decode(d.EDID.V)
		require.NoError(t, err)
		for _, i := range e.Issues {
			assert.Greater(t, i.Severity, edid.BreaksStandard, "%s: %+v", timing, i)
		}
		want := up(t, b, "c2.display").Timing.V
		got, ok := e.Preferred()
		require.True(t, ok)
		assert.Equal(t, want, got, "the source sends what the EDID asks for")
	}
}

func TestEDIDFromFile(t *testing.T) {
	dir := t.TempDir()
	e := fourBlocks()
	require.NoError(t, os.WriteFile(filepath.Join(dir, "panel.bin"), e, 0o600))
	text := "stages:\n  - {id: a, kind: source}\n  - {id: b, kind: scaler, edid: {file: panel.bin}, native: {vic: 16}}\nlinks:\n  - {id: c1, from: a, to: b, kind: hdmi}\n"
	b, err := sim.Load(filepath.Join(dir, "bench.yaml"), []byte(text))
	require.NoError(t, err)
	assert.Equal(t, e, down(t, b, "c1.source").EDID.V)
	_, err = sim.Load("elsewhere/bench.yaml", []byte(text))
	require.EqualError(t, err, "elsewhere/bench.yaml:3:33: cannot read the EDID: open elsewhere/panel.bin: no such file or directory")
}

// Half of a contact sits on the cable, half on the board. The bench mates
// with the cable's half when it looks through the cable, and with the board's
// when it looks into the board.
func TestHalvesOfAContact(t *testing.T) {
	for _, c := range []struct {
		half                            string
		upDisplay, downDisplay          bool
		upSource, downSource, neighbour bool
	}{
		{"plug", false, true, true, false, true},
		{"socket", true, false, true, false, true},
	} {
		b := with(t, "{part: c2.display, kind: loose, chance: 1, half: "+c.half+"}")
		assert.Equal(t, c.upDisplay, up(t, b, "c2.display").Power5V.V, c.half)
		assert.Equal(t, c.downDisplay, down(t, b, "c2.display").Ack.V, c.half)
		assert.Equal(t, c.upSource, up(t, b, "c2.source").Power5V.V, c.half)
		assert.Equal(t, c.downSource, down(t, b, "c2.source").Ack.V, c.half)
		assert.Equal(t, c.neighbour, up(t, b, "c1.display").Power5V.V, c.half)
		assert.Equal(t, sim.ScreenMessage, ask(t, b, sim.OwnScreen, "").Screen)
	}
}

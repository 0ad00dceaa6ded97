package sim_test

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"deadhop/ddc"
	"deadhop/ddc/sim"
)

func TestWholeChainIsGoodEverywhere(t *testing.T) {
	b := with(t)
	for _, plug := range b.Plugs() {
		u := up(t, b, plug)
		assert.Equal(t, ddc.Got(true), u.Power5V, plug)
		assert.Equal(t, ddc.Got(ddc.Locked), u.Signal, plug)
		assert.Equal(t, ddc.Got(ddc.PicturePlausible), u.Picture, plug)
		assert.Equal(t, ddc.Got(true), u.Sound, plug)
		assert.Equal(t, "1920x1080", u.Timing.V.Size(), plug)
		d := down(t, b, plug)
		assert.Equal(t, ddc.Got(true), d.HotPlug, plug)
		assert.Equal(t, ddc.Got(true), d.RxSense, plug)
		assert.Equal(t, ddc.Got(true), d.Ack, plug)
		assert.Equal(t, ddc.Got(true), d.Stable, plug)
		assert.Len(t, d.EDID.V, 256, plug)
	}
	assert.Equal(t, sim.ScreenPicture, ask(t, b, sim.OwnScreen, "").Screen)
	assert.True(t, ask(t, b, sim.OwnSound, "").Yes)
}

// What each open wire does to a type A connector, by pin. The pinout is HDMI
// 1.4b section 4.1.3; the symptoms are common practice, no source, and follow
// from what each wire carries.
func TestOpenWires(t *testing.T) {
	wire := func(w string) string { return "{part: c2, kind: wire-open, wires: [" + w + "]}" }
	for _, c := range []struct {
		name, fault     string
		hotPlug, ack    bool
		termination     bool
		signal          ddc.Signal
		picture         ddc.PictureKind
		height          uint32
		sound, power    bool
		ownScreenIsGood bool
	}{
		{"pins 1 and 3, red", wire("red"), true, true, true, ddc.Locked, ddc.PictureLaneMissing, 1080, false, true, false},
		{"pins 4 and 6, green", wire("green"), true, true, true, ddc.Locked, ddc.PictureLaneMissing, 1080, false, true, false},
		{"pins 7 and 9, blue and sync", wire("blue"), true, true, true, ddc.NoLock, 0, 0, false, true, false},
		{"pins 10 and 12, clock", wire("clock"), true, true, false, ddc.NoSignal, 0, 0, false, true, false},
		{"pin 15, SCL", wire("scl"), true, false, true, ddc.Locked, ddc.PicturePlausible, 480, false, true, true},
		{"pin 16, SDA", wire("sda"), true, false, true, ddc.Locked, ddc.PicturePlausible, 480, false, true, true},
		{"pin 18, +5 V", wire("five-volts"), false, false, true, ddc.NoSignal, 0, 0, false, false, false},
		{"pin 19, hot-plug", wire("hot-plug"), false, true, true, ddc.NoSignal, 0, 0, false, true, false},
	} {
		t.Run(c.name, func(t *testing.T) {
			b := with(t, c.fault)
			d := down(t, b, "c2.source")
			assert.Equal(t, ddc.Got(c.hotPlug), d.HotPlug, "hot-plug")
			assert.Equal(t, ddc.Known, d.Ack.State)
			assert.Equal(t, c.ack, d.Ack.V, "acknowledge")
			assert.Equal(t, ddc.Got(c.termination), d.RxSense, "termination")
			u := up(t, b, "c2.display")
			assert.Equal(t, ddc.Got(c.power), u.Power5V, "+5 V")
			assert.Equal(t, c.signal, u.Signal.V, "signal")
			assert.Equal(t, c.picture, u.Picture.V, "picture")
			assert.Equal(t, c.height, u.Timing.V.V.Active, "lines")
			assert.Equal(t, c.sound, u.Sound.V, "sound")
			assert.Equal(t, c.ownScreenIsGood, ask(t, b, sim.OwnScreen, "").Yes)
			// The other hop and the other side of the same one are whole.
			assert.Equal(t, ddc.Got(true), down(t, b, "c2.display").Ack)
			assert.Equal(t, ddc.Got(ddc.Locked), up(t, b, "c2.source").Signal)
		})
	}
}

// A source whose hot-plug input is open is silent although DDC reads;
// sources that ignore hot-plug send. Common practice, no source.
func TestSourceThatIgnoresHotPlug(t *testing.T) {
	b := changed(t, []string{"kind: source}", "kind: source, ignores_hot_plug: true}"},
		"{part: c1, kind: wire-open, wires: [hot-plug]}")
	u := up(t, b, "c1.display")
	require.Equal(t, ddc.Got(ddc.Locked), u.Signal)
	assert.Equal(t, "1920x1080", u.Timing.V.Size())
}

// One half of a pair gone: low rates work, 1080p does not. Common practice,
// no source.
func TestLossyPairHealsAtALowerClock(t *testing.T) {
	lossy := "{part: c2, kind: pair-lossy, pair: green, above_khz: 80000}"
	u := up(t, with(t, lossy), "c2.display")
	assert.Equal(t, ddc.PictureNoise, u.Picture.V)
	assert.False(t, u.Sound.V)
	slow := changed(t, []string{"kind: source}", "kind: source, mode: {vic: 4}}"}, lossy)
	u = up(t, slow, "c2.display")
	assert.Equal(t, "1280x720", u.Timing.V.Size())
	assert.Equal(t, ddc.PicturePlausible, u.Picture.V)
}

// Without the source's pull-up 47 kilohm are left, and a rise time of tens of
// microseconds (HDMI 1.4b section 4.2.8 for the resistors, UM10204 for the
// limit of 1 us): nothing is heard at 100 kHz, and the source falls back.
func TestMissingPullUp(t *testing.T) {
	u := up(t, with(t, "{part: player, kind: pull-up-missing}"), "c1.display")
	assert.Equal(t, "640x480", u.Timing.V.Size())
	assert.False(t, u.Sound.V)
}

// 2 kilohm and 750 pF take 1.22 us, beyond UM10204's 1.0 us: reads begin to
// differ, they do not all fail.
func TestTooMuchCapacitanceMakesReadsDiffer(t *testing.T) {
	b := changed(t, []string{"to: scaler, kind: hdmi}", "to: scaler, kind: hdmi, picofarads: 1400}"})
	d := down(t, b, "c2.source")
	assert.Equal(t, ddc.Got(true), d.Ack)
	assert.Equal(t, ddc.Got(false), d.Stable)
}

// VESA E-DDC 1.2 section 2.2.5 and HDMI 1.4b section 8.5 want the EDID
// readable from the source's +5 V alone, and hot-plug follows it; termination
// needs the sink's own supply.
func TestUnpoweredScalerStillShowsItsEDID(t *testing.T) {
	b := with(t, "{part: scaler, kind: regulator}")
	d := down(t, b, "c2.display")
	assert.Equal(t, ddc.Got(true), d.HotPlug)
	assert.Equal(t, ddc.Got(true), d.Ack)
	assert.Len(t, d.EDID.V, 256)
	assert.Equal(t, ddc.Got(false), d.RxSense)
	assert.False(t, ask(t, b, sim.MenuVisible, "").Yes)
	assert.False(t, ask(t, b, sim.BacklightOn, "").Yes)
	assert.False(t, ask(t, b, sim.IndicatorsLit, "scaler").Yes)
	assert.True(t, ask(t, b, sim.IndicatorsLit, "player").Yes)
}

// 60 ohms in pin 18 drop 0.6 V at the 10 mA of a powered sink, which it
// stands, and 3 V at the 50 mA of a dark one (currents: HDMI 1.4b section
// 4.2.7), which takes hot-plug with it.
func TestResistiveFiveVoltWire(t *testing.T) {
	drop := "{part: c2, kind: wire-resistive, ohms: 60}"
	assert.True(t, down(t, with(t, drop), "c2.source").HotPlug.V)
	d := down(t, with(t, drop, "{part: scaler, kind: regulator}"), "c2.source")
	assert.False(t, d.HotPlug.V)
	assert.False(t, d.Ack.V)
}

// A short at pin 18 of a sink shows only while the sink is plugged in.
func TestFiveVoltShortShowsOnlyWithItsLoad(t *testing.T) {
	b := with(t, "{part: scaler, kind: five-volts-short}")
	assert.Equal(t, ddc.Got(true), up(t, b, "c2.display").Power5V)
	d := down(t, b, "c2.source")
	assert.False(t, d.HotPlug.V)
	assert.False(t, d.Ack.V)
	assert.Equal(t, sim.ScreenMessage, ask(t, b, sim.OwnScreen, "").Screen)
}

// A shorted load takes the whole rail with it.
func TestSupplyShortPullsTheRailDown(t *testing.T) {
	b := with(t, "{part: selector, kind: supply-short}")
	assert.Equal(t, sim.Answer{Volts: 0}, ask(t, b, sim.SupplyVolts, "rail:main"))
	assert.False(t, ask(t, b, sim.IndicatorsLit, "").Yes)
	assert.False(t, up(t, b, "c1.display").Power5V.V)
	require.NoError(t, b.Repair("selector", "swap"))
	assert.Equal(t, sim.Answer{Volts: 24, Yes: true}, ask(t, b, sim.SupplyVolts, "rail:main"))
	assert.True(t, up(t, b, "c1.display").Power5V.V)
}

// A known-good display tells the halves apart (common practice, no source):
// at the cable that enters the scaler it shows a picture whatever is wrong
// from the scaler on, and whatever is wrong before it shows there.
func TestKnownGoodDisplayAtTheScaler(t *testing.T) {
	for _, f := range []string{
		"{part: scaler, kind: regulator}", "{part: scaler, kind: input-dead}", "{part: scaler, kind: panel-output}",
		"{part: scaler, kind: panel-table}", "{part: p1, kind: vdd-open}", "{part: p1, kind: lane-open, lane: 1}",
		"{part: panel, kind: backlight}", "{part: panel, kind: panel-supply}", "{part: panel, kind: glass}",
	} {
		b := with(t, f)
		assert.True(t, ask(t, b, sim.GoodDisplay, "c2.display").Yes, f)
		assert.False(t, ask(t, b, sim.OwnScreen, "").Yes, f)
	}
	for _, f := range []string{
		"{part: player, kind: no-boot}", "{part: player, kind: output-driver}", "{part: c1, kind: pair-open, pair: clock}",
		"{part: c1.source, kind: unplugged}", "{part: selector, kind: regulator}", "{part: selector, kind: port-dead}",
		"{part: c2, kind: wire-open, wires: [five-volts]}", "{part: rail:main, kind: no-output}",
	} {
		b := with(t, f)
		assert.False(t, ask(t, b, sim.GoodDisplay, "c2.display").Yes, f)
		assert.False(t, ask(t, b, sim.OwnScreen, "").Yes, f)
	}
}

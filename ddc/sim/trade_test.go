package sim_test

import (
	"testing"

	"github.com/stretchr/testify/assert"

	"deadhop/ddc"
	"deadhop/ddc/sim"
)

// The trade's signs, hop by hop (common practice, no source): what a fault
// does to the forward path at the hop after it and to the return path at the
// hop before it. A sign is + good, - absent, x wrong, ? not asserted.
//
// forward: 5 V, lock, timing, picture, sound; back: hot-plug, acknowledge,
// EDID as it should be, termination.
var tradeSigns = []struct {
	id, fault     string
	after, before string // plugs; "" where there is none
	forward, back string
	screen        sim.Screen
}{
	{"S1 source dead", "{part: player, kind: no-boot}", "c1.display", "", "--???", "", sim.ScreenMessage},
	{"S2 TMDS driver", "{part: player, kind: output-driver, pair: red}", "c1.display", "", "+++x-", "", sim.ScreenColour},
	{"S2 TMDS driver, all", "{part: player, kind: output-driver}", "c1.display", "", "+-???", "", sim.ScreenMessage},
	{"S3 5 V limiter open", "{part: player, kind: five-volts-open}", "c1.display", "", "--???", "", sim.ScreenMessage},
	{"S4 wrong mode", "{part: 'setting:mode', kind: wrong-mode, mode: {dmt: 0x10}}", "c1.display", "", "++x++", "", sim.ScreenPicture},
	{"S4 mode out of range", "{part: 'setting:mode', kind: wrong-mode, mode: {dmt: 0x45}}", "c1.display", "", "+x???", "", sim.ScreenMessage},
	{"C1 plug out", "{part: c1, kind: pair-open}", "c1.display", "c1.source", "+-???", "+++-", sim.ScreenMessage},
	{"C2 DDC wire", "{part: c2, kind: wire-open, wires: [scl]}", "c2.display", "c2.source", "++x+-", "+-?+", sim.ScreenPicture},
	{"C2 hot-plug wire", "{part: c2, kind: wire-open, wires: [hot-plug]}", "c2.display", "c2.source", "+-???", "-+++", sim.ScreenMessage},
	{"C2 +5 V wire", "{part: c2, kind: wire-open, wires: [five-volts]}", "c2.display", "c2.source", "--???", "--?+", sim.ScreenMessage},
	{"C3 pair open", "{part: c2, kind: pair-open, pair: blue}", "c2.display", "c2.source", "+-???", "++++", sim.ScreenMessage},
	{"C3 pair lossy", "{part: c2, kind: pair-lossy, pair: red, above_khz: 100000}", "c2.display", "c2.source", "+++x-", "++++", sim.ScreenSparkles},
	{"W1 switch unpowered", "{part: selector, kind: regulator}", "c2.display", "c1.source", "--???", "--?-", sim.ScreenMessage},
	{"W2 port dead", "{part: selector, kind: port-dead}", "c2.display", "c1.source", "--???", "--?-", sim.ScreenMessage},
	{"W3 own EDID", "{part: 'setting:edid:selector', kind: own-edid, edid: {built: {maker: ZQX, product: 1, name: OLD, timing: {dmt: 0x10}, hdmi: true, sound: true}}}",
		"c2.display", "c1.source", "++x++", "++x+", sim.ScreenPicture},
	{"W4 DDC buffer", "{part: selector, kind: ddc-buffer-dead}", "c2.display", "c1.source", "++x+-", "+-?+", sim.ScreenPicture},
	{"W4 hot-plug buffer", "{part: selector, kind: hot-plug-dead}", "c2.display", "c1.source", "+-???", "-+++", sim.ScreenMessage},
	{"X1 unsteady repeater", "{part: selector, kind: unsteady}", "c2.display", "c1.source", "+-???", "++x+", sim.ScreenMessage},
	{"D1 scaler rail", "{part: scaler, kind: regulator}", "c2.display", "c2.source", "+++++", "+++-", sim.ScreenDark},
	{"D2 HDMI input dead", "{part: scaler, kind: input-dead}", "c2.display", "c2.source", "+++++", "+++-", sim.ScreenMessage},
	{"D3 panel table", "{part: scaler, kind: panel-table}", "c2.display", "c2.source", "+++++", "++++", sim.ScreenGarbled},
	{"D4 LVDS output dead", "{part: scaler, kind: panel-output}", "c2.display", "c2.source", "+++++", "++++", sim.ScreenBlack},
	{"D5 sound stage", "{part: scaler, kind: sound-stage}", "c2.display", "c2.source", "+++++", "++++", sim.ScreenPicture},
	{"E1 EDID corrupt", "{part: 'setting:edid:scaler', kind: corrupt, bytes: [{at: 60, is: 1}]}", "", "c2.source", "", "++x+", sim.ScreenPicture},
	{"E2 wrong EDID", "{part: 'setting:edid:scaler', kind: wrong-edid, edid: {built: {maker: ZQX, product: 1, name: OLD, timing: {dmt: 0x10}}}}",
		"", "c2.source", "", "++x+", sim.ScreenPicture},
	{"L1 LVDS lane", "{part: p1, kind: lane-open, lane: 0}", "c2.display", "c2.source", "+++++", "++++", sim.ScreenLines},
	{"L2 LVDS supply", "{part: p1, kind: vdd-open}", "c2.display", "c2.source", "+++++", "++++", sim.ScreenWhite},
	{"P1 T-con converter", "{part: panel, kind: panel-supply}", "c2.display", "c2.source", "+++++", "++++", sim.ScreenWhite},
	{"P2 glass", "{part: panel, kind: glass}", "c2.display", "c2.source", "+++++", "++++", sim.ScreenBand},
	{"B1 backlight", "{part: panel, kind: backlight}", "c2.display", "c2.source", "+++++", "++++", sim.ScreenDark},
	{"U1 supply capacitors", "{part: 'rail:main', kind: capacitors, chance: 1}", "c2.display", "c1.source", "--???", "--?-", sim.ScreenDark},
	{"U2 brick", "{part: 'rail:main', kind: no-output}", "c2.display", "c1.source", "--???", "--?-", sim.ScreenDark},
}

func TestTradeSigns(t *testing.T) {
	for _, c := range tradeSigns {
		t.Run(c.id, func(t *testing.T) {
			good := down(t, with(t), "c2.display").EDID.V
			b := with(t, c.fault)
			if c.after != "" {
				u := up(t, b, c.after)
				got := sign(u.Power5V.V) + lockSign(u.Signal.V)
				if u.Signal.V == ddc.Locked {
					got += wrongSign(u.Timing.V.Size() == "1920x1080") + wrongSign(u.Picture.V == ddc.PicturePlausible) + sign(u.Sound.V)
				}
				assertSigns(t, c.forward, got)
			}
			if c.before != "" {
				d := down(t, b, c.before)
				assertSigns(t, c.back, sign(d.HotPlug.V)+sign(d.Ack.V)+
					wrongSign(assert.ObjectsAreEqual(good, d.EDID.V) && d.Stable.V)+sign(d.RxSense.V))
			}
			assert.Equal(t, c.screen, ask(t, b, sim.OwnScreen, "").Screen)
		})
	}
}

func sign(good bool) string {
	if good {
		return "+"
	}
	return "-"
}

func wrongSign(good bool) string {
	if good {
		return "+"
	}
	return "x"
}

func lockSign(s ddc.Signal) string {
	switch s {
	case ddc.Locked:
		return "+"
	case ddc.OutOfRange:
		return "x"
	}
	return "-"
}

func assertSigns(t *testing.T, want, got string) {
	t.Helper()
	for i := range want {
		if want[i] != '?' && (i >= len(got) || want[i] != got[i]) {
			t.Errorf("signs %s, wanted %s", got, want)
			return
		}
	}
}

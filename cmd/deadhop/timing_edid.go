package main

import (
	"errors"
	"math"

	"deadhop/edid"
	"deadhop/edid/timing"
)

// edidAskingFor is an EDID that asks for the timing: base with its preferred
// timing changed and all else as it was, or without a base a plain display
// of a maker code that is assigned to nobody.
func edidAskingFor(t timing.Timing, base *edid.EDID) ([]byte, error) {
	if base != nil {
		return changePreferred(t, base)
	}
	hz, khz, mhz := t.FieldRate().Float(), t.LineRate().Float()/1e3, t.PixelClock.Float()/1e6
	sign := func(positive bool) string {
		if positive {
			return "+"
		}
		return "-"
	}
	clock := t.PixelClock.Round(10_000)
	if timing.Hz(clock) != t.PixelClock {
		return nil, errors.New("the pixel clock is no multiple of 10 kHz (E-EDID 3.10.2)")
	}
	if t.Interlaced {
		return nil, errors.New("an EDID is made for a progressive timing only")
	}
	d := edid.Description{
		Maker: "XQZ", Product: 1, Interface: "dvi", Bits: 8,
		Timings: []edid.TimingChoice{{
			ClockKHz: clock / 1000, Polarity: sign(t.H.Positive) + sign(t.V.Positive),
			H: []uint32{t.H.Active, t.H.Front, t.H.Sync, t.H.Back},
			V: []uint32{t.V.Active, t.V.Front, t.V.Sync, t.V.Back},
		}},
		Limits: &edid.Limits{
			VHz:      [2]uint16{uint16(math.Floor(hz)), uint16(math.Ceil(hz))},
			HKHz:     [2]uint16{uint16(math.Floor(khz)), uint16(math.Ceil(khz))},
			ClockMHz: uint16(math.Ceil(mhz/10) * 10),
		},
	}
	// One DVI link ends at 165 MHz (DVI 1.0 section 2.2.2).
	if mhz > 165 {
		d.Interface = "hdmi"
		d.HDMI = &edid.HDMIChoice{Address: [4]uint8{1, 0, 0, 0}, MaxMHz: uint16(math.Ceil(mhz/5) * 5)}
	}
	return d.Build()
}

func changePreferred(t timing.Timing, base *edid.EDID) ([]byte, error) {
	old, ok := base.Base.Descriptors[0].(*edid.DetailedTiming)
	if !ok {
		return nil, errors.New("the EDID of --edid has no timing in its first place")
	}
	// The border belonged to the old timing.
	changed := edid.DetailedTiming{Timing: t, WidthMM: old.WidthMM, HeightMM: old.HeightMM, Sync: old.Sync, Stereo: old.Stereo}
	e, err := edid.Decode(base.Raw())
	if err != nil {
		return nil, err
	}
	e.Base.Descriptors[0] = &changed
	return e.AppendBinary(nil)
}

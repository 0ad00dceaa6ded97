package main

import (
	"encoding/json"
	"fmt"

	"deadhop/chain"
)

// This file puts readings into the words that a technician reads.

func (a *app) printJSON(v any) error {
	enc := json.NewEncoder(a.out)
	enc.SetIndent("", "  ")
	return enc.Encode(v)
}

// yesNo says a two-valued reading, and says nothing for one never tried.
func yesNo(words []string, r chain.Reading[bool], yes, no string) []string {
	switch {
	case r.State != chain.Measured:
		return words
	case r.Value:
		return append(words, yes)
	}
	return append(words, no)
}

func upWords(u *chain.UpReadings) []string {
	words := yesNo(nil, u.Power5V, "+5 V present", "no +5 V")
	if u.Signal.State == chain.Measured {
		words = append(words, map[chain.Signal]string{
			chain.SignalNone:       "no signal",
			chain.SignalNoLock:     "a signal, but no lock",
			chain.SignalOutOfRange: "locked, but out of range",
			chain.SignalLocked:     "locked",
		}[u.Signal.Value])
	}
	if u.Timing.State == chain.Measured {
		words = append(words, u.Timing.Value.String())
	}
	if u.Picture.State == chain.Measured {
		words = append(words, map[chain.Picture]string{
			chain.PictureBlack:     "picture black",
			chain.PictureOneColour: "picture of one colour",
			chain.PictureFrozen:    "picture frozen",
			chain.PictureNoise:     "picture is noise",
			chain.PictureLaneGone:  "a colour is missing",
			chain.PictureGood:      "picture good",
		}[u.Picture.Value])
	}
	words = yesNo(words, u.Sound, "sound", "no sound")
	if len(words) == 0 {
		return []string{"could not measure: " + why(u.Signal)}
	}
	return words
}

func downWords(d *chain.DownReadings) []string {
	words := yesNo(nil, d.HotPlug, "hot-plug high", "hot-plug low")
	words = yesNo(words, d.Ack, "DDC answers", "DDC does not answer")
	switch {
	case d.EDID.State == chain.Measured && d.EDID.Value.ChecksumsGood:
		words = append(words, fmt.Sprintf("EDID of %s, %d bytes", d.EDID.Value.Identity, len(d.EDID.Value.Bytes)))
	case d.EDID.State == chain.Measured:
		words = append(words, fmt.Sprintf("EDID damaged (%d bytes, a checksum is wrong)", len(d.EDID.Value.Bytes)))
	case d.EDID.State == chain.CouldNotRead && len(d.EDID.Value.Bytes) > 0:
		words = append(words, fmt.Sprintf("EDID broke off after %d bytes", len(d.EDID.Value.Bytes)))
	}
	words = yesNo(words, d.Stable, "repeated reads agree", "repeated reads differ")
	words = yesNo(words, d.RxSense, "termination sensed", "no termination sensed")
	if d.Connector.State == chain.Measured {
		words = append(words, "kernel says "+d.Connector.Value)
	}
	if d.EDID.State != chain.Measured && d.KernelEDID.State == chain.Measured && len(d.KernelEDID.Value.Bytes) > 0 {
		words = append(words, "kernel keeps an EDID of "+d.KernelEDID.Value.Identity)
	}
	if len(words) == 0 {
		return []string{"could not measure: " + why(d.Ack)}
	}
	return words
}

func why[T any](r chain.Reading[T]) string {
	switch {
	case r.Detail != "":
		return r.Detail
	case r.Failure != "":
		return string(r.Failure)
	}
	return "not tried"
}

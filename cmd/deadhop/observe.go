package main

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"io/fs"

	"deadhop/chain"
	"deadhop/ddc"
	"deadhop/edid"
)

// This file is the one place where what the bench saw becomes what the
// diagnosis reads. Neither side knows the other.

// failureOf sorts a measuring error into the diagnosis' failure codes.
func failureOf(err error) chain.FailureCode {
	switch {
	case errors.Is(err, ddc.ErrUnsupported):
		return chain.FailUnsupported
	case errors.Is(err, ddc.ErrPermission), errors.Is(err, fs.ErrPermission):
		return chain.FailPermission
	case errors.Is(err, ddc.ErrBusy):
		return chain.FailBusy
	case errors.Is(err, ddc.ErrGone):
		return chain.FailGone
	case errors.Is(err, ddc.ErrTimedOut), errors.Is(err, context.DeadlineExceeded):
		return chain.FailTimeout
	}
	return chain.FailOther
}

// reading carries a value over as it is, or as convert makes it.
func reading[T, U any](v ddc.Value[T], convert func(T) U) chain.Reading[U] {
	switch v.State {
	case ddc.Known:
		return chain.Reading[U]{State: chain.Measured, Value: convert(v.V)}
	case ddc.Unable:
		r := chain.Reading[U]{State: chain.CouldNotRead, Failure: failureOf(v.Err)}
		if v.Err != nil {
			r.Detail = v.Err.Error()
		}
		return r
	}
	return chain.Reading[U]{}
}

func same[T any](v T) T { return v }

func upReadings(u ddc.Upstream) *chain.UpReadings {
	r := &chain.UpReadings{
		Power5V: reading(u.Power5V, same[bool]),
		Signal:  reading(u.Signal, signalWord),
		Timing:  reading(u.Timing, same),
		Picture: reading(u.Picture, pictureWord),
		Sound:   reading(u.Sound, same[bool]),
	}
	// Without a lock there is nothing to measure below it.
	if r.Signal.State == chain.Measured && r.Signal.Value != chain.SignalLocked {
		blocked(&r.Timing)
		blocked(&r.Picture)
		blocked(&r.Sound)
	}
	return r
}

// blocked marks a reading that failed because a rung above it did.
func blocked[T any](r *chain.Reading[T]) {
	if r.State == chain.CouldNotRead && r.Failure != chain.FailUnsupported {
		r.Failure = chain.FailBlocked
	}
}

func downReadings(d ddc.Downstream) *chain.DownReadings {
	r := &chain.DownReadings{
		HotPlug:    reading(d.HotPlug, same[bool]),
		Ack:        reading(d.Ack, same[bool]),
		EDID:       reading(d.EDID, edidReading),
		Stable:     reading(d.Stable, same[bool]),
		RxSense:    reading(d.RxSense, same[bool]),
		Connector:  reading(d.Connector, connectorWord),
		KernelEDID: reading(d.KernelEDID, edidReading),
	}
	// What was read before a failure is evidence too.
	if d.EDID.State == ddc.Unable && len(d.EDID.V) > 0 {
		r.EDID.Value = edidReading(d.EDID.V)
	}
	return r
}

func edidReading(b []byte) chain.EDIDReading {
	r := chain.EDIDReading{Bytes: b, SHA256: hashOf(b)}
	e, err := edid.Decode(b)
	if err != nil {
		return r
	}
	r.ChecksumsGood = e.ChecksumsGood() && !allOneByte(b)
	r.Identity = e.Identity().String()
	return r
}

// allOneByte reports bytes that are all 00 or all FF. All 00 sums to a right
// checksum, yet no store holds that: it is the wire that speaks.
func allOneByte(b []byte) bool {
	for _, v := range b {
		if v != b[0] || v != 0 && v != 0xFF {
			return false
		}
	}
	return len(b) > 0
}

func signalWord(s ddc.Signal) chain.Signal {
	switch s {
	case ddc.NoSignal:
		return chain.SignalNone
	case ddc.NoLock:
		return chain.SignalNoLock
	case ddc.OutOfRange:
		return chain.SignalOutOfRange
	case ddc.Locked:
		return chain.SignalLocked
	}
	return chain.Signal(fmt.Sprintf("signal(%d)", s))
}

func pictureWord(p ddc.PictureKind) chain.Picture {
	switch p {
	case ddc.PictureBlack:
		return chain.PictureBlack
	case ddc.PictureOneColour:
		return chain.PictureOneColour
	case ddc.PictureFrozen:
		return chain.PictureFrozen
	case ddc.PictureNoise:
		return chain.PictureNoise
	case ddc.PictureLaneMissing:
		return chain.PictureLaneGone
	case ddc.PicturePlausible:
		return chain.PictureGood
	}
	return chain.Picture(fmt.Sprintf("picture(%d)", p))
}

func connectorWord(c ddc.ConnectorStatus) string {
	switch c {
	case ddc.Connected:
		return "connected"
	case ddc.Disconnected:
		return "disconnected"
	case ddc.ConnectorUnknown:
		return "unknown"
	}
	return fmt.Sprintf("status(%d)", c)
}

// hashOf is the SHA-256 of an EDID in hex, the only identity that is one.
func hashOf(b []byte) string {
	sum := sha256.Sum256(b)
	return hex.EncodeToString(sum[:])
}

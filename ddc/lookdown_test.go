package ddc_test

import (
	"context"
	"syscall"
	"testing"

	"github.com/stretchr/testify/assert"

	"deadhop/ddc"
	"deadhop/ddc/ddctest"
)

func TestLookDownTellsStoreFromBus(t *testing.T) {
	good := image(2)
	wrongStore := image(2)
	wrongStore[60] ^= 0x20
	for _, c := range []struct {
		name   string
		edid   []byte
		spoil  func(n int, msgs []ddc.Msg)
		stable bool
		reads  int
	}{
		{"healthy", good, nil, true, 2},
		{"bad store: the same wrong bytes each time", wrongStore, nil, true, 5},
		{"bad bus: changing bytes", good, func(n int, msgs []ddc.Msg) { msgs[len(msgs)-1].Data[n] ^= 1 << (n % 8) }, false, 5},
		{"one disturbance", good, func(n int, msgs []ddc.Msg) {
			if n == 1 {
				msgs[len(msgs)-1].Data[5] ^= 1
			}
		}, false, 5},
	} {
		t.Run(c.name, func(t *testing.T) {
			bus := ddctest.New(c.edid)
			bus.Spoil = c.spoil
			d := ddc.LookDown(context.Background(), bus, ddc.DownOptions{})
			assert.Equal(t, ddc.Got(true), d.Ack)
			assert.Equal(t, ddc.Got(c.stable), d.Stable)
			assert.Len(t, d.Log, 2*c.reads)
		})
	}
}

func TestLookDownKeepsNoAnswerApart(t *testing.T) {
	for _, c := range []struct {
		name        string
		kind, errno error
		state       ddc.State
		ack         bool
	}{
		{"no acknowledge", ddc.ErrNoAck, syscall.ENXIO, ddc.Known, false},
		{"answers, then breaks off", ddc.ErrBroken, syscall.EIO, ddc.Known, true},
		{"clock held", ddc.ErrTimedOut, syscall.ETIMEDOUT, ddc.Unable, false},
		{"arbitration", ddc.ErrArbitration, syscall.EAGAIN, ddc.Unable, false},
		{"cause not told apart", ddc.ErrNoAnswer, syscall.EIO, ddc.Unable, false},
		{"adapter gone", ddc.ErrGone, syscall.ENODEV, ddc.Unable, false},
	} {
		t.Run(c.name, func(t *testing.T) {
			bus := ddctest.New(image(2))
			bus.Fault = func(int, []ddc.Msg) error { return ddctest.Err(c.kind, c.errno, 0x50) }
			d := ddc.LookDown(context.Background(), bus, ddc.DownOptions{})
			assert.Equal(t, c.state, d.Ack.State)
			assert.Equal(t, c.ack, d.Ack.V)
			assert.Equal(t, ddc.Unable, d.EDID.State)
			assert.ErrorIs(t, d.EDID.Err, c.errno)
			assert.Equal(t, ddc.Unable, d.Stable.State, "one read cannot disagree")
		})
	}
}

func TestLookDownKeepsPartialBytes(t *testing.T) {
	want := image(4)
	bus := ddctest.New(want)
	bus.Fault = func(n int, _ []ddc.Msg) error {
		if n >= 3 {
			return ddctest.Err(ddc.ErrNoAck, syscall.ENXIO, 0x50)
		}
		return nil
	}
	d := ddc.LookDown(context.Background(), bus, ddc.DownOptions{})
	assert.Equal(t, ddc.Unable, d.EDID.State)
	assert.Equal(t, want[:384], d.EDID.V)
	assert.Equal(t, ddc.Got(true), d.Ack, "three blocks came")
}

package ddc_test

import (
	"context"
	"errors"
	"fmt"
	"syscall"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"deadhop/ddc"
	"deadhop/ddc/ddctest"
	"deadhop/ddc/usbiptest"
)

func scdcDisplay() *usbiptest.Registers {
	r := &usbiptest.Registers{}
	r.Bytes[0x01] = 1
	r.Bytes[0x20], r.Bytes[0x21] = 0x03, 0x01
	r.Bytes[0x40] = 0x0b // clock, channels 0 and 2
	copy(r.Bytes[0x50:], []byte{0x00, 0x80, 0x00, 0x00, 0x34, 0x92})
	for _, b := range r.Bytes[0x50:0x56] {
		r.Bytes[0x56] -= b
	}
	return r
}

// Register meanings by HDMI 2.0 clause 10.4.1, as linux/drm/drm_scdc.h has
// them: bits 0-3 of 40h, counters in 50h-55h with bit 15 for valid.
func TestSCDCStatus(t *testing.T) {
	bus := ddctest.New(image(2))
	bus.Wire.Add(ddc.SCDCAddr, scdcDisplay())
	s, log, err := ddc.ReadSCDC(context.Background(), bus)
	require.NoError(t, err)
	assert.Len(t, log, 4)
	assert.Equal(t, byte(1), s.SinkVersion)
	assert.True(t, s.Scrambling && s.Ratio40 && s.Scrambled && s.ClockDetected)
	assert.Equal(t, [3]bool{true, false, true}, s.Locked)
	assert.Equal(t, ddc.Got(0), s.Errors[0])
	assert.Equal(t, ddc.Unable, s.Errors[1].State)
	assert.Equal(t, ddc.Got(0x1234), s.Errors[2])
}

func TestSCDCCountersWithAWrongChecksumAreNotBelieved(t *testing.T) {
	bus := ddctest.New(image(2))
	r := scdcDisplay()
	r.Bytes[0x56]++
	bus.Wire.Add(ddc.SCDCAddr, r)
	s, _, err := ddc.ReadSCDC(context.Background(), bus)
	require.NoError(t, err)
	for _, e := range s.Errors {
		assert.Equal(t, ddc.Unable, e.State)
	}
}

func TestHDCPPort(t *testing.T) {
	ctx := context.Background()
	bus := ddctest.New(image(2))
	p, _, err := ddc.ReadHDCP(ctx, bus)
	require.NoError(t, err)
	assert.Equal(t, ddc.HDCPPort{}, p)

	r := &usbiptest.Registers{}
	copy(r.Bytes[:], []byte{0x0f, 0x0f, 0x0f, 0x0f, 0x0f}) // 20 ones
	r.Bytes[0x40], r.Bytes[0x50] = 0xc0, 0x04
	bus.Wire.Add(ddc.HDCPAddr, r)
	p, _, err = ddc.ReadHDCP(ctx, bus)
	require.NoError(t, err)
	assert.True(t, p.Present && p.KSVValid && p.Repeater && p.Version2)
	r.Bytes[0] = 0 // keys lost
	p, _, err = ddc.ReadHDCP(ctx, bus)
	require.NoError(t, err)
	assert.True(t, p.Present)
	assert.False(t, p.KSVValid)
}

func TestDisplayControls(t *testing.T) {
	ctx := context.Background()
	bus := ddctest.New(image(2))
	_, _, err := ddc.GetControl(ctx, bus, ddc.PowerMode)
	assert.ErrorIs(t, err, ddc.ErrNoAck)

	c := &usbiptest.Commander{Features: map[byte]usbiptest.Feature{0x60: {Max: 3, Now: 0x11}, 0xd6: {Max: 5, Now: 1}}}
	bus.Wire.Add(ddc.CommandAddr, c)
	v, log, err := ddc.GetControl(ctx, bus, ddc.InputSelect)
	require.NoError(t, err)
	assert.Equal(t, ddc.ControlValue{Now: 0x11, Max: 3}, v)
	// The worked request of a power mode query by DDC/CI 1.1 clause 4.3:
	// destination 6Eh, then 51 82 01 and the code; the XOR of all is 0.
	sent := log[0].Msgs[0].Data
	x := byte(0x6e)
	for _, b := range sent {
		x ^= b
	}
	assert.Zero(t, x)
	_, _, err = ddc.GetControl(ctx, bus, 0x10)
	assert.ErrorIs(t, err, ddc.ErrNoControl)
	c.WrongChecksum = true
	_, _, err = ddc.GetControl(ctx, bus, ddc.PowerMode)
	assert.ErrorIs(t, err, ddc.ErrChecksum)
}

func TestEveryQueryEndsInTheFaultAtEveryTransaction(t *testing.T) {
	queries := map[string]func(ddc.Bus) error{
		"SCDC": func(b ddc.Bus) error { _, _, err := ddc.ReadSCDC(context.Background(), b); return err },
		"HDCP": func(b ddc.Bus) error { _, _, err := ddc.ReadHDCP(context.Background(), b); return err },
		"DDC/CI": func(b ddc.Bus) error {
			_, _, err := ddc.GetControl(context.Background(), b, ddc.PowerMode)
			return err
		},
	}
	for name, query := range queries {
		for at := 0; ; at++ {
			bus := ddctest.New(image(2))
			bus.Wire.Add(ddc.SCDCAddr, scdcDisplay())
			bus.Wire.Add(ddc.HDCPAddr, &usbiptest.Registers{})
			bus.Wire.Add(ddc.CommandAddr, &usbiptest.Commander{Features: map[byte]usbiptest.Feature{0xd6: {Max: 5, Now: 1}}})
			hit := false
			bus.Fault = func(n int, _ []ddc.Msg) error {
				if n == at {
					hit = true
					return ddctest.Err(ddc.ErrTimedOut, syscall.ETIMEDOUT, 0)
				}
				return nil
			}
			err := query(bus)
			if !hit {
				require.NoError(t, err, name)
				require.Positive(t, at)
				break
			}
			assert.True(t, errors.Is(err, ddc.ErrTimedOut), fmt.Sprintf("%s at %d: %v", name, at, err))
		}
	}
}

func FuzzGetControl(f *testing.F) {
	f.Add([]byte{0x6e, 0x88, 2, 0, 0xd6, 0, 0, 5, 0, 1, 0xff})
	f.Add([]byte{0x6e, 0x80, 0xbe})
	f.Add([]byte{0xff, 0xff, 0xff})
	f.Fuzz(func(t *testing.T, answer []byte) {
		bus := ddctest.New(nil)
		bus.Wire.Add(ddc.CommandAddr, &usbiptest.Commander{})
		bus.Spoil = func(_ int, msgs []ddc.Msg) {
			if msgs[0].Read {
				clear(msgs[0].Data)
				copy(msgs[0].Data, answer)
			}
		}
		v, _, err := ddc.GetControl(context.Background(), bus, ddc.PowerMode)
		if err != nil && v != (ddc.ControlValue{}) {
			t.Errorf("%x gave %v and %v", answer, v, err)
		}
	})
}

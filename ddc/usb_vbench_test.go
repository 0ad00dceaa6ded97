//go:build vbench

package ddc_test

import (
	"context"
	"fmt"
	"path/filepath"
	"syscall"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"deadhop/ddc"
	"deadhop/ddc/usbiptest"
)

// usbBench attaches a USB I2C adapter with the wire behind it and returns the
// port as which the bench offers it.
func usbBench(t *testing.T, w *usbiptest.Wire) (ddc.BusPort, *usbiptest.Adapter, context.Context) {
	t.Helper()
	ctx, cancel := context.WithTimeout(context.Background(), 60*time.Second)
	t.Cleanup(cancel)
	a, err := usbiptest.Attach(ctx, w)
	require.NoError(t, err)
	t.Cleanup(func() { assert.NoError(t, a.Close()) })
	bench, err := ddc.OpenBench(ddc.BenchOptions{})
	require.NoError(t, err)
	ports, err := bench.Ports(ctx)
	require.NoError(t, err)
	for _, p := range ports {
		if p.Info().ID == "bus:"+filepath.Base(a.Device) {
			assert.Equal(t, "i2c-tiny-usb", p.Info().Driver)
			assert.NoError(t, p.Info().Trouble)
			return p.(ddc.BusPort), a, ctx
		}
	}
	t.Fatalf("%s is not offered", a.Device)
	return nil, nil, nil
}

func TestVBenchUSBAdapterReadsOneToEightBlocks(t *testing.T) {
	w := usbiptest.NewWire()
	port, _, ctx := usbBench(t, w)
	for n := 1; n <= 8; n++ {
		usbiptest.NewDisplay(w, image(n), true)
		d := port.LookDown(ctx, ddc.DownOptions{})
		require.Equal(t, ddc.Known, d.EDID.State, "%d blocks: %v", n, d.EDID.Err)
		assert.Equal(t, image(n), d.EDID.V)
		assert.Equal(t, ddc.Got(true), d.Ack)
		assert.Equal(t, ddc.Got(true), d.Stable)
		assert.Len(t, d.Log, 2*n, "one transaction a block")
	}
}

// Faults that i2c-tiny-usb can pass on: ENXIO, EIO, and every fault of the
// bytes. Held clocks and lost arbitration have no errno of their own there and
// are tested on the fake wire.
func TestVBenchUSBAdapterFaultsAreNamed(t *testing.T) {
	w := usbiptest.NewWire()
	port, _, ctx := usbBench(t, w)
	type sight struct {
		ack    ddc.Value[bool]
		kind   error
		errno  error
		sign   ddc.WireSign
		stable ddc.Value[bool]
	}
	yes, no := ddc.Got(true), ddc.Got(false)
	store := func(change func(b []byte)) []byte { b := image(2); change(b); return b }
	for _, c := range []struct {
		name  string
		edid  []byte
		fault usbiptest.Fault
		want  sight
	}{
		{"healthy", image(2), nil, sight{ack: yes, stable: yes}},
		{"nothing answers", nil, nil, sight{ack: no, kind: ddc.ErrNoAck, errno: syscall.ENXIO}},
		{"bus error", image(2), usbiptest.Ends(usbiptest.Broken), sight{kind: ddc.ErrNoAnswer, errno: syscall.EIO}},
		{"short transfers", image(2), usbiptest.Ends(usbiptest.Short), sight{kind: ddc.ErrNoAnswer, errno: syscall.EIO}},
		{"nobody drives SDA", image(2), usbiptest.StuckHigh(0xff), sight{ack: yes, stable: yes, sign: ddc.AllOnes}},
		{"SDA held low", image(2), usbiptest.StuckLow(0xff), sight{ack: yes, stable: yes, sign: ddc.AllZeros}},
		{"a bit stuck low", image(2), usbiptest.StuckLow(0x08), sight{ack: yes, stable: yes, sign: ddc.StuckLow}},
		{"a bit stuck high", image(2), usbiptest.StuckHigh(0x40), sight{ack: yes, stable: yes, sign: ddc.StuckHigh}},
		{"an edge missed", image(2), usbiptest.Shifted(), sight{ack: yes, stable: yes, sign: ddc.BitShift}},
		{"offset lost", image(2), usbiptest.Rolled(100), sight{ack: yes, stable: yes, sign: ddc.Rolled}},
		{"changing bytes", image(2), usbiptest.Drifting(), sight{ack: yes, stable: no, sign: ddc.Changing}},
		{"header overwritten", store(func(b []byte) { clear(b[:8]) }), nil, sight{ack: yes, stable: yes, sign: ddc.HeaderLost}},
		{"wrong byte in the store", store(func(b []byte) { b[60] ^= 4 }), nil, sight{ack: yes, stable: yes, sign: ddc.WrongStore}},
	} {
		t.Run(c.name, func(t *testing.T) {
			w.Remove(usbiptest.EDIDAddr)
			w.SetFaults()
			if c.edid != nil {
				usbiptest.NewDisplay(w, c.edid, true)
			}
			if c.fault != nil {
				w.SetFaults(c.fault)
			}
			d := port.LookDown(ctx, ddc.DownOptions{})
			if c.want.ack.State == ddc.Known {
				assert.Equal(t, ddc.Known, d.Ack.State)
				assert.Equal(t, c.want.ack.V, d.Ack.V)
			} else {
				assert.Equal(t, ddc.Unable, d.Ack.State)
			}
			if c.want.kind != nil {
				assert.ErrorIs(t, d.EDID.Err, c.want.kind)
				assert.ErrorIs(t, d.EDID.Err, c.want.errno)
				return
			}
			assert.Equal(t, c.want.stable, d.Stable)
			var got ddc.WireSign
			for _, f := range d.Wire {
				if f.Sign != ddc.Slow { // a virtual machine is late at times
					got = f.Sign
					break
				}
			}
			assert.Equal(t, c.want.sign, got, "%v", d.Wire)
		})
	}
}

func TestVBenchUSBAdapterSurvivesOneDisturbance(t *testing.T) {
	w := usbiptest.NewWire()
	port, _, ctx := usbBench(t, w)
	usbiptest.NewDisplay(w, image(4), true)
	for at := range 10 { // two messages for blocks 0 and 1, three for 2 and 3
		w.SetFaults(usbiptest.At(len(w.Log())+at, usbiptest.Ends(usbiptest.NoAck)))
		d := port.LookDown(ctx, ddc.DownOptions{Reads: 1})
		require.Equal(t, ddc.Known, d.EDID.State, "message %d: %v", at, d.EDID.Err)
		assert.Equal(t, image(4), d.EDID.V)
		require.Len(t, d.Log, 5)
	}
}

func TestVBenchUSBAdapterUnpluggedInAReadIsSurvived(t *testing.T) {
	w := usbiptest.NewWire()
	port, a, ctx := usbBench(t, w)
	usbiptest.NewDisplay(w, image(8), true)
	start := len(w.Log())
	w.SetFaults(func(n int, _ *usbiptest.Message) {
		if n == start+7 {
			a.Unplug()
		}
	})
	begun := time.Now()
	d := port.LookDown(ctx, ddc.DownOptions{})
	assert.Less(t, time.Since(begun), 10*time.Second)
	assert.Equal(t, ddc.Unable, d.EDID.State)
	assert.NotEmpty(t, d.EDID.V, "the blocks before it stay")
	assert.Zero(t, len(d.EDID.V)%128)
	assert.Equal(t, string(image(8)[:len(d.EDID.V)]), string(d.EDID.V))

	d = port.LookDown(ctx, ddc.DownOptions{})
	assert.Equal(t, ddc.Unable, d.EDID.State)
	assert.Error(t, d.EDID.Err)
}

func TestVBenchUSBAdapterComesAndGoesByEvents(t *testing.T) {
	ctx, cancel := context.WithTimeout(context.Background(), 30*time.Second)
	defer cancel()
	bench, err := ddc.OpenBench(ddc.BenchOptions{})
	require.NoError(t, err)
	events, err := bench.Watch(ctx)
	require.NoError(t, err)
	changed := func() {
		t.Helper()
		for e := range events {
			if e.Kind == ddc.PortsChanged {
				return
			}
		}
		t.Fatal("no event")
	}
	a, err := usbiptest.Attach(ctx, usbiptest.NewWire())
	require.NoError(t, err)
	changed()
	has := func() bool {
		ports, err := bench.Ports(ctx)
		require.NoError(t, err)
		for _, p := range ports {
			if p.Info().ID == "bus:"+filepath.Base(a.Device) {
				return true
			}
		}
		return false
	}
	assert.True(t, has())
	require.NoError(t, a.Close())
	for range 3 { // its parts go one by one
		changed()
		if !has() {
			return
		}
	}
	t.Fatal("the adapter is still listed")
}

func TestVBenchUSBAdapterAnswersTheQueries(t *testing.T) {
	w := usbiptest.NewWire()
	port, _, ctx := usbBench(t, w)
	w.Add(ddc.SCDCAddr, scdcDisplay())
	w.Add(ddc.CommandAddr, &usbiptest.Commander{Features: map[byte]usbiptest.Feature{0xd6: {Max: 5, Now: 4}}})
	bus, err := port.Bus()
	require.NoError(t, err)
	s, _, err := ddc.ReadSCDC(ctx, bus)
	require.NoError(t, err)
	assert.Equal(t, ddc.Got(0x1234), s.Errors[2])
	v, _, err := ddc.GetControl(ctx, bus, ddc.PowerMode)
	require.NoError(t, err)
	assert.Equal(t, ddc.ControlValue{Now: 4, Max: 5}, v)
	p, _, err := ddc.ReadHDCP(ctx, bus)
	require.NoError(t, err, fmt.Sprint(p))
	assert.False(t, p.Present)
}

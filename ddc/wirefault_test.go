package ddc_test

import (
	"context"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"deadhop/ddc"
	"deadhop/ddc/ddctest"
	"deadhop/ddc/usbiptest"
)

// Faults put on the wire itself, read through the whole of a look.
func TestWireFaultsAreNamed(t *testing.T) {
	for _, c := range []struct {
		name  string
		fault usbiptest.Fault
		store func(b []byte)
		want  ddc.WireFault
	}{
		{name: "nobody drives SDA", fault: usbiptest.StuckHigh(0xff), want: ddc.WireFault{Sign: ddc.AllOnes, Bits: 0xff}},
		{name: "SDA held low", fault: usbiptest.StuckLow(0xff), want: ddc.WireFault{Sign: ddc.AllZeros, Bits: 0xff}},
		{name: "two bits low", fault: usbiptest.StuckLow(0x41), want: ddc.WireFault{Sign: ddc.StuckLow, Bits: 0x41}},
		{name: "one bit high", fault: usbiptest.StuckHigh(0x04), want: ddc.WireFault{Sign: ddc.StuckHigh, Bits: 0x04}},
		{name: "an edge missed", fault: usbiptest.Shifted(), want: ddc.WireFault{Sign: ddc.BitShift, By: 1}},
		{name: "offset lost", fault: usbiptest.Rolled(100), want: ddc.WireFault{Sign: ddc.Rolled, By: 28}},
		{name: "drifting", fault: usbiptest.Drifting(), want: ddc.WireFault{Sign: ddc.Changing}},
		{name: "header overwritten", store: func(b []byte) { copy(b, make([]byte, 8)) }, want: ddc.WireFault{Sign: ddc.HeaderLost}},
		{name: "one byte wrong", store: func(b []byte) { b[60] ^= 4 }, want: ddc.WireFault{Sign: ddc.WrongStore}},
		{name: "block 1 first", store: func(b []byte) {
			b[128] = 0x02
			seal(b[128:256])
			copy(b[:128], b[128:])
		}, want: ddc.WireFault{Sign: ddc.Rolled, By: 128}},
	} {
		t.Run(c.name, func(t *testing.T) {
			edid := image(2)
			if c.store != nil {
				c.store(edid)
			}
			bus := ddctest.New(edid)
			if c.fault != nil {
				bus.Wire.SetFaults(c.fault)
			}
			d := ddc.LookDown(context.Background(), bus, ddc.DownOptions{})
			require.NotEmpty(t, d.Wire)
			got := d.Wire[0]
			assert.Equal(t, c.want.Sign, got.Sign, "%v", d.Wire)
			assert.Equal(t, c.want.By, got.By)
			if c.want.Bits != 0 {
				assert.Equal(t, c.want.Bits, got.Bits)
			}
			assert.NotEmpty(t, got.Detail)
		})
	}
}

func TestHealthyReadsShowNoWireFault(t *testing.T) {
	for _, n := range []int{1, 2, 3, 8} {
		d := ddc.LookDown(context.Background(), ddctest.New(image(n)), ddc.DownOptions{})
		assert.Empty(t, d.Wire, "%d blocks", n)
	}
}

func TestChangedBitsAreCountedByDirection(t *testing.T) {
	a, b, c := image(1), image(1), image(1)
	require.Equal(t, []byte{0x46, 0xd9}, []byte{a[10], a[31]})
	b[10] |= 0x80
	c[31] &^= 0x01
	got := ddc.JudgeReads([][]byte{a, b, c})
	require.NotEmpty(t, got)
	assert.Equal(t, ddc.Changing, got[0].Sign)
	assert.Equal(t, byte(0x81), got[0].Bits)
	assert.Equal(t, []int{10, 31}, got[0].Bytes)
	assert.Equal(t, 1, got[0].Rose)
	assert.Equal(t, 1, got[0].Fell)
}

// 1182 clocks for a block and 2334 for two in one go at 100 kHz: 11.82 ms and
// 23.34 ms (9 clocks a byte by UM10204 clause 3.1.5, and the conditions).
func TestLeastTimeOfATransfer(t *testing.T) {
	msgs := func(n int) []ddc.Msg {
		return []ddc.Msg{{Addr: 0x50, Data: []byte{0}}, {Addr: 0x50, Read: true, Data: make([]byte, n)}}
	}
	assert.Equal(t, 11820*time.Microsecond, ddc.LeastTime(msgs(128)))
	assert.Equal(t, 23340*time.Microsecond, ddc.LeastTime(msgs(256)))
	log := func(took time.Duration) []ddc.Attempt { return []ddc.Attempt{{Msgs: msgs(128), Took: took}} }
	_, slow := ddc.JudgeTimes(log(14 * time.Millisecond))
	assert.False(t, slow)
	f, slow := ddc.JudgeTimes(log(60 * time.Millisecond))
	assert.True(t, slow)
	assert.Contains(t, f.Detail, "5.1 times")
}

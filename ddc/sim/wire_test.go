package sim_test

import (
	"context"
	"encoding/hex"
	"fmt"
	"strings"
	"syscall"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"deadhop/ddc"
	"deadhop/ddc/sim"
)

// fourBlocks is an EDID of four blocks, each filled with its own number.
func fourBlocks() []byte {
	var e []byte
	for n := range byte(4) {
		b := make([]byte, 128)
		for i := range b {
			b[i] = n
		}
		if n == 0 {
			copy(b, []byte{0, 255, 255, 255, 255, 255, 255, 0})
			b[126] = 3
		}
		var sum byte
		for _, v := range b[:127] {
			sum += v
		}
		b[127] = -sum
		e = append(e, b...)
	}
	return e
}

func withEDID(t *testing.T, e []byte, faults ...string) *sim.Bench {
	t.Helper()
	return changed(t, []string{"edid: *edid", "edid: {hex: " + hex.EncodeToString(e) + "}"}, faults...)
}

func TestSegmentPointer(t *testing.T) {
	ctx := context.Background()
	want := fourBlocks()
	b := withEDID(t, want)
	require.NoError(t, b.Connect("c2.display", "down"))
	d := out(t, b).LookDown(ctx, ddc.DownOptions{})
	require.NoError(t, d.EDID.Err)
	assert.Equal(t, want, d.EDID.V)

	w, err := out(t, b).Bus()
	require.NoError(t, err)
	got := make([]byte, 128)
	// VESA E-DDC 1.2 section 2.2.5: the pointer is back at 0 after a stop,
	// so a segment set in a transaction of its own is lost.
	require.NoError(t, w.Transfer(ctx, []ddc.Msg{{Addr: 0x30, Data: []byte{1}}}))
	require.NoError(t, w.Transfer(ctx, []ddc.Msg{{Addr: 0x50, Data: []byte{0}}, {Addr: 0x50, Read: true, Data: got}}))
	assert.Equal(t, want[:128], got)
	// The offset does stay, and goes on counting.
	require.NoError(t, w.Transfer(ctx, []ddc.Msg{{Addr: 0x50, Read: true, Data: got}}))
	assert.Equal(t, want[128:256], got)
}

func TestAddressesThatDoNotAnswer(t *testing.T) {
	b := with(t)
	require.NoError(t, b.Connect("c2.display", "down"))
	w, err := out(t, b).Bus()
	require.NoError(t, err)
	// A 256-byte EEPROM has no segment pointer.
	for _, addr := range []uint16{0x30, 0x37, 0x51, 0x54} {
		err := w.Transfer(context.Background(), []ddc.Msg{{Addr: addr, Data: []byte{0}}})
		require.ErrorIs(t, err, syscall.ENXIO)
		require.ErrorIs(t, err, ddc.ErrNoAck)
		var op *ddc.OpError
		require.ErrorAs(t, err, &op)
		assert.Equal(t, addr, op.Addr)
	}
	require.ErrorIs(t, w.Transfer(context.Background(), nil), syscall.EINVAL)
}

func TestClockHeldLow(t *testing.T) {
	b := with(t, "{part: scaler, kind: scl-stuck}")
	d := down(t, b, "c2.source")
	require.ErrorIs(t, d.EDID.Err, syscall.ETIMEDOUT)
	require.ErrorIs(t, d.EDID.Err, ddc.ErrTimedOut)
	assert.Equal(t, ddc.Unable, d.Ack.State, "a held clock says nothing of acknowledge")
	require.NoError(t, b.Repair("scaler", "reset"))
	assert.Equal(t, ddc.Got(true), down(t, b, "c2.source").Ack)
}

// All 00 is a data line stuck low (common practice, no source): it looks like
// an acknowledge.
func TestDataStuckLowReadsZeros(t *testing.T) {
	d := down(t, with(t, "{part: scaler, kind: sda-stuck}"), "c2.source")
	assert.Equal(t, ddc.Got(true), d.Ack)
	assert.Equal(t, make([]byte, len(d.EDID.V)), d.EDID.V)
	assert.NotEmpty(t, d.EDID.V)
}

// The same wrong bytes twice are a bad store, changing bytes a bad bus
// (common practice, no source).
func TestStoredAndCarriedErrorsDiffer(t *testing.T) {
	d := down(t, with(t, "{part: 'setting:edid:scaler', kind: corrupt, bytes: [{at: 20, is: 0}]}"), "c2.source")
	assert.Equal(t, ddc.Got(true), d.Stable)
	assert.Equal(t, byte(0), d.EDID.V[20])
	d = down(t, with(t, "{part: c2, kind: wire-open, wires: [ground]}"), "c2.source")
	assert.Equal(t, ddc.Got(true), d.Ack)
	assert.Equal(t, ddc.Got(false), d.Stable)
}

// One display lost its first 16 EDID bytes (a public repair log); the source
// then falls back and plays no sound.
func TestLostHeaderMakesTheSourceFallBack(t *testing.T) {
	var lost []string
	for i := range 16 {
		lost = append(lost, fmt.Sprintf("{at: %d, is: 255}", i))
	}
	b := with(t, "{part: 'setting:edid:scaler', kind: corrupt, bytes: ["+strings.Join(lost, ", ")+"]}")
	assert.Equal(t, sim.ScreenPicture, ask(t, b, sim.OwnScreen, "").Screen)
	assert.False(t, ask(t, b, sim.OwnSound, "").Yes)
	require.NoError(t, b.Repair("setting:edid:scaler", "rewrite-edid"))
	assert.True(t, ask(t, b, sim.OwnSound, "").Yes)
}

func TestPortVanishesInTheMiddleOfARead(t *testing.T) {
	b := changed(t, []string{"bench:\n", "bench:\n  vanish_after: 1\n"})
	events, err := b.Watch(context.Background())
	require.NoError(t, err)
	d := down(t, b, "c2.source")
	assert.Len(t, d.EDID.V, 128, "the first block stays")
	require.ErrorIs(t, d.EDID.Err, syscall.ENODEV)
	require.ErrorIs(t, d.EDID.Err, ddc.ErrGone)
	assert.Equal(t, ddc.Got(true), d.Ack)
	ports, err := b.Ports(context.Background())
	require.NoError(t, err)
	assert.Len(t, ports, 1)
	assert.Equal(t, ddc.Plugged, (<-events).Kind)
	assert.Equal(t, ddc.PortsChanged, (<-events).Kind)
}

func TestDeniedBus(t *testing.T) {
	b := changed(t, []string{"bench:\n", "bench:\n  denied: true\n"})
	require.ErrorIs(t, out(t, b).Info().Trouble, syscall.EACCES)
	_, err := out(t, b).Bus()
	require.ErrorIs(t, err, ddc.ErrPermission)
	d := down(t, b, "c2.source")
	require.ErrorIs(t, d.EDID.Err, ddc.ErrPermission)
	assert.Equal(t, ddc.Unable, d.Ack.State)
	assert.Equal(t, ddc.Got(true), d.HotPlug, "the line itself is no bus")
}

func TestReadingsThatTheBenchLacks(t *testing.T) {
	b := changed(t, []string{"bench:\n", "bench:\n  cannot: [hot-plug, edid, power-5v]\n"})
	d := down(t, b, "c2.source")
	require.ErrorIs(t, d.HotPlug.Err, ddc.ErrUnsupported)
	require.ErrorIs(t, d.EDID.Err, ddc.ErrUnsupported)
	assert.NotContains(t, out(t, b).Info().Observes, ddc.HotPlug)
	u := up(t, b, "c2.display")
	require.ErrorIs(t, u.Power5V.Err, ddc.ErrUnsupported)
	assert.Equal(t, ddc.Got(ddc.Locked), u.Signal)
}

func TestWireDelay(t *testing.T) {
	b := changed(t, []string{"seed: 5", "seed: 5\nwire_delay: 20ms"})
	start := time.Now()
	d := down(t, b, "c2.display")
	require.NoError(t, d.EDID.Err)
	assert.GreaterOrEqual(t, time.Since(start), 4*20*time.Millisecond, "two blocks, read twice")
	ctx, cancel := context.WithTimeout(context.Background(), time.Millisecond)
	defer cancel()
	w, err := out(t, b).Bus()
	require.NoError(t, err)
	err = w.Transfer(ctx, []ddc.Msg{{Addr: 0x50, Data: []byte{0}}})
	require.ErrorIs(t, err, context.DeadlineExceeded)
	require.ErrorIs(t, err, ddc.ErrDeadline)
}

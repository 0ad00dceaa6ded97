//go:build vbench

package ddc

import (
	"context"
	"os"
	"syscall"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"deadhop/ddc/internal/uapi"
	"deadhop/edid/timing"
)

// Modes of vivid's control "DV Timings Signal Mode" (Linux
// Documentation/admin-guide/media/vivid.rst).
const (
	vividCurrent = iota
	vividNoSignal
	vividNoLock
	vividOutOfRange
)

// vividInput is the first socket of the emulated receiver.
func vividInput(t *testing.T, ctx context.Context) (*Receiver, *SystemBench) {
	t.Helper()
	needModules(t, "vivid")
	bench, err := OpenBench(BenchOptions{})
	require.NoError(t, err)
	ports, err := bench.Ports(ctx)
	require.NoError(t, err)
	for _, p := range ports {
		if r, ok := p.(*Receiver); ok && r.driver == "vivid" {
			return r, bench
		}
	}
	t.Fatal("no receiver of the driver vivid")
	return nil, nil
}

// setVivid sets one of the driver's controls by its name.
func setVivid(t *testing.T, r *Receiver, name string, value int32) {
	t.Helper()
	f, err := uapi.Open(r.node)
	require.NoError(t, err)
	defer f.Close()
	for id := uint32(uapi.V4L2_CTRL_FLAG_NEXT_CTRL); ; {
		c, err := uapi.V4L2Queryctrl(f, id)
		require.NoError(t, err, "no control is named %q", name)
		if c.Name == name {
			require.NoError(t, uapi.V4L2SCtrl(f, c.ID, value))
			return
		}
		id = c.ID | uapi.V4L2_CTRL_FLAG_NEXT_CTRL
	}
}

func TestVBenchReceiverStatesReadDifferently(t *testing.T) {
	ctx := vbenchContext(t)
	r, _ := vividInput(t, ctx)
	defer setVivid(t, r, "DV Timings Signal Mode", vividCurrent)
	for _, c := range []struct {
		name  string
		mode  int32
		want  Signal
		errno syscall.Errno
		power bool
	}{
		{"good", vividCurrent, Locked, 0, true},
		{"no signal", vividNoSignal, NoSignal, syscall.ENOLINK, false},
		{"no lock", vividNoLock, NoLock, syscall.ENOLCK, true},
		{"out of range", vividOutOfRange, OutOfRange, syscall.ERANGE, true},
	} {
		t.Run(c.name, func(t *testing.T) {
			setVivid(t, r, "DV Timings Signal Mode", c.mode)
			u := r.LookUp(ctx, UpOptions{})
			require.Equal(t, Known, u.Signal.State, "%v", u.Signal.Err)
			assert.Equal(t, c.want, u.Signal.V)
			assert.Equal(t, Got(c.power), u.Power5V)
			if c.want == Locked {
				require.Equal(t, Known, u.Timing.State, "%v", u.Timing.Err)
				assert.NotZero(t, u.Timing.V.H.Active)
				return
			}
			assert.Equal(t, Unable, u.Timing.State)
			assert.ErrorIs(t, u.Timing.Err, c.errno)
		})
	}
}

// The timing that vivid starts with is 1280x720 at 60 Hz (CTA-861 VIC 4).
func TestVBenchReceiverTimingIsTheStandards(t *testing.T) {
	ctx := vbenchContext(t)
	r, _ := vividInput(t, ctx)
	u := r.LookUp(ctx, UpOptions{})
	require.Equal(t, Known, u.Timing.State, "%v", u.Timing.Err)
	assert.Equal(t, timing.Timing{
		PixelClock: timing.Hz(74_250_000),
		H:          timing.Axis{Active: 1280, Front: 110, Sync: 40, Back: 220, Positive: true},
		V:          timing.Axis{Active: 720, Front: 5, Sync: 5, Back: 20, Positive: true},
		Repeat:     1,
	}, u.Timing.V)
}

func TestVBenchReceiverShowsTheEDIDGivenToIt(t *testing.T) {
	ctx := vbenchContext(t)
	r, _ := vividInput(t, ctx)
	before, err := r.PresentedEDID(ctx)
	require.NoError(t, err)
	require.NotEmpty(t, before)
	defer func() { require.NoError(t, r.PresentEDID(ctx, before)) }()

	image := make([]byte, 256)
	copy(image, edidHeader)
	image[126] = 1
	for i := 8; i < 126; i++ {
		image[i] = byte(i)
	}
	image[127] -= sum(image[:128])
	require.NoError(t, r.PresentEDID(ctx, image))
	got, err := r.PresentedEDID(ctx)
	require.NoError(t, err)
	assert.Equal(t, image, got)
	assert.Equal(t, image, r.LookUp(ctx, UpOptions{}).Presented.V)

	image[127] ^= 0xff // a wrong checksum is shown as it is
	require.NoError(t, r.PresentEDID(ctx, image))

	assert.ErrorIs(t, r.PresentEDID(ctx, image[:100]), ErrUnsupported)
	assert.ErrorIs(t, r.PresentEDID(ctx, make([]byte, 128*9)), ErrUnsupported, "more than the receiver takes")

	// Withdrawn, the source sees hot-plug fall: power without a signal.
	require.NoError(t, r.PresentEDID(ctx, nil))
	u := r.LookUp(ctx, UpOptions{})
	assert.Equal(t, Got(NoSignal), u.Signal)
	assert.Equal(t, Got(true), u.Power5V)
	assert.Equal(t, Got([]byte{}), u.Presented)
}

func TestVBenchSecondLookWaitsForTheFirst(t *testing.T) {
	ctx := vbenchContext(t)
	r, _ := vividInput(t, ctx)
	held, err := r.open(ctx)
	require.NoError(t, err)
	short, cancel := context.WithTimeout(ctx, 100*time.Millisecond)
	defer cancel()
	u := r.LookUp(short, UpOptions{})
	assert.ErrorIs(t, u.Signal.Err, ErrDeadline)
	time.AfterFunc(100*time.Millisecond, func() { held.Close() })
	assert.Equal(t, Known, r.LookUp(ctx, UpOptions{}).Signal.State)
}

func TestVBenchSignalChangesComeAsEvents(t *testing.T) {
	ctx, cancel := context.WithCancel(vbenchContext(t))
	defer cancel()
	r, bench := vividInput(t, ctx)
	defer setVivid(t, r, "DV Timings Signal Mode", vividCurrent)
	events, err := bench.Watch(ctx)
	require.NoError(t, err)
	want := func(kind EventKind) {
		t.Helper()
		deadline := time.After(5 * time.Second)
		for {
			select {
			case e := <-events:
				late := time.Since(e.At)
				if e.Kind == kind && e.Port == r.id {
					assert.Less(t, late, 50*time.Millisecond, "after the kernel's own timestamp")
					return
				}
				// EventsLost may come between: the kernel joins events of a kind
				// that wait, and their numbers show it.
			case <-deadline:
				t.Fatalf("no event of kind %d at %s", kind, r.id)
			}
		}
	}
	setVivid(t, r, "DV Timings Signal Mode", vividNoSignal)
	want(Unplugged) // vivid's +5 V follows "no signal"
	setVivid(t, r, "DV Timings Signal Mode", vividCurrent)
	want(Plugged)
	setVivid(t, r, "DV Timings Signal Mode", vividNoLock)
	want(SignalChanged)
	setVivid(t, r, "DV Timings Signal Mode", vividOutOfRange)
	want(SignalChanged)
	cancel()
	for range events { // closed soon after
	}
}

func TestVBenchForcingAConnectorComesAsAnEvent(t *testing.T) {
	needModules(t, "virtio-gpu")
	ctx, cancel := context.WithCancel(vbenchContext(t))
	defer cancel()
	bench, err := OpenBench(BenchOptions{})
	require.NoError(t, err)
	events, err := bench.Watch(ctx)
	require.NoError(t, err)
	const status = "/sys/class/drm/card1-Virtual-2/status"
	defer os.WriteFile(status, []byte("detect"), 0)
	for _, c := range []struct {
		word string
		want EventKind
	}{{"off", Unplugged}, {"detect", Plugged}} {
		require.NoError(t, os.WriteFile(status, []byte(c.word), 0))
		var got Event
		for got.Kind != c.want {
			select {
			case got = <-events:
			case <-time.After(5 * time.Second):
				t.Fatalf("no event after the connector was set to %q", c.word)
			}
		}
		assert.Equal(t, "out:Virtual-2", got.Port)
	}
}

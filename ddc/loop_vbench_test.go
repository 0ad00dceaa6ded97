//go:build vbench

package ddc

import (
	"os"
	"path"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"deadhop/ddc/internal/uapi"
)

// vividOutput is the node of the emulated transmitter.
func vividOutput(t *testing.T) string {
	t.Helper()
	entries, err := os.ReadDir("/sys/class/video4linux")
	require.NoError(t, err)
	for _, e := range entries {
		name, _ := os.ReadFile("/sys/class/video4linux/" + e.Name() + "/name")
		if strings.HasSuffix(strings.TrimSpace(string(name)), "-vid-out") {
			return path.Join("/dev", e.Name())
		}
	}
	t.Fatal("vivid has no output")
	return ""
}

// send writes a frame to the transmitter again and again until stopped.
func send(t *testing.T, node string, f Frame) (stop func()) {
	t.Helper()
	out, err := uapi.Open(node)
	require.NoError(t, err)
	got, err := uapi.V4L2SFmtOutput(out, uint32(f.W), uint32(f.H), fourCC("RGB3"))
	require.NoError(t, err)
	require.Equal(t, [4]uint32{uint32(f.W), uint32(f.H), fourCC("RGB3"), uint32(3 * f.W)},
		[4]uint32{got.Width, got.Height, got.FourCC, got.BytesPerLine})
	stream, err := uapi.V4L2Play(out, 4, f.RGB)
	require.NoError(t, err)
	end, done := make(chan struct{}), make(chan struct{})
	go func() {
		defer close(done)
		defer out.Close()
		defer stream.Close()
		for {
			select {
			case <-end:
				return
			default:
			}
			if err := stream.Again(); err != nil {
				t.Errorf("send: %v", err)
				return
			}
		}
	}()
	return func() { close(end); <-done }
}

// A loop from the transmitter to the receiver: what comes in is what was sent,
// to the pixel, and a wrong pixel is found.
func TestVBenchLoopComparesPixelByPixel(t *testing.T) {
	ctx := vbenchContext(t)
	r, _ := vividInput(t, ctx)
	node := vividOutput(t)
	setVivid(t, r, "OSD Text Mode", 2)
	setVivid(t, r, "Loop Video", 1)
	defer setVivid(t, r, "Loop Video", 0)
	for _, pattern := range []Pattern{Bars, Grid, Alternate, Counter} {
		sent := pattern.Paint(1280, 720, 1)
		stop := send(t, node, sent)
		time.Sleep(300 * time.Millisecond)
		frames, err := r.Grab(ctx, 6)
		stop()
		require.NoError(t, err)
		got := frames[3:] // the first may come from before
		c := Compare(sent, got, 0)
		assert.True(t, c.Size)
		assert.Zero(t, c.Wrong, "%s: %s", pattern, c)
		assert.InEpsilon(t, 2.996/float64(3*1280*720), c.Bound, 0.01)

		got[1].RGB[3*12345+2] ^= 0x40
		c = Compare(sent, got, 0)
		assert.Equal(t, 1, c.Wrong)
		assert.Equal(t, [3]int{0, 0, 1}, c.Lanes)
	}
}

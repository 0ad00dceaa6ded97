//go:build vbench

package ddc

import (
	"image"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"deadhop/ddc/screentest"
	"deadhop/edid/timing"
)

// vga is 640x480 at 60 Hz (DMT 04h), xga 1024x768 at 60 Hz (DMT 10h).
var (
	vga = timing.Timing{PixelClock: timing.KHz(25175), Repeat: 1,
		H: timing.Axis{Active: 640, Front: 16, Sync: 96, Back: 48}, V: timing.Axis{Active: 480, Front: 10, Sync: 2, Back: 33}}
	xga = timing.Timing{PixelClock: timing.KHz(65000), Repeat: 1,
		H: timing.Axis{Active: 1024, Front: 24, Sync: 136, Back: 160}, V: timing.Axis{Active: 768, Front: 3, Sync: 6, Back: 29}}
)

func outputOf(t *testing.T, driver string) *Output {
	t.Helper()
	needModules(t, "bochs")
	bench, err := OpenBench(BenchOptions{})
	require.NoError(t, err)
	ports, err := bench.Ports(vbenchContext(t))
	require.NoError(t, err)
	for _, p := range ports {
		if o, ok := p.(*Output); ok && o.connector.Driver == driver {
			return o
		}
	}
	t.Fatalf("no output of %s", driver)
	return nil
}

func asFrame(img *image.RGBA) Frame {
	f := Frame{W: img.Bounds().Dx(), H: img.Bounds().Dy()}
	for i := range f.W * f.H {
		f.RGB = append(f.RGB, img.Pix[4*i:4*i+3]...)
	}
	return f
}

// console puts something on the output by the kernel's own frame buffer
// device, as a console would, and returns what the screen then shows.
func console(t *testing.T) Frame {
	t.Helper()
	names, err := filepath.Glob("/sys/class/graphics/fb*/name")
	require.NoError(t, err)
	for _, name := range names {
		b, err := os.ReadFile(name)
		require.NoError(t, err)
		if !strings.Contains(string(b), "bochs") {
			continue
		}
		dir := filepath.Dir(name)
		require.NoError(t, os.WriteFile(dir+"/blank", []byte("0"), 0))
		pix := make([]byte, 1<<20)
		for i := range pix {
			pix[i] = byte(i / 511)
		}
		fb, err := os.OpenFile("/dev/"+filepath.Base(dir), os.O_WRONLY, 0)
		require.NoError(t, err)
		_, err = fb.Write(pix)
		require.NoError(t, err)
		require.NoError(t, fb.Close())
		time.Sleep(time.Second) // deferred drawing
		img, err := screentest.Dump("bochs0", 0)
		require.NoError(t, err)
		f := asFrame(img)
		require.NotEqual(t, f.RGB[:3], f.RGB[3*1000:3*1000+3], "drawn")
		return f
	}
	t.Fatal("the driver has no frame buffer device")
	return Frame{}
}

// shown waits until the emulator's screen shows the frame.
func shown(t *testing.T, want Frame) Comparison {
	t.Helper()
	var c Comparison
	for range 20 {
		img, err := screentest.Dump("bochs0", 0)
		require.NoError(t, err)
		if c = Compare(want, []Frame{asFrame(img)}, 0); c.Size && c.Wrong == 0 {
			return c
		}
		time.Sleep(100 * time.Millisecond)
	}
	return c
}

func TestVBenchTestPicturesReachTheScreenPixelByPixel(t *testing.T) {
	ctx := vbenchContext(t)
	p := outputOf(t, "bochs-drm")
	before := console(t)
	for _, mode := range []timing.Timing{vga, xga} {
		s, err := p.Drive(ctx, mode)
		require.NoError(t, err)
		assert.Equal(t, [2]int{int(mode.H.Active), int(mode.V.Active)}, [2]int{s.W, s.H})
		for _, pattern := range []Pattern{Bars, Ramps, Grid, FullRed, FullGreen, FullBlue, Alternate, Mark, Counter} {
			want := pattern.Paint(s.W, s.H, 11)
			require.NoError(t, s.Draw(want))
			c := shown(t, want)
			assert.Zero(t, c.Wrong, "%s: %s", pattern, c)
		}
		assert.Error(t, s.Draw(Bars.Paint(16, 16, 0)))
		require.NoError(t, s.Close())
		require.NoError(t, s.Close())
	}
	c := shown(t, before)
	assert.True(t, c.Size, "the size from before is back")
	assert.Zero(t, c.Wrong, "%s", c)
}

// The process that drives the output is killed. The screen from before is
// back by the time that the next one starts.
func TestVBenchScreenIsRestoredAfterAKill(t *testing.T) {
	if os.Getenv("DEADHOP_DRIVE") != "" { // the child
		s, err := outputOf(t, "bochs-drm").Drive(vbenchContext(t), vga)
		require.NoError(t, err)
		require.NoError(t, s.Draw(Grid.Paint(s.W, s.H, 0)))
		time.Sleep(time.Minute)
		return
	}
	needModules(t, "bochs")
	before := console(t)
	child := exec.Command(os.Args[0], "-test.run", "^TestVBenchScreenIsRestoredAfterAKill$")
	child.Env = append(os.Environ(), "DEADHOP_DRIVE=1")
	require.NoError(t, child.Start())
	c := shown(t, Grid.Paint(640, 480, 0))
	require.Zero(t, c.Wrong, "%s", c)

	// Meanwhile the display is held, and the holder is named.
	_, err := outputOf(t, "bochs-drm").Drive(vbenchContext(t), vga)
	require.ErrorIs(t, err, ErrBusy)
	assert.ErrorContains(t, err, "process ")

	require.NoError(t, child.Process.Kill())
	_ = child.Wait()
	c = shown(t, before)
	assert.True(t, c.Size, "%s", c)
	assert.Zero(t, c.Wrong, "%s", c)
	s, err := outputOf(t, "bochs-drm").Drive(vbenchContext(t), xga)
	require.NoError(t, err, "the next start can drive it")
	require.NoError(t, s.Close())
}

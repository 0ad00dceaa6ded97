//go:build vbench

package vbench

import (
	"bytes"
	"context"
	"image"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"syscall"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"deadhop/ddc"
	"deadhop/ddc/screentest"
)

// screenPixels is what the emulator's screen shows: red, green and blue by pixel.
func screenPixels(t *testing.T) (size image.Point, pixels []byte) {
	t.Helper()
	img, err := screentest.Dump(screentest.Bochs, 0)
	require.NoError(t, err)
	size = img.Bounds().Size()
	for i := range size.X * size.Y {
		pixels = append(pixels, img.Pix[4*i:4*i+3]...)
	}
	return size, pixels
}

// console draws on the emulated screen by the kernel's frame buffer device,
// as a console would, and returns what it then shows.
func console(t *testing.T) []byte {
	t.Helper()
	dirs, err := filepath.Glob("/sys/bus/pci/devices/0000:00:03.0/graphics/fb*")
	require.NoError(t, err)
	require.Len(t, dirs, 1)
	require.NoError(t, os.WriteFile(dirs[0]+"/blank", []byte("0"), 0))
	pix := make([]byte, 1<<20)
	for i := range pix {
		pix[i] = byte(i / 509)
	}
	require.NoError(t, os.WriteFile("/dev/"+filepath.Base(dirs[0]), pix, 0))
	time.Sleep(time.Second) // the kernel draws late
	_, shown := screenPixels(t)
	return shown
}

// comesToShow waits until the emulated screen shows exactly the pixels.
func comesToShow(t *testing.T, want []byte) bool {
	t.Helper()
	for range 50 {
		if _, got := screenPixels(t); bytes.Equal(want, got) {
			return true
		}
		time.Sleep(100 * time.Millisecond)
	}
	return false
}

// started runs the program in the background, with its input held open.
func started(t *testing.T, args ...string) (cmd *exec.Cmd, in io.WriteCloser, out *bytes.Buffer) {
	t.Helper()
	out = &bytes.Buffer{}
	cmd = exec.Command("deadhop", args...)
	cmd.Stdout, cmd.Stderr = out, out
	in, err := cmd.StdinPipe()
	require.NoError(t, err)
	require.NoError(t, cmd.Start())
	t.Cleanup(func() {
		_ = cmd.Process.Kill()
		_ = cmd.Wait()
	})
	return cmd, in, out
}

// Each test picture is on the emulator's screen pixel by pixel, and what was
// there before is back, by Enter, by a signal, and after kill -9.
func TestProgramShowsTestPictures(t *testing.T) {
	before := console(t)
	for name, p := range map[string]ddc.Pattern{"bars": ddc.Bars, "ramps": ddc.Ramps, "grid": ddc.Grid, "alternate": ddc.Alternate, "red": ddc.FullRed} {
		cmd, in, out := started(t, "show", name, "--port", "out:Virtual-1", "--timing", "DMT 0x04")
		assert.True(t, comesToShow(t, p.Paint(640, 480, 0).RGB), "%s: %s", name, out)
		_, err := in.Write([]byte("\n"))
		require.NoError(t, err)
		require.NoError(t, cmd.Wait(), "%s", out)
		assert.Contains(t, out.String(), "out:Virtual-1 shows "+name+" at 640x480")
		assert.True(t, comesToShow(t, before), "%s: the screen from before is not back", name)
	}
	t.Run("by a signal", func(t *testing.T) {
		cmd, _, out := started(t, "show", "grid", "--port", "out:Virtual-1", "--timing", "DMT 0x10")
		require.True(t, comesToShow(t, ddc.Grid.Paint(1024, 768, 0).RGB), "%s", out)
		require.NoError(t, cmd.Process.Signal(syscall.SIGINT))
		require.NoError(t, cmd.Wait(), "%s", out)
		assert.True(t, comesToShow(t, before))
	})
	t.Run("killed", func(t *testing.T) {
		cmd, _, out := started(t, "show", "bars", "--port", "out:Virtual-1", "--timing", "DMT 0x04")
		require.True(t, comesToShow(t, ddc.Bars.Paint(640, 480, 0).RGB), "%s", out)
		held := deadhop(t, "show", "grid", "--port", "out:Virtual-1", "--timing", "DMT 0x04", "--for", "1s")
		assert.Equal(t, 3, held.code, held.out)
		assert.Contains(t, held.err, "deadhop (process ")
		require.NoError(t, cmd.Process.Kill())
		_ = cmd.Wait()
		assert.True(t, comesToShow(t, before))
		next := deadhop(t, "show", "grid", "--port", "out:Virtual-1", "--timing", "DMT 0x04", "--for", "1s")
		assert.Zero(t, next.code, next.err)
	})
	t.Run("what the display asks for, moving", func(t *testing.T) {
		r := deadhop(t, "show", "mark", "--port", "out:Virtual-1", "--for", "1s")
		assert.Zero(t, r.code, r.err)
		assert.Contains(t, r.out, "asked for by the kernel's copy of the EDID at out:Virtual-1")
		assert.Contains(t, r.out, "what it showed before is back")
	})
}

// keepsEDID puts the receiver's EDID back after the test: without one its
// signal is gone, and the other tests share the machine.
func keepsEDID(t *testing.T) {
	t.Helper()
	bench, err := ddc.OpenBench(ddc.BenchOptions{})
	require.NoError(t, err)
	ports, err := bench.Ports(t.Context())
	require.NoError(t, err)
	for _, p := range ports {
		if in, ok := p.(ddc.In); ok && p.Info().ID == receiverPort {
			before, err := in.PresentedEDID(t.Context())
			require.NoError(t, err)
			t.Cleanup(func() { assert.NoError(t, in.PresentEDID(context.Background(), before)) })
			return
		}
	}
	t.Fatalf("there is no %s", receiverPort)
}

func TestProgramPresentsAnEDID(t *testing.T) {
	receiver(t)
	keepsEDID(t)
	file := filepath.Join(t.TempDir(), "scaler.bin")
	edid := scalerEDID(t)
	require.NoError(t, os.WriteFile(file, edid, 0o644))
	var report struct {
		Shown   []byte `json:"shown"`
		AsGiven bool   `json:"as_given"`
	}
	r := deadhop(t, "present", file, "--port", receiverPort, "--json")
	require.Zero(t, r.code, r.err)
	r.into(t, &report)
	assert.Equal(t, edid, report.Shown)
	assert.True(t, report.AsGiven)

	r = deadhop(t, "present", "nothing", "--port", receiverPort, "--json")
	require.Zero(t, r.code, r.err)
	r.into(t, &report)
	assert.Empty(t, report.Shown)

	t.Run("more than it can hold", func(t *testing.T) {
		require.NoError(t, os.WriteFile(file, bytes.Repeat(edid, 255), 0o644))
		r := deadhop(t, "present", file, "--port", receiverPort)
		assert.Equal(t, 3, r.code)
		assert.Contains(t, r.out, "32640 bytes asked for, 0 shown")
		assert.Contains(t, r.out, "at most 2 blocks")
	})
	r = deadhop(t, "present", file, "--port", "out:Virtual-1")
	assert.Equal(t, 2, r.code)
	assert.True(t, strings.HasPrefix(r.err, "deadhop: out:Virtual-1 is no receiver"), r.err)
}

//go:build vbench

package screentest

import (
	"fmt"
	"image"
	"image/color"
	"os"
	"path/filepath"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// framebuffer finds the kernel's frame buffer of the card at a PCI address,
// and lights its display, which no console has done.
func framebuffer(t *testing.T, pci string) (node string, width, height int) {
	t.Helper()
	found, err := filepath.Glob("/sys/bus/pci/devices/" + pci + "/graphics/fb*")
	require.NoError(t, err)
	require.Len(t, found, 1)
	size, err := os.ReadFile(found[0] + "/virtual_size")
	require.NoError(t, err)
	_, err = fmt.Sscanf(string(size), "%d,%d", &width, &height)
	require.NoError(t, err)
	require.NoError(t, os.WriteFile(found[0]+"/blank", []byte("0"), 0))
	return "/dev/" + filepath.Base(found[0]), width, height
}

// Every pixel that the kernel is told to show arrives on the emulated
// display, and nothing else does.
func TestDisplayShowsWhatTheKernelWrites(t *testing.T) {
	node, width, height := framebuffer(t, "0000:00:03.0")
	want := image.NewRGBA(image.Rect(0, 0, width, height))
	raw := make([]byte, 0, 4*width*height)
	for y := range height {
		for x := range width {
			c := color.RGBA{byte(x), byte(y), byte(x ^ y), 0xff}
			want.SetRGBA(x, y, c)
			// XRGB8888 lies in memory as blue, green, red, unused.
			raw = append(raw, c.B, c.G, c.R, 0)
		}
	}
	require.NoError(t, os.WriteFile(node, raw, 0))
	assert.Eventually(t, func() bool {
		got, err := Dump(Bochs, 0)
		return err == nil && got.Bounds() == want.Bounds() && string(got.Pix) == string(want.Pix)
	}, 10*time.Second, 50*time.Millisecond)
}

func TestUnknownCardIsRefused(t *testing.T) {
	_, err := Dump("nosuch", 0)
	require.ErrorContains(t, err, "nosuch")
}

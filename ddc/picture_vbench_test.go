//go:build vbench

package ddc

import (
	"bytes"
	"image/png"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"deadhop/ddc/internal/uapi"
)

// vividMenu sets a menu control by the name of its item.
func vividMenu(t *testing.T, r *Receiver, control, item string) {
	t.Helper()
	f, err := uapi.Open(r.node)
	require.NoError(t, err)
	defer f.Close()
	for id := uint32(uapi.V4L2_CTRL_FLAG_NEXT_CTRL); ; {
		c, err := uapi.V4L2Queryctrl(f, id)
		require.NoError(t, err, "no control is named %q", control)
		id = c.ID | uapi.V4L2_CTRL_FLAG_NEXT_CTRL
		if c.Name != control {
			continue
		}
		for i := c.Min; i <= c.Max; i++ {
			if name, err := uapi.V4L2Querymenu(f, c.ID, uint32(i)); err == nil && name == item {
				require.NoError(t, uapi.V4L2SCtrl(f, c.ID, i))
				return
			}
		}
		t.Fatalf("control %q has no item %q", control, item)
	}
}

// The patterns are those of the kernel's test pattern generator
// (drivers/media/common/v4l2-tpg).
func TestVBenchPicturesAreJudged(t *testing.T) {
	ctx := vbenchContext(t)
	r, _ := vividInput(t, ctx)
	setVivid(t, r, "OSD Text Mode", 2) // no text
	defer vividMenu(t, r, "Test Pattern", "75% Colorbar")
	defer vividMenu(t, r, "Horizontal Movement", "No Movement")
	for _, c := range []struct {
		pattern, movement string
		moves             bool
		want              PictureKind
		still             bool
	}{
		{"100% Black", "No Movement", false, PictureBlack, true},
		{"75% Colorbar", "No Movement", false, PicturePlausible, true},
		{"75% Colorbar", "No Movement", true, PictureFrozen, true},
		{"75% Colorbar", "Move Right", true, PicturePlausible, false},
		{"100% Red", "No Movement", false, PictureOneColour, true},
		{"100% White", "No Movement", false, PictureOneColour, true},
		{"Noise", "No Movement", false, PictureNoise, false},
	} {
		t.Run(c.pattern+", "+c.movement, func(t *testing.T) {
			vividMenu(t, r, "Test Pattern", c.pattern)
			vividMenu(t, r, "Horizontal Movement", c.movement)
			u := r.LookUp(ctx, UpOptions{Moves: c.moves})
			require.Equal(t, Known, u.Picture.State, "%v", u.Picture.Err)
			assert.Equal(t, c.want, u.Picture.V, "%+v", u.Report)
			assert.Equal(t, c.still, u.Report.Still)
			assert.Equal(t, [2]int{1280, 720}, [2]int{u.Report.W, u.Report.H})
			img, err := png.Decode(bytes.NewReader(u.Shot))
			require.NoError(t, err)
			assert.Equal(t, 320, img.Bounds().Dx())
		})
	}
}

func TestVBenchNoPictureWithoutASignal(t *testing.T) {
	ctx := vbenchContext(t)
	r, _ := vividInput(t, ctx)
	setVivid(t, r, "DV Timings Signal Mode", vividNoSignal)
	defer setVivid(t, r, "DV Timings Signal Mode", vividCurrent)
	u := r.LookUp(ctx, UpOptions{})
	assert.Equal(t, Unable, u.Picture.State)
	assert.ErrorIs(t, u.Picture.Err, ErrNoSignal)
	_, err := r.Grab(ctx, 1)
	assert.ErrorIs(t, err, ErrNoSignal)
}

func TestVBenchCaptureHeldByAnotherIsBusy(t *testing.T) {
	ctx := vbenchContext(t)
	r, _ := vividInput(t, ctx)
	f, err := uapi.Open(r.node)
	require.NoError(t, err)
	defer f.Close()
	s, err := uapi.V4L2Capture(f, 3)
	require.NoError(t, err)
	_, err = r.Grab(ctx, 1)
	assert.ErrorIs(t, err, ErrBusy)
	require.NoError(t, s.Close())
	frames, err := r.Grab(ctx, 2)
	require.NoError(t, err)
	assert.Len(t, frames, 2)
}

package ddc_test

import (
	"bytes"
	"image/png"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"deadhop/ddc"
)

func paint(w, h int, at func(x, y int) (r, g, b int)) ddc.Frame {
	f := ddc.Frame{W: w, H: h, RGB: make([]byte, 0, 3*w*h)}
	for y := range h {
		for x := range w {
			r, g, b := at(x, y)
			f.RGB = append(f.RGB, byte(r), byte(g), byte(b))
		}
	}
	return f
}

// scene is a picture with shapes in all colours, like a board with text.
func scene(x, y int) (r, g, b int) {
	switch {
	case y%40 < 20 && x%90 < 60:
		return 230, 230, 225
	case x < 100:
		return 40, 60, 180
	case y > 120:
		return 200, 40 + x/4, 30
	default:
		return 20 + x/3, 120, 70
	}
}

func TestPictureKinds(t *testing.T) {
	rng := rand.New(rand.NewPCG(1, 2))
	for _, c := range []struct {
		name string
		at   func(x, y int) (r, g, b int)
		want ddc.PictureKind
		lane int
	}{
		{"black", func(int, int) (int, int, int) { return 0, 0, 0 }, ddc.PictureBlack, 0},
		{"limited-range black with a dot", func(x, y int) (int, int, int) {
			if x == 3 && y == 3 {
				return 255, 255, 255
			}
			return 16, 16, 16
		}, ddc.PictureBlack, 0},
		{"blue screen", func(int, int) (int, int, int) { return 0, 0, 200 }, ddc.PictureOneColour, 0},
		{"noise", func(int, int) (int, int, int) { v := rng.IntN(256); return v, v, v }, ddc.PictureNoise, 0},
		{"colour noise", func(int, int) (int, int, int) { return rng.IntN(256), rng.IntN(256), rng.IntN(256) }, ddc.PictureNoise, 0},
		{"scene", scene, ddc.PicturePlausible, 0},
		{"fine vertical stripes", func(x, _ int) (int, int, int) { return x % 2 * 255, x % 2 * 255, x % 2 * 255 }, ddc.PicturePlausible, 0},
		{"red gone", func(x, y int) (int, int, int) { _, g, b := scene(x, y); return 0, g, b }, ddc.PictureLaneMissing, 0},
		{"green gone", func(x, y int) (int, int, int) { r, _, b := scene(x, y); return r, 0, b }, ddc.PictureLaneMissing, 1},
		{"blue gone", func(x, y int) (int, int, int) { r, g, _ := scene(x, y); return r, g, 16 }, ddc.PictureLaneMissing, 2},
	} {
		t.Run(c.name, func(t *testing.T) {
			f := paint(320, 180, c.at)
			r := ddc.JudgePicture([]ddc.Frame{f}, false)
			assert.Equal(t, c.want, r.Kind, r.Detail)
			assert.Equal(t, c.lane, r.Lane)
			assert.False(t, r.YCbCrAsRGB)
		})
	}
}

func TestStillIsFrozenOnlyWhereItShouldMove(t *testing.T) {
	a := paint(320, 180, scene)
	b := paint(320, 180, scene)
	b.Sequence = 1
	r := ddc.JudgePicture([]ddc.Frame{a, b}, false)
	assert.True(t, r.Still)
	assert.Equal(t, ddc.PicturePlausible, r.Kind)
	assert.Equal(t, ddc.PictureFrozen, ddc.JudgePicture([]ddc.Frame{a, b}, true).Kind)
	b.RGB[500] ^= 1
	r = ddc.JudgePicture([]ddc.Frame{a, b}, true)
	assert.False(t, r.Still)
	assert.Equal(t, ddc.PicturePlausible, r.Kind)
	b.Sequence = 4
	assert.Equal(t, 3, ddc.JudgePicture([]ddc.Frame{a, b}, true).Dropped)
	assert.False(t, ddc.JudgePicture([]ddc.Frame{a}, true).Still, "one frame cannot be still")
}

// Black is 128,16,128 and white 128,235,128 where Cr, Y, Cb stand for red,
// green and blue (quantisation of ITU-R BT.709-6 clause 4, order of CTA-861).
func TestLumaInTheGreenLaneIsNamed(t *testing.T) {
	f := paint(320, 180, func(x, y int) (int, int, int) {
		r, g, b := scene(x, y)
		luma := (2126*r + 7152*g + 722*b) / 10000
		grey := x%3 != 0 // a board is mostly grey
		if grey {
			return 128, 16 + luma*219/255, 128
		}
		return 128 + (r-luma)/12, 16 + luma*219/255, 128 + (b-luma)/12
	})
	assert.True(t, ddc.JudgePicture([]ddc.Frame{f}, false).YCbCrAsRGB)
	white := paint(64, 64, func(int, int) (int, int, int) { return 128, 235, 128 })
	assert.True(t, ddc.JudgePicture([]ddc.Frame{white}, false).YCbCrAsRGB)
	grey := paint(64, 64, func(int, int) (int, int, int) { return 128, 128, 128 })
	assert.False(t, ddc.JudgePicture([]ddc.Frame{grey}, false).YCbCrAsRGB)
}

func TestSparklesAreCounted(t *testing.T) {
	f := paint(320, 180, func(x, _ int) (int, int, int) { return 60, 60 + x/8, 60 })
	for i := range 50 {
		at := 3 * ((3+3*(i/10))*320 + 5 + 20*(i%10))
		f.RGB[at] = 255
	}
	r := ddc.JudgePicture([]ddc.Frame{f}, false)
	assert.InDelta(t, 50.0/(318*178), r.Sparkles, 1e-9)
	assert.Equal(t, ddc.PicturePlausible, r.Kind)
}

func TestEvidenceIsASmallPicture(t *testing.T) {
	b, err := ddc.Evidence(paint(1920, 1080, scene))
	require.NoError(t, err)
	img, err := png.Decode(bytes.NewReader(b))
	require.NoError(t, err)
	assert.Equal(t, 320, img.Bounds().Dx())
	assert.Equal(t, 180, img.Bounds().Dy())
	assert.Less(t, len(b), 100_000)
}

func FuzzJudgePicture(f *testing.F) {
	f.Add([]byte{1, 2, 3, 4, 5, 6}, uint8(1), uint8(2))
	f.Fuzz(func(t *testing.T, rgb []byte, w, h uint8) {
		if len(rgb) < 3*int(w)*int(h) {
			return
		}
		fr := ddc.Frame{W: int(w), H: int(h), RGB: rgb[:3*int(w)*int(h)]}
		r := ddc.JudgePicture([]ddc.Frame{fr}, false)
		if (w == 0 || h == 0) != (r.Kind == 0) {
			t.Errorf("%d x %d gave kind %d", w, h, r.Kind)
		}
	})
}

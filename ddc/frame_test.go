package ddc

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"deadhop/ddc/internal/uapi"
)

// One red and one white pixel in each format. The YCbCr values are those of
// ITU-R BT.709-6 and BT.601-7 for eight bits.
func TestFramesOfEveryFormatGiveTheSamePixels(t *testing.T) {
	for _, c := range []struct {
		code   string
		height uint32
		data   []byte
		near   float64
	}{
		{"RGB3", 1, []byte{255, 0, 0, 255, 255, 255}, 0},
		{"BGR3", 1, []byte{0, 0, 255, 255, 255, 255}, 0},
		{"XR24", 1, []byte{0, 0, 255, 9, 255, 255, 255, 9}, 0},
		{"BX24", 1, []byte{9, 255, 0, 0, 9, 255, 255, 255}, 0},
		{"BGR4", 1, []byte{0, 0, 255, 9, 255, 255, 255, 9}, 0},
		{"RGB4", 1, []byte{9, 255, 0, 0, 9, 255, 255, 255}, 0},
	} {
		f, err := toFrame(uapi.V4L2PixFormat{Width: 2, Height: c.height, FourCC: fourCC(c.code), BytesPerLine: uint32(len(c.data))},
			uapi.V4L2Frame{Data: c.data})
		require.NoError(t, err, c.code)
		assert.Equal(t, []byte{255, 0, 0, 255, 255, 255}, f.RGB, c.code)
	}
	for _, c := range []struct {
		name    string
		m       matrix
		y, u, v byte
		rgb     [3]byte
	}{
		{"709 red", matrixFor(1080), 63, 102, 240, [3]byte{255, 0, 0}},
		{"709 green", matrixFor(1080), 173, 42, 26, [3]byte{0, 255, 0}},
		{"709 blue", matrixFor(1080), 32, 240, 118, [3]byte{0, 0, 255}},
		{"601 red", matrixFor(480), 81, 90, 240, [3]byte{255, 0, 0}},
		{"601 blue", matrixFor(480), 41, 240, 110, [3]byte{0, 0, 255}},
		{"white", matrixFor(1080), 235, 128, 128, [3]byte{255, 255, 255}},
		{"black", matrixFor(1080), 16, 128, 128, [3]byte{0, 0, 0}},
	} {
		var got [3]byte
		c.m.put(got[:], c.y, c.u, c.v)
		for i := range got {
			assert.InDelta(t, c.rgb[i], got[i], 3, "%s: %v", c.name, got)
		}
	}
}

func TestShortFramesAreRefused(t *testing.T) {
	for _, f := range frameFormats {
		for _, n := range []int{0, 1, 7} {
			_, err := toFrame(uapi.V4L2PixFormat{Width: 64, Height: 64, FourCC: fourCC(f.code), BytesPerLine: 256},
				uapi.V4L2Frame{Data: make([]byte, n)})
			assert.Error(t, err, "%s of %d bytes", f.code, n)
		}
	}
	_, err := toFrame(uapi.V4L2PixFormat{Width: 64, Height: 64, FourCC: fourCC("H264")}, uapi.V4L2Frame{})
	assert.ErrorContains(t, err, "H264")
}

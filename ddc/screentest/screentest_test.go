package screentest

import (
	"bufio"
	"image/color"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// The bytes follow the portable pixmap format as its manual page ppm(5)
// gives it: magic, width, height, maximum, one white space, samples by row.
func TestAnswer(t *testing.T) {
	const pixels = "\xff\x00\x00\x00\xff\x00" + "\x00\x00\xff\x0a\x20\x0d"
	picture := "P6\n2 2\n255\n" + pixels
	img, err := answer(bufio.NewReader(strings.NewReader("ok 23\n" + picture + "error next\n")))
	require.NoError(t, err)
	assert.Equal(t, color.RGBA{0xff, 0, 0, 0xff}, img.RGBAAt(0, 0))
	assert.Equal(t, color.RGBA{0, 0xff, 0, 0xff}, img.RGBAAt(1, 0))
	assert.Equal(t, color.RGBA{0, 0, 0xff, 0xff}, img.RGBAAt(0, 1))
	assert.Equal(t, color.RGBA{0x0a, 0x20, 0x0d, 0xff}, img.RGBAAt(1, 1), "samples that look like white space")

	tests := []struct{ name, answer, want string }{
		{"refused", "error no such device\n", "the host gave no screendump: error no such device"},
		{"cut off", "ok 22\n" + picture[:22], "row 1 of 2"},
		{"too long", "ok 24\n" + picture + "x", "goes on after its pixels"},
		{"no picture", "ok 3\nP6\n", "header"},
		{"16 bits", "ok 14\nP6\n1 1\n65535\n", "65535 levels"},
		{"vanished", "", "EOF"},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			_, err := answer(bufio.NewReader(strings.NewReader(tt.answer)))
			require.ErrorContains(t, err, tt.want)
		})
	}
}

func TestDumpOutsideTheVirtualBench(t *testing.T) {
	t.Setenv(HostEnv, "")
	_, err := Dump(Bochs, 0)
	require.ErrorContains(t, err, "virtual bench only")
}

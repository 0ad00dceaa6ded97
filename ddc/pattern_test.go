package ddc_test

import (
	"testing"

	"github.com/stretchr/testify/assert"

	"deadhop/ddc"
)

func TestPatternsAreWhatTheirNamesSay(t *testing.T) {
	const w, h = 640, 480
	at := func(f ddc.Frame, x, y int) [3]byte { return [3]byte(f.RGB[3*(y*w+x):]) }
	bars := ddc.Bars.Paint(w, h, 0)
	for i, want := range [][3]byte{{255, 255, 255}, {255, 255, 0}, {0, 255, 255}, {0, 255, 0}, {255, 0, 255}, {255, 0, 0}, {0, 0, 255}, {}} {
		assert.Equal(t, want, at(bars, i*80+40, 100), "bar %d", i)
	}
	grid := ddc.Grid.Paint(w, h, 0)
	for _, p := range [][2]int{{0, 5}, {w - 1, 5}, {5, 0}, {5, h - 1}, {32, 7}} {
		assert.Equal(t, [3]byte{255, 255, 255}, at(grid, p[0], p[1]))
	}
	assert.Equal(t, [3]byte{}, at(grid, 33, 33))
	assert.NotEqual(t, ddc.Mark.Paint(w, h, 1).RGB, ddc.Mark.Paint(w, h, 2).RGB)
	assert.Equal(t, ddc.Mark.Paint(w, h, 7).RGB, ddc.Mark.Paint(w, h, 7).RGB)
	counter := ddc.Counter.Paint(w, h, 5)
	for bit := range 32 {
		want := [3]byte{}
		if 5>>(31-bit)&1 == 1 {
			want = [3]byte{255, 255, 255}
		}
		assert.Equal(t, want, at(counter, bit*20+3, 3), "bit %d", bit)
	}
	// The judge of incoming pictures knows the bench's own patterns.
	for p, want := range map[ddc.Pattern]ddc.PictureKind{ddc.FullBlack: ddc.PictureBlack, ddc.FullRed: ddc.PictureOneColour,
		ddc.Bars: ddc.PicturePlausible, ddc.Ramps: ddc.PicturePlausible, ddc.Mark: ddc.PicturePlausible} {
		assert.Equal(t, want, ddc.JudgePicture([]ddc.Frame{p.Paint(w, h, 3)}, false).Kind, p.String())
	}
}

// The 95 % bounds are those of the Poisson distribution as tabled: 2.996 for
// none, 4.744 for one, 16.96 for ten events (e.g. NIST/SEMATECH e-Handbook,
// chi-squared tables: half of the 95 % points with 2k+2 degrees of freedom).
func TestLossBoundIsThePoissonOne(t *testing.T) {
	sent := ddc.Bars.Paint(100, 100, 0)
	for wrong, events := range map[int]float64{0: 2.996, 1: 4.744, 10: 16.96} {
		got := ddc.Bars.Paint(100, 100, 0)
		for i := range wrong {
			got.RGB[3*(i*97)+1] ^= 0x80
		}
		c := ddc.Compare(sent, []ddc.Frame{got}, 0)
		assert.Equal(t, wrong, c.Wrong)
		assert.Equal(t, [3]int{0, wrong, 0}, c.Lanes)
		assert.InEpsilon(t, events/10000, c.Bound, 0.005, "%d wrong", wrong)
		assert.True(t, c.Size)
	}
}

func TestComparisonSeesAnotherSizeAndTolerates(t *testing.T) {
	sent := ddc.Bars.Paint(64, 64, 0)
	c := ddc.Compare(sent, []ddc.Frame{ddc.Bars.Paint(32, 64, 0)}, 0)
	assert.False(t, c.Size)
	assert.Equal(t, 1.0, c.Rate())
	near := ddc.Bars.Paint(64, 64, 0)
	for i := range near.RGB {
		if near.RGB[i] == 0 {
			near.RGB[i] = 2
		}
	}
	assert.Zero(t, ddc.Compare(sent, []ddc.Frame{near}, 2).Wrong)
	assert.NotZero(t, ddc.Compare(sent, []ddc.Frame{near}, 1).Wrong)
}

package ddc

import (
	"bytes"
	"fmt"
	"image"
	"image/png"
)

// PictureReport is what some frames show. Levels are 0 to 255.
type PictureReport struct {
	Kind   PictureKind
	Frames int
	W, H   int
	Mean   [3]float64 // red, green, blue
	// Lane is the colour that is absent, where Kind is PictureLaneMissing:
	// 0 red (TMDS channel 2), 1 green (channel 1), 2 blue (channel 0).
	Lane int
	// YCbCrAsRGB means that the picture looks like luma and colour
	// difference shown as green, red and blue: black as 128,16,128 and white
	// as 128,235,128 (BT.601 and BT.709 quantisation).
	YCbCrAsRGB bool
	// Still means that all frames were the same. A board that shows a text
	// is still and healthy: only what is known to move can freeze.
	Still bool
	// Sparkles is the share of pixels that stand out from all four
	// neighbours: a marginal link makes them, content hardly ever does.
	Sparkles float64
	// Dropped counts frames that the driver left out or marked as faulty.
	Dropped int
	Detail  string
}

// Limits of the judgement. Common practice, no source: chosen so that the
// blanks of a limited-range signal (16), dither and a receiver's rounding stay
// inside them.
const (
	blackLevel   = 24
	sameLevel    = 6
	strayPixels  = 0.001 // of the picture, that may lie outside: a cursor, a dot
	sparkleStep  = 64
	sparkleQuiet = 24
	noiseCorr    = 0.35
)

// JudgePicture looks at frames of one size. With moves, the picture is known
// to move, so that a still one is frozen.
func JudgePicture(frames []Frame, moves bool) PictureReport {
	if len(frames) == 0 || frames[0].W == 0 || frames[0].H == 0 {
		return PictureReport{}
	}
	f := frames[len(frames)-1]
	r := PictureReport{Frames: len(frames), W: f.W, H: f.H, Still: len(frames) > 1}
	for i, g := range frames {
		if g.Damaged {
			r.Dropped++
		}
		if i == 0 {
			continue
		}
		r.Dropped += int(int32(g.Sequence-frames[i-1].Sequence)) - 1
		if !bytes.Equal(g.RGB, frames[0].RGB) {
			r.Still = false
		}
	}
	var h [3]levels
	for c := range h {
		h[c].count(f.RGB, c)
		r.Mean[c] = h[c].mean()
	}
	r.Sparkles = sparkles(f)
	corr := neighbours(f)
	switch {
	case h[0].high() <= blackLevel && h[1].high() <= blackLevel && h[2].high() <= blackLevel:
		r.Kind, r.Detail = PictureBlack, "every pixel is black"
	case h[0].spread() <= sameLevel && h[1].spread() <= sameLevel && h[2].spread() <= sameLevel:
		r.Kind = PictureOneColour
		r.Detail = fmt.Sprintf("every pixel is about %.0f,%.0f,%.0f", r.Mean[0], r.Mean[1], r.Mean[2])
	case corr < noiseCorr:
		r.Kind = PictureNoise
		r.Detail = fmt.Sprintf("neighbouring pixels hardly agree (correlation %.2f)", corr)
	case missingLane(h, &r):
		r.Kind = PictureLaneMissing
		r.Detail = [...]string{"red", "green", "blue"}[r.Lane] + " is absent from a picture that has the other two"
	case moves && r.Still:
		r.Kind, r.Detail = PictureFrozen, fmt.Sprintf("%d frames are the same to the pixel", r.Frames)
	default:
		r.Kind, r.Detail = PicturePlausible, "a picture"
	}
	r.YCbCrAsRGB = r.Kind != PictureBlack && r.Kind != PictureNoise && lumaInGreen(h)
	return r
}

// levels is a histogram of one colour.
type levels struct {
	n   [256]int
	all int
}

func (l *levels) count(rgb []byte, c int) {
	for i := c; i < len(rgb); i += 3 {
		l.n[rgb[i]]++
	}
	l.all = len(rgb) / 3
}

func (l *levels) mean() float64 {
	sum := 0
	for v, n := range l.n {
		sum += v * n
	}
	return float64(sum) / float64(max(l.all, 1))
}

// at is the level below which the given share of the pixels lies.
func (l *levels) at(share float64) int {
	left := int(share * float64(l.all))
	for v, n := range l.n {
		if left < n {
			return v
		}
		left -= n
	}
	return 255
}

func (l *levels) low() int    { return l.at(strayPixels) }
func (l *levels) high() int   { return l.at(1 - strayPixels) }
func (l *levels) spread() int { return l.high() - l.low() }

// missingLane: one colour is at its floor everywhere, and both others carry a
// picture.
func missingLane(h [3]levels, r *PictureReport) bool {
	for c := range h {
		a, b := &h[(c+1)%3], &h[(c+2)%3]
		if h[c].high() <= blackLevel && a.spread() > 4*blackLevel && b.spread() > 4*blackLevel {
			r.Lane = c
			return true
		}
	}
	return false
}

// lumaInGreen: red and blue stay near the middle, where colour differences
// of a mostly grey picture lie, while green carries it.
func lumaInGreen(h [3]levels) bool {
	near := func(l *levels) bool {
		return l.at(0.1) >= 96 && l.at(0.9) <= 160 && l.low() >= 16 && l.high() <= 240
	}
	return near(&h[0]) && near(&h[2]) && (h[1].at(0.9)-h[1].at(0.1) > 64 || h[1].at(0.5) <= 20 || h[1].at(0.5) >= 230)
}

// sparkles is the share of inner pixels that differ strongly from all four
// neighbours, which agree among themselves.
func sparkles(f Frame) float64 {
	if f.W < 3 || f.H < 3 {
		return 0
	}
	row, found := 3*f.W, 0
	for y := 1; y < f.H-1; y++ {
		for x := 1; x < f.W-1; x++ {
			i := y*row + 3*x
			for c := range 3 {
				p := int(f.RGB[i+c])
				l, r, u, d := int(f.RGB[i+c-3]), int(f.RGB[i+c+3]), int(f.RGB[i+c-row]), int(f.RGB[i+c+row])
				lo, hi := min(l, r, u, d), max(l, r, u, d)
				if hi-lo <= sparkleQuiet && (p-hi > sparkleStep || lo-p > sparkleStep) {
					found++
					break
				}
			}
		}
	}
	return float64(found) / float64((f.W-2)*(f.H-2))
}

// neighbours is how well pixels agree with those beside and below them, by
// correlation of their green and red sum: near 1 for pictures, near 0 for
// noise. The better of the two directions counts, since fine stripes agree in
// one only.
func neighbours(f Frame) float64 {
	if f.W < 2 || f.H < 2 {
		return 1
	}
	v := func(x, y int) float64 {
		i := 3 * (y*f.W + x)
		return float64(f.RGB[i]) + float64(f.RGB[i+1]) + float64(f.RGB[i+2])
	}
	var sum, square, across, down float64
	n := 0
	for y := range f.H - 1 {
		for x := range f.W - 1 {
			p := v(x, y)
			sum += p
			square += p * p
			across += (p - v(x+1, y)) * (p - v(x+1, y))
			down += (p - v(x, y+1)) * (p - v(x, y+1))
			n++
		}
	}
	variance := square/float64(n) - sum/float64(n)*sum/float64(n)
	if variance < 1 {
		return 1
	}
	return 1 - min(across, down)/float64(n)/(2*variance)
}

// evidenceWidth is the width of the picture kept as evidence, in pixels.
const evidenceWidth = 320

// Evidence is a small PNG of a frame. Each of its pixels is one of the
// frame's, not a mean, so that single bad pixels stay visible.
func Evidence(f Frame) ([]byte, error) {
	step := max(1, (f.W+evidenceWidth-1)/evidenceWidth)
	img := image.NewNRGBA(image.Rect(0, 0, f.W/step, f.H/step))
	for y := range f.H / step {
		for x := range f.W / step {
			at := img.PixOffset(x, y)
			copy(img.Pix[at:], f.RGB[3*(y*step*f.W+x*step):][:3])
			img.Pix[at+3] = 0xff
		}
	}
	var out bytes.Buffer
	if err := png.Encode(&out, img); err != nil {
		return nil, err
	}
	return out.Bytes(), nil
}

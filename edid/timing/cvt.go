package timing

import (
	"fmt"
	"math"
	"math/bits"
)

// CVTBlanking selects one of the blankings that VESA CVT defines.
type CVTBlanking uint8

// The blankings of VESA CVT: standard (for CRTs), and reduced blanking
// versions 1 (CVT 1.1), 2 (CVT 1.2) and 3 (CVT 2.0).
const (
	CVTStandard CVTBlanking = iota
	CVTReduced1
	CVTReduced2
	CVTReduced3
)

func (b CVTBlanking) String() string {
	switch b {
	case CVTStandard:
		return "CVT"
	case CVTReduced1, CVTReduced2, CVTReduced3:
		return fmt.Sprintf("CVT reduced blanking v%d", b)
	}
	return fmt.Sprintf("CVTBlanking(%d)", uint8(b))
}

// Request is what a timing formula is asked for.
type Request struct {
	Width, Height uint32 // active pixels, active lines of a whole frame
	// Rate is the rate of whole frames. CVT takes a rate such as 60 Hz as
	// the name of the mode; what comes out is close to it, not equal.
	Rate Freq
	// Margins adds the 1.8 % border of CVT and GTF. It lands in the porches,
	// as in every Timing.
	Margins    bool
	Interlaced bool
}

// CVT computes a timing by VESA CVT 1.2 section 5 (version 3 of reduced
// blanking: CVT 2.0, with its least blanking). All arithmetic is exact, so
// that no rounding of the computer's own moves a pixel. The width is rounded
// down to a whole number of cells of 8 pixels, but not in reduced blanking 2
// and 3, which know neither margins nor interlace.
func CVT(r Request, b CVTBlanking) (Timing, error) {
	if err := r.check("CVT"); err != nil {
		return Timing{}, err
	}
	if b > CVTReduced3 {
		return Timing{}, fmt.Errorf("%s: no such blanking", b)
	}
	if b >= CVTReduced2 && (r.Margins || r.Interlaced) {
		return Timing{}, fmt.Errorf("%s defines neither margins nor interlace", b)
	}
	c := newRaster(r)
	cell := uint64(8)
	if b >= CVTReduced2 {
		cell = 1
	}
	c.width = uint64(r.Width) / cell * cell
	if c.width == 0 {
		return Timing{}, fmt.Errorf("CVT: width %d is less than one cell of 8 pixels", r.Width)
	}
	c.lines = uint64(r.Height) / c.fields
	if r.Margins {
		c.hMargin = c.width * 18 / 1000 / cell * cell
		c.vMargin = c.lines * 18 / 1000
	}
	if b == CVTStandard {
		return c.cvtStandard(r)
	}
	return c.cvtReduced(r, b)
}

// raster is the working state that CVT and GTF share. The field rate is
// fn/fd Hz.
type raster struct {
	fn, fd           uint64
	fields           uint64 // fields in a frame
	width, lines     uint64 // active pixels, active lines a field
	hMargin, vMargin uint64 // on each side
}

func newRaster(r Request) raster {
	c := raster{fields: 1}
	if r.Interlaced {
		c.fields = 2
	}
	f := r.Rate.Mul(c.fields)
	if f.num > 1e9 || f.den > 1e9 {
		f = Ratio(f.Mul(1e6).Round(1), 1e6)
	}
	c.fn, c.fd = f.Fraction()
	return c
}

// period is the estimated line period in µs as a fraction pn/pd, where hold
// is the part of the field in µs that is set aside for vertical blanking and
// porch counts the lines beside the active ones. Lines are doubled inside so
// that half a line of an interlaced field stays whole.
func (c *raster) period(hold, porch uint64) (pn, pd uint64) {
	lines2 := 2*(c.lines+2*c.vMargin+porch) + c.fields - 1
	return 2 * (1_000_000*c.fd - hold*c.fn), c.fn * lines2
}

// cvtVSync is CVT's vertical sync width, which names the aspect ratio (CVT
// 1.2 table 3-2). A ratio is met when the width equals the height's, rounded
// down to the cell.
func cvtVSync(width, height uint64) uint64 {
	for _, a := range []struct{ w, h, lines uint64 }{{4, 3, 4}, {16, 9, 5}, {16, 10, 6}, {5, 4, 7}, {15, 9, 7}} {
		if width == height*a.w/a.h/8*8 {
			return a.lines
		}
	}
	return 10
}

func (c *raster) cvtStandard(r Request) (Timing, error) {
	const (
		minPorch, minBack = 3, 6
		minSyncBack       = 550 // µs
	)
	vsync := cvtVSync(c.width, uint64(r.Height))
	pn, pd := c.period(minSyncBack, minPorch)
	syncBack := max(mulDiv(minSyncBack, pd, pn)+1, vsync+minBack)
	active := c.width + 2*c.hMargin
	// Duty cycle of blanking in percent: 30 - 0.3 × period, at least 20, all
	// × 10·pd here.
	dn, dd := uint64(200), uint64(1000)
	if 300*pd > 3*pn && (300*pd-3*pn)/pd >= 200 {
		dn, dd = 300*pd-3*pn, 1000*pd
	}
	blank := mulDiv(active, dn, dd-dn) / 16 * 16
	total := active + blank
	clock := mulDiv(4*total, pd, pn) * 250_000
	hsync := total * 8 / 100 / 8 * 8
	back := blank / 2
	if back < hsync {
		return Timing{}, fmt.Errorf("CVT: %d pixels of blanking do not hold the sync of %d", blank, hsync)
	}
	return c.timing(clock, 1,
		Axis{Front: uint32(blank - hsync - back), Sync: uint32(hsync), Back: uint32(back)},
		Axis{Front: minPorch, Sync: uint32(vsync), Back: uint32(syncBack - vsync), Positive: true})
}

func (c *raster) cvtReduced(r Request, b CVTBlanking) (Timing, error) {
	const minBlank = 460 // µs
	const minBack = 6
	h := Axis{Front: 48, Sync: 32, Back: 80, Positive: true}
	front, vsync := uint64(3), cvtVSync(c.width, uint64(r.Height))
	if b >= CVTReduced2 {
		h = Axis{Front: 8, Sync: 32, Back: 40, Positive: true}
		front, vsync = 1, 8
	}
	lines := c.lines + 2*c.vMargin
	pn, pd := 1_000_000*c.fd-minBlank*c.fn, c.fn*lines
	blank := max(mulDiv(minBlank, pd, pn)+1, front+vsync+minBack)
	v := Axis{Front: 3, Sync: uint32(vsync), Back: uint32(blank - 3 - vsync)}
	if b >= CVTReduced2 {
		v = Axis{Front: uint32(blank - vsync - minBack), Sync: uint32(vsync), Back: minBack}
	}
	// Pixels of a field, doubled for the half line.
	pixels2 := (c.width + 2*c.hMargin + uint64(h.Blank())) * (2*(lines+blank) + c.fields - 1)
	var clock uint64
	switch b {
	case CVTReduced1: // steps of 0.25 MHz, down
		clock = mulDiv(pixels2, c.fn, c.fd*500_000) * 250_000
	case CVTReduced2: // steps of 1 kHz, down
		clock = mulDiv(pixels2, c.fn, c.fd*2000) * 1000
	case CVTReduced3: // 350 ppm faster, steps of 1 kHz, up
		clock = (mulDiv(pixels2*100_035-1, c.fn, c.fd*200_000_000) + 1) * 1000
	}
	return c.timing(clock, 1, h, v)
}

// timing puts the parts together: margins go into the porches.
func (c *raster) timing(num, den uint64, h, v Axis) (Timing, error) {
	h.Active, v.Active = uint32(c.width), uint32(c.lines)
	h.Front += uint32(c.hMargin)
	h.Back += uint32(c.hMargin)
	v.Front += uint32(c.vMargin)
	v.Back += uint32(c.vMargin)
	t := Timing{PixelClock: Ratio(num, den), H: h, V: v, Interlaced: c.fields == 2, HalfLine: c.fields == 2, Repeat: 1}
	return t, t.Validate()
}

// check keeps the formulas inside the range in which their integers hold.
func (r Request) check(formula string) error {
	rate := r.Rate
	if r.Interlaced {
		rate = rate.Mul(2)
	}
	switch {
	case r.Width == 0 || r.Height == 0:
		return fmt.Errorf("%s: size %dx%d: both must be above 0", formula, r.Width, r.Height)
	case r.Width > 32768 || r.Height > 16384:
		return fmt.Errorf("%s: size %dx%d is beyond 32768x16384", formula, r.Width, r.Height)
	case r.Interlaced && r.Height%2 == 1:
		return fmt.Errorf("%s: %d lines do not make two fields", formula, r.Height)
	case rate.Cmp(Hz(1)) < 0 || rate.Cmp(Hz(1000)) > 0:
		return fmt.Errorf("%s: rate %s is outside 1 to 1000 Hz", formula, rate)
	}
	return nil
}

// mulDiv is a·b/c rounded down, through a 128-bit product; the largest number
// where the result does not fit.
func mulDiv(a, b, c uint64) uint64 {
	hi, lo := bits.Mul64(a, b)
	if hi >= c {
		return math.MaxUint64
	}
	q, _ := bits.Div64(hi, lo, c)
	return q
}

// mulDivRound is a·b/c rounded to nearest, halves up.
func mulDivRound(a, b, c uint64) uint64 {
	hi, lo := bits.Mul64(a, b)
	lo, carry := bits.Add64(lo, c/2, 0)
	hi += carry
	if hi >= c {
		return math.MaxUint64
	}
	q, _ := bits.Div64(hi, lo, c)
	return q
}

package timing

import "fmt"

// GTFCurve holds the blanking parameters of VESA GTF 1.1 section 5 as an EDID
// range descriptor stores them: C and J doubled. The curve is used from the
// line rate Start on; below it the default curve holds.
type GTFCurve struct {
	Start  Freq
	C2, J2 uint8
	M      uint16
	K      uint8
}

// GTFDefault is GTF's default curve: C 40, J 20, M 600, K 128.
var GTFDefault = GTFCurve{C2: 80, J2: 40, M: 600, K: 128}

// GTF computes a timing by VESA GTF 1.1 section 5 from a vertical frame rate,
// with the default curve, or from its starting line rate on with the
// secondary one. A nil secondary means that the display has none. The width
// is rounded to the nearest whole number of cells of 8 pixels. GTF does not
// round the pixel clock; it comes out exactly.
//
// Sync polarity tells the curves apart: H negative and V positive for the
// default, the reverse for the secondary.
func GTF(r Request, secondary *GTFCurve) (Timing, error) {
	if err := r.check("GTF"); err != nil {
		return Timing{}, err
	}
	const cell, minPorch, vsync = 8, 1, 3
	const minSyncBack = 550 // µs
	c := newRaster(r)
	c.width = uint64(r.Width+cell/2) / cell * cell
	c.lines = uint64(r.Height) / c.fields
	if r.Margins {
		c.hMargin = (c.width*18/1000 + cell/2) / cell * cell
		c.vMargin = (c.lines*18 + 500) / 1000
	}
	pn, pd := c.period(minSyncBack, minPorch)
	syncBack := mulDivRound(minSyncBack, pd, pn)
	if syncBack < vsync || c.width == 0 {
		return Timing{}, fmt.Errorf("GTF: %dx%d at %s leaves no room for the sync", r.Width, r.Height, r.Rate)
	}
	lines2 := 2*(c.lines+2*c.vMargin+syncBack+minPorch) + c.fields - 1
	curve := GTFDefault
	lineRate := Ratio(c.fn, c.fd).Scale(lines2, 2)
	second := secondary != nil && lineRate.Cmp(secondary.Start) > 0
	if second {
		curve = *secondary
	}
	active := c.width + 2*c.hMargin
	blank, err := curve.blank(active, c.fn*lines2, c.fd)
	if err != nil {
		return Timing{}, err
	}
	total := active + blank
	hsync := mulDivRound(total, 8, 100*cell) * cell
	if blank/2 < hsync {
		return Timing{}, fmt.Errorf("GTF: %d pixels of blanking do not hold the sync of %d", blank, hsync)
	}
	return c.timing(total*lines2*c.fn, 2*c.fd,
		Axis{Front: uint32(blank/2 - hsync), Sync: uint32(hsync), Back: uint32(blank / 2), Positive: second},
		Axis{Front: minPorch, Sync: vsync, Back: uint32(syncBack - vsync), Positive: !second})
}

// blank is the horizontal blanking at twice the line rate ln/ld Hz, in whole
// double cells.
//
// The duty cycle in percent is C' - M'·period/1000 with C' = (C-J)·K/256 + J,
// M' = M·K/256 and the period in µs; both sides are multiplied by 512·ln here.
func (g GTFCurve) blank(active, ln, ld uint64) (uint64, error) {
	c512 := (int64(g.C2)-int64(g.J2))*int64(g.K) + int64(g.J2)*256
	duty := c512*int64(ln) - 4000*int64(g.M)*int64(g.K)*int64(ld)
	full := 100 * 512 * int64(ln)
	if duty <= 0 || duty >= full {
		return 0, fmt.Errorf("GTF: the curve C %g J %g M %d K %d gives no blanking at %s",
			float64(g.C2)/2, float64(g.J2)/2, g.M, g.K, Ratio(ln, 2*ld))
	}
	return mulDivRound(active, uint64(duty), uint64(full-duty)*16) * 16, nil
}

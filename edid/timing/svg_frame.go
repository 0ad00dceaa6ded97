package timing

import (
	"bytes"
	"encoding/xml"
	"fmt"
	"math"
)

// svgPage writes the head that both pictures share: white ground, dark text,
// no outside reference, so that it opens in a browser and prints.
func svgPage(b *bytes.Buffer, width, height float64, title string) {
	fmt.Fprintf(b, `<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 %g %g" width="%g" height="%g" font-family="sans-serif" font-size="13" fill="#111">`+"\n", width, height, width, height)
	fmt.Fprintf(b, "<title>%s</title>\n<rect width=\"%g\" height=\"%g\" fill=\"#fff\"/>\n", escape(title), width, height)
}

func escape(s string) string {
	var b bytes.Buffer
	// Writing to a buffer does not fail.
	_ = xml.EscapeText(&b, []byte(s))
	return b.String()
}

func svgText(b *bytes.Buffer, x, y float64, extra, text string) {
	fmt.Fprintf(b, "<text x=\"%.1f\" y=\"%.1f\"%s>%s</text>\n", x, y, extra, escape(text))
}

func svgRect(b *bytes.Buffer, x, y, w, h float64, fill string) {
	fmt.Fprintf(b, "<rect x=\"%.2f\" y=\"%.2f\" width=\"%.2f\" height=\"%.2f\" fill=\"%s\" stroke=\"#111\" stroke-width=\"0.5\"/>\n", x, y, w, h, fill)
}

const (
	fillActive = "#f2f2f2"
	fillFront  = "#cfe3f5"
	fillSync   = "#5b7fa6"
	fillBack   = "#e3d5ea"
)

// FrameSVG draws the frame to scale: active picture, porches and sync of both
// axes, and a bar for every limit on a total, with the frame's own total
// marked on it. Interlaced timings are drawn as one field.
func FrameSVG(t Timing, limits []Limits) []byte {
	type bar struct {
		row  Row
		axis uint8
	}
	var bars []bar
	longest := [2]float64{float64(t.H.Total()), float64(t.V.Total())}
	for i := range limits {
		for _, x := range limits[i].List {
			if x.Quantity != HTotal && x.Quantity != VTotal {
				continue
			}
			axis := uint8(0)
			if x.Quantity == VTotal {
				axis = 1
			}
			bars = append(bars, bar{x.judge(limits[i].Origin, limits[i].value(t, x.Quantity), 0), axis})
			longest[axis] = max(longest[axis], x.Max.Float(), x.Min.Float())
		}
	}
	const left, top, room = 40.0, 60.0, 760.0
	scale := room / max(longest[0], longest[1]*1.2, 1)
	across, down := func(n uint32) float64 { return float64(n) * scale }, func(n uint32) float64 { return float64(n) * scale }
	frameW, frameH := across(t.H.Total()), down(t.V.Total())
	height := top + max(frameH, longest[1]*scale) + 130 + 34*float64(len(bars))
	var b bytes.Buffer
	svgPage(&b, left+room+60, height, t.String())
	svgText(&b, left, 24, ` font-size="17"`, t.Size()+" "+t.FieldRate().InDecimals(1, 3)+" Hz, "+t.PixelClock.String())
	svgText(&b, left, 44, "", fmt.Sprintf("H total %d px, V total %d lines, H sync %s, V sync %s", t.H.Total(), t.V.Total(), polarity(t.H.Positive), polarity(t.V.Positive)))
	// Blanking on the right and below: the bands of the two axes cross.
	svgRect(&b, left, top, frameW, frameH, "#fff")
	x := left + across(t.H.Active)
	for _, part := range []struct {
		n    uint32
		fill string
	}{{t.H.Front, fillFront}, {t.H.Sync, fillSync}, {t.H.Back, fillBack}} {
		svgRect(&b, x, top, across(part.n), frameH, part.fill)
		x += across(part.n)
	}
	y := top + down(t.V.Active)
	for _, part := range []struct {
		n    uint32
		fill string
	}{{t.V.Front, fillFront}, {t.V.Sync, fillSync}, {t.V.Back, fillBack}} {
		svgRect(&b, left, y, across(t.H.Active), down(part.n), part.fill)
		y += down(part.n)
	}
	svgRect(&b, left, top, across(t.H.Active), down(t.V.Active), fillActive)
	svgText(&b, left+across(t.H.Active)/2, top+down(t.V.Active)/2, ` text-anchor="middle" font-size="16"`, fmt.Sprintf("active %d x %d", t.H.Active, t.V.Active))
	y = top + max(frameH, longest[1]*scale) + 26
	legendX := left
	for _, part := range []struct{ fill, text string }{
		{fillFront, fmt.Sprintf("front porch %d px, %d lines", t.H.Front, t.V.Front)},
		{fillSync, fmt.Sprintf("sync %d px, %d lines", t.H.Sync, t.V.Sync)},
		{fillBack, fmt.Sprintf("back porch %d px, %d lines", t.H.Back, t.V.Back)},
	} {
		svgRect(&b, legendX, y-11, 13, 13, part.fill)
		svgText(&b, legendX+19, y, "", part.text)
		legendX += 250
	}
	y += 40
	for _, bar := range bars {
		n, have := t.H.Total(), "H"
		if bar.axis == 1 {
			n, have = t.V.Total(), "V"
		}
		svgText(&b, left, y-7, "", fmt.Sprintf("%s: %s %s, here %s, margin %s, %s", bar.row.Origin, bar.row.What, bar.row.Need, bar.row.Have, bar.row.Margin, bar.row.Verdict))
		low := bar.row.Limit.Min.Float() * scale
		high := bar.row.Limit.Max.Float() * scale
		if bar.row.Limit.Max.IsZero() {
			high = room
		}
		svgRect(&b, left+low, y-2, math.Max(high-low, 1), 8, fillActive)
		fill := "#111"
		if bar.row.Verdict == Broken {
			fill = "#b00020"
		}
		at := left + float64(n)*scale
		fmt.Fprintf(&b, "<path d=\"M%.2f %.2fv14\" stroke=\"%s\" stroke-width=\"2.5\"><title>%s total %d</title></path>\n", at, y-5, fill, have, n)
		y += 34
	}
	b.WriteString("</svg>\n")
	return b.Bytes()
}

package timing

import (
	"bytes"
	"fmt"
)

// ColourPoints are the CIE 1931 x, y of a display's primaries and white point.
type ColourPoints struct {
	RedX, RedY, GreenX, GreenY, BlueX, BlueY, WhiteX, WhiteY float64
}

// spectralLocus is the edge of the CIE 1931 2-degree diagram: wavelength in
// nm, x, y (CIE 15, to four decimals; from memory, for the drawing alone).
var spectralLocus = [...][3]float64{
	{380, 0.1741, 0.0050}, {420, 0.1714, 0.0051}, {440, 0.1644, 0.0109}, {450, 0.1566, 0.0177},
	{460, 0.1440, 0.0297}, {470, 0.1241, 0.0578}, {475, 0.1096, 0.0868}, {480, 0.0913, 0.1327},
	{485, 0.0687, 0.2007}, {490, 0.0454, 0.2950}, {495, 0.0235, 0.4127}, {500, 0.0082, 0.5384},
	{505, 0.0039, 0.6548}, {510, 0.0139, 0.7502}, {515, 0.0389, 0.8120}, {520, 0.0743, 0.8338},
	{525, 0.1142, 0.8262}, {530, 0.1547, 0.8059}, {540, 0.2296, 0.7543}, {550, 0.3016, 0.6923},
	{560, 0.3731, 0.6245}, {570, 0.4441, 0.5547}, {580, 0.5125, 0.4866}, {590, 0.5752, 0.4242},
	{600, 0.6270, 0.3725}, {610, 0.6658, 0.3340}, {620, 0.6915, 0.3083}, {640, 0.7190, 0.2809}, {700, 0.7347, 0.2653},
}

// ChromaticitySVG draws the display's colour triangle and white point in the
// CIE 1931 diagram, beside the triangle of sRGB (IEC 61966-2-1) in dashes.
func ChromaticitySVG(p ColourPoints) []byte {
	const left, top, size = 50.0, 40.0, 560.0 // for 0 to 0.9 on both axes
	at := func(x, y float64) (float64, float64) { return left + x/0.9*size, top + size - y/0.9*size }
	var b bytes.Buffer
	svgPage(&b, left+size+30, top+size+130, "CIE 1931 diagram of the display's colour points")
	svgText(&b, left, 24, ` font-size="17"`, "Colour points in the CIE 1931 diagram")
	for i := 0; i <= 9; i++ {
		v := float64(i) / 10
		x, y := at(v, v)
		fmt.Fprintf(&b, "<path d=\"M%.1f %.1fV%.1fM%.1f %.1fH%.1f\" stroke=\"#ddd\"/>\n", x, top, top+size, left, y, left+size)
		svgText(&b, x, top+size+18, ` text-anchor="middle"`, fmt.Sprintf("%.1f", v))
		svgText(&b, left-8, y+4, ` text-anchor="end"`, fmt.Sprintf("%.1f", v))
	}
	polygon := func(points [][2]float64, style string) {
		b.WriteString(`<polygon points="`)
		for _, q := range points {
			x, y := at(q[0], q[1])
			fmt.Fprintf(&b, "%.1f,%.1f ", x, y)
		}
		fmt.Fprintf(&b, "\" fill=\"none\" %s/>\n", style)
	}
	var edge [][2]float64
	for _, q := range spectralLocus {
		edge = append(edge, [2]float64{q[1], q[2]})
	}
	polygon(edge, `stroke="#111" stroke-width="1.5"`)
	for _, q := range spectralLocus {
		if int(q[0])%20 == 0 && q[0] >= 460 && q[0] <= 620 {
			x, y := at(q[1], q[2])
			svgText(&b, x+5, y-4, ` font-size="10" fill="#555"`, fmt.Sprintf("%g nm", q[0]))
		}
	}
	polygon([][2]float64{{0.64, 0.33}, {0.30, 0.60}, {0.15, 0.06}}, `stroke="#777" stroke-dasharray="5 4"`)
	polygon([][2]float64{{p.RedX, p.RedY}, {p.GreenX, p.GreenY}, {p.BlueX, p.BlueY}}, `stroke="#111" stroke-width="2.5"`)
	for i, q := range []struct {
		name, fill string
		x, y       float64
	}{{"red", "#c00000", p.RedX, p.RedY}, {"green", "#008000", p.GreenX, p.GreenY}, {"blue", "#0000c0", p.BlueX, p.BlueY}, {"white", "#fff", p.WhiteX, p.WhiteY}} {
		x, y := at(q.x, q.y)
		fmt.Fprintf(&b, "<circle cx=\"%.1f\" cy=\"%.1f\" r=\"5\" fill=\"%s\" stroke=\"#111\" stroke-width=\"1.5\"/>\n", x, y, q.fill)
		svgText(&b, left+float64(i%2)*280, top+size+50+float64(i/2)*22, "", fmt.Sprintf("%s %.3f, %.3f", q.name, q.x, q.y))
	}
	svgText(&b, left, top+size+102, "", "thick line: this display; dashes: sRGB")
	b.WriteString("</svg>\n")
	return b.Bytes()
}

package edid

import (
	"fmt"
	"os"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// TestExamplesReadAsExpected compares every value of the published examples
// with a second reading of the same bytes, made by other hands and in another
// language from the field maps of the standards (testdata/edid/README.md).
func TestExamplesReadAsExpected(t *testing.T) {
	text, err := os.ReadFile(exampleDir + "/expected.tsv")
	require.NoError(t, err)
	rows := map[string]map[string]string{}
	n := 0
	for _, line := range strings.Split(strings.TrimSpace(string(text)), "\n")[1:] {
		f := strings.Split(line, "\t")
		require.Len(t, f, 3)
		if rows[f[0]] == nil {
			e := decodeExample(t, f[0])
			rows[f[0]] = map[string]string{}
			renderBase(e, rows[f[0]])
			renderExtensions(e, rows[f[0]])
		}
		assert.Equal(t, f[2], rows[f[0]][f[1]], "%s: %s", f[0], f[1])
		n++
	}
	require.Greater(t, n, 900)
}

func bit(on bool) int {
	if on {
		return 1
	}
	return 0
}

func renderBase(e *EDID, row map[string]string) {
	b, raw := &e.Base, e.Raw()
	row["manufacturer id"] = fmt.Sprintf("%s (%02X %02X)", b.Maker, raw[8], raw[9])
	row["product code"] = fmt.Sprintf("0x%04X (%d)", b.Product, b.Product)
	row["serial number"] = fmt.Sprintf("%d (0x%08X)", b.Serial, b.Serial)
	week := "week not given"
	if b.Made.ModelYear {
		week = "model year"
	} else if b.Made.Week != 0 {
		week = fmt.Sprintf("week %d", b.Made.Week)
	}
	row["week / year"] = fmt.Sprintf("%s, %d", week, b.Made.Year)
	row["version"] = b.Version.String()
	row["video input"] = renderInput(b)
	row["image size"] = "undefined"
	if w, h, ok := b.Screen.SizeCM(); ok {
		row["image size"] = fmt.Sprintf("%d x %d cm", w, h)
	} else if r, ok := b.Screen.Ratio(); ok {
		row["image size"] = fmt.Sprintf("landscape aspect code %d = %.2f:1", b.Screen.H, r)
	}
	g, _ := b.Gamma.Value()
	row["gamma"] = fmt.Sprintf("%.2f", g)
	f := b.Features
	last := "default GTF"
	if b.Version.AtLeast(4) {
		last = "continuous"
	}
	row["features"] = fmt.Sprintf("0x%02X: standby %d suspend %d active-off %d colour code %d sRGB %d preferred/native %d %s %d",
		byte(f), bit(f.Standby()), bit(f.Suspend()), bit(f.ActiveOff()), f.ColourCode(), bit(f.SRGB()), bit(f.PreferredNative()),
		last, bit(f.ContinuousOrGTF()))
	var chroma []string
	for i, p := range [4]Point{b.Chroma.Red, b.Chroma.Green, b.Chroma.Blue, b.Chroma.White} {
		x, y := p.XY()
		n := "RGBW"[i]
		chroma = append(chroma, fmt.Sprintf("%cx=%d (%.4f) %cy=%d (%.4f)", n, p.X, x, n, p.Y, y))
	}
	row["chromaticity (raw 10 bit; value/1024)"] = strings.Join(chroma, " ")
	row["established timings"] = renderEstablished(b.Established)
	var std []string
	for _, s := range b.Standard {
		switch {
		case s.Used():
			std = append(std, s.Size(b.Version))
		case s[0] == 0:
			std = append(std, fmt.Sprintf("reserved (%02X %02X)", s[0], s[1]))
		}
	}
	row["standard timings"] = orNone(std)
	for i, x := range b.Descriptors {
		row[fmt.Sprintf("descriptor %d", i+1)] = renderDescriptor(x)
	}
	row["extension count"] = fmt.Sprint(b.ExtensionCount)
	row["checksum byte"] = fmt.Sprintf("0x%02X", raw[127])
}

func orNone(s []string) string {
	if len(s) == 0 {
		return "none"
	}
	return strings.Join(s, ", ")
}

func renderInput(b *Base) string {
	i := b.Input
	switch {
	case !i.Digital():
		return fmt.Sprintf("0x%02X analog, level code %d, setup %d, separate sync %d, composite H %d, sync on green %d, serration %d",
			byte(i), i>>5&3, i>>4&1, i>>3&1, i>>2&1, i>>1&1, i&1)
	case !b.Version.AtLeast(4):
		return fmt.Sprintf("0x%02X digital, DFP 1.x bit %d", byte(i), i&1)
	}
	return fmt.Sprintf("0x%02X digital, depth code %d (%d bpc), interface code %d (%s)",
		byte(i), i>>4&7, i.BitsPerColour(), i.Interface(), i.Interface())
}

// renderEstablished names the bits by the nominal modes of the standard's own
// table (E-EDID 3.8).
func renderEstablished(e Established) string {
	names := []string{"720x400@70", "720x400@88", "640x480@60", "640x480@67", "640x480@72", "640x480@75", "800x600@56", "800x600@60",
		"800x600@72", "800x600@75", "832x624@75", "1024x768@87i", "1024x768@60", "1024x768@70", "1024x768@75", "1280x1024@75", "1152x870@75"}
	var out []string
	for n, s := range names {
		if e.Has(n) {
			out = append(out, s)
		}
	}
	return orNone(out)
}

func renderDescriptor(x Descriptor) string {
	switch x := x.(type) {
	case *DetailedTiming:
		return "timing: " + renderTiming(x)
	case *Text:
		text := strings.TrimSuffix(string(x.Raw()[5:]), "\n")
		text, _, _ = strings.Cut(text, "\n")
		return map[DescriptorTag]string{NameTag: "name", SerialTag: "serial string", TextTag: "text"}[x.Kind] + fmt.Sprintf(" %q", text)
	case *RangeLimits:
		s := fmt.Sprintf("range limits: V %d-%d Hz, H %d-%d kHz, max clock %d MHz, type %s, offset flags %d",
			x.MinVHz, x.MaxVHz, x.MinHKHz, x.MaxHKHz, x.MaxClockMHz, x.Support, x.Raw()[4])
		if g := x.GTF; g != nil {
			s += fmt.Sprintf(", start %d kHz, C %.1f, M %d, K %d, J %.1f", g.StartKHz, float64(g.C2)/2, g.M, g.K, float64(g.J2)/2)
		}
		if c := x.CVT; c != nil {
			s += fmt.Sprintf(", CVT version %d.%d, clock precision -%.1f MHz, max active %d, aspects 0x%02X, preferred aspect %d, blanking std %d rb %d, scaling 0x%02X, preferred rate %d",
				c.Version>>4, c.Version&15, float64(c.ClockLessQuarterMHz)/4, c.MaxHActive, byte(c.Ratios), c.Preferred,
				bit(c.Standard), bit(c.Reduced), x.Raw()[16], c.PreferredHz)
		}
		return s
	case *EstablishedIII:
		return fmt.Sprintf("established timings III: rev %d bytes % x", x.Revision, x.Bits)
	case *OtherDescriptor:
		if x.Kind == DummyTag {
			return "dummy"
		}
		return fmt.Sprintf("clock 0 but byte 2 not 0 (invalid): % x", x.Raw())
	}
	return fmt.Sprint(x.Tag())
}

func renderTiming(t *DetailedTiming) string {
	x := t.Timing
	scan := "p"
	if x.Interlaced {
		scan = "i (field lines)"
	}
	hb, vb := t.blanks()
	rate := 0.0
	if ht, vt := float64(x.H.Active+hb), float64(x.V.Active+vb); ht*vt > 0 {
		if x.Interlaced {
			vt += 0.5
		}
		rate = x.PixelClock.Float() / ht / vt
	}
	sync := "analog"
	sign := func(p bool) string { return map[bool]string{true: "+", false: "-"}[p] }
	switch t.Sync {
	case SyncDigitalSeparate:
		sync = "digital separate V" + sign(x.V.Positive) + " H" + sign(x.H.Positive)
	case SyncDigitalComposite:
		sync = "digital composite"
	}
	return fmt.Sprintf("%dx%d%s clock %d kHz; H front/sync/back %d/%d/%d; V front/sync/back %d/%d/%d; %.3f Hz; image %dx%d mm; border %d/%d; sync %s; stereo bits %d",
		x.H.Active, x.V.Active, scan, x.PixelClock.Round(1)/1000,
		x.H.Front, x.H.Sync, int(hb)-int(x.H.Front+x.H.Sync), x.V.Front, x.V.Sync, int(vb)-int(x.V.Front+x.V.Sync),
		rate, t.WidthMM, t.HeightMM, t.BorderH, t.BorderV, sync, t.Stereo>>1)
}

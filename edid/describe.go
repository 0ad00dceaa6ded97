package edid

import (
	"fmt"
	"strings"

	"deadhop/edid/timing"
)

// words joins what is not empty.
func words(parts ...string) string {
	var out []string
	for _, p := range parts {
		if p != "" {
			out = append(out, p)
		}
	}
	return strings.Join(out, ", ")
}

func when(on bool, s string) string {
	if on {
		return s
	}
	return ""
}

func inputWords(b *Base) string {
	if !b.Input.Digital() {
		w, s := b.Input.SignalLevel()
		return fmt.Sprintf("analog, %.3f/%.3f V", w, s)
	}
	if !b.Version.AtLeast(4) {
		return words("digital", when(b.Input&1 != 0, "DFP 1.x"))
	}
	bits := ""
	if n := b.Input.BitsPerColour(); n != 0 {
		bits = fmt.Sprintf("%d bits a colour", n)
	}
	return words("digital", bits, "interface "+b.Input.Interface().String())
}

func featureWords(b *Base) string {
	f := b.Features
	gtf := "default GTF"
	if b.Version.AtLeast(4) {
		gtf = "continuous frequency"
	}
	return words(when(f.Standby(), "standby"), when(f.Suspend(), "suspend"), when(f.ActiveOff(), "active off"),
		when(f.SRGB(), "sRGB"), when(f.PreferredNative(), "first timing preferred"), when(f.ContinuousOrGTF(), gtf))
}

func chromaWords(c Chromaticity) string {
	var out []string
	for i, p := range [4]Point{c.Red, c.Green, c.Blue, c.White} {
		x, y := p.XY()
		out = append(out, fmt.Sprintf("%s %.3f %.3f", [4]string{"red", "green", "blue", "white"}[i], x, y))
	}
	return strings.Join(out, ", ")
}

func establishedWords(e Established, i int) string {
	var out []string
	for n := 8 * i; n < 8*i+8; n++ {
		if !e.Has(n) {
			continue
		}
		if s, ok := timing.Established(uint8(0x23+n/8), uint8(7-n%8)); ok {
			out = append(out, s.Name)
		} else {
			out = append(out, fmt.Sprintf("maker's own bit %d", 7-n%8))
		}
	}
	return strings.Join(out, ", ")
}

func standardWords(s StandardTiming, v Version) string {
	switch {
	case s == StandardTiming{1, 1}:
		return "unused"
	case !s.Used():
		return "reserved"
	}
	return s.Size(v) + " Hz"
}

func cvtWords(c CVTCode) string {
	if !c.Used() {
		return "unused"
	}
	var out []string
	for _, r := range c.Rates() {
		out = append(out, fmt.Sprintf("%d%s Hz", r.Hz, when(r.Reduced, " reduced")))
	}
	return fmt.Sprintf("%dx%d at %s", c.HActive(), c.VActive(), strings.Join(out, ", "))
}

func timingWords(t *DetailedTiming) string {
	sign := func(p bool) string {
		if p {
			return "+"
		}
		return "-"
	}
	s := t.Sync.String() + " sync"
	if t.Sync == SyncDigitalSeparate {
		s += " H" + sign(t.Timing.H.Positive) + " V" + sign(t.Timing.V.Positive)
	}
	return words(when(t.Timing.Interlaced, "interlaced"), s, when(t.Stereo > 1, "stereo "+t.Stereo.String()))
}

func ctaWords(c *CTA) string {
	return words(when(c.Underscan, "underscans"), when(c.BasicAudio, "basic audio"), when(c.YCbCr444, "YCbCr 4:4:4"),
		when(c.YCbCr422, "YCbCr 4:2:2"), fmt.Sprintf("%d native timings", c.NativeTimings))
}

// DescribeDescriptor says in words what a descriptor of an EDID of this
// version states.
func DescribeDescriptor(x Descriptor, v Version) string {
	switch x := x.(type) {
	case *DetailedTiming:
		return x.Timing.String()
	case *Text:
		return x.Text
	case *RangeLimits:
		return fmt.Sprintf("%d-%d Hz, %d-%d kHz, to %d MHz, %s",
			x.MinVHz, x.MaxVHz, x.MinHKHz, x.MaxHKHz, x.MaxClockMHz, x.Support)
	case *StandardTimings:
		var out []string
		for _, s := range x.Codes {
			if s.Used() {
				out = append(out, s.Size(v))
			}
		}
		return strings.Join(out, ", ")
	case *CVTCodes:
		var out []string
		for _, c := range x.Codes {
			if c.Used() {
				out = append(out, cvtWords(c))
			}
		}
		return strings.Join(out, "; ")
	case *EstablishedIII:
		var out []string
		for n := range 48 {
			if s, ok := timing.EstablishedIII(uint8(6+n/8), uint8(7-n%8)); ok && x.Has(n) {
				out = append(out, s.Name)
			}
		}
		return strings.Join(out, ", ")
	case *ColourPoints:
		var out []string
		for _, p := range x.Points {
			if p.Index != 0 {
				wx, wy := p.White.XY()
				out = append(out, fmt.Sprintf("white %d at %.3f %.3f", p.Index, wx, wy))
			}
		}
		return strings.Join(out, ", ")
	}
	return ""
}

package edid

import (
	"fmt"
	"strings"
)

// Difference is one thing that two EDIDs state differently, in words.
type Difference struct {
	What string // "preferred timing"
	A, B string // what each says, "" for nothing
	// Means says what follows for the technician, "" where nothing is sure.
	Means string
}

func (d Difference) String() string {
	show := func(s string) string {
		if s == "" {
			return "none"
		}
		return s
	}
	s := d.What + ": " + show(d.A) + " became " + show(d.B)
	if d.Means != "" {
		s += "; " + d.Means
	}
	return s
}

// ByteRange is a run of bytes that differ.
type ByteRange struct {
	Block, Offset int
	A, B          []byte // one is shorter where one EDID ends
}

// CompareBytes lists the runs of bytes in which a and b differ, block by
// block.
func CompareBytes(a, b []byte) []ByteRange {
	var out []ByteRange
	n := max(len(a), len(b))
	differs := func(i int) bool { return i >= len(a) || i >= len(b) || a[i] != b[i] }
	part := func(s []byte, from, to int) []byte { return s[min(from, len(s)):min(to, len(s))] }
	for i := 0; i < n; i++ {
		if !differs(i) {
			continue
		}
		j := i + 1
		for j < n && j%BlockSize != 0 && differs(j) {
			j++
		}
		out = append(out, ByteRange{i / BlockSize, i % BlockSize, part(a, i, j), part(b, i, j)})
		i = j - 1
	}
	return out
}

// Compare lists what b states differently from a: what a switch or extender
// changed on the way from a, the EDID before it, to b, the EDID behind it.
func Compare(a, b *EDID) []Difference {
	var out []Difference
	add := func(what, x, y, means string) {
		if x != y {
			out = append(out, Difference{what, x, y, means})
		}
	}
	ia, ib := a.Identity(), b.Identity()
	means := ""
	if ia.Maker != ib.Maker || ia.Product != ib.Product {
		means = "another device answers: the EDID is not passed on but stored or made on the way"
	}
	add("maker and product", fmt.Sprintf("%s %04X", ia.Maker, ia.Product), fmt.Sprintf("%s %04X", ib.Maker, ib.Product), means)
	add("product name", ia.Name, ib.Name, "")
	add("serial number", serial(ia), serial(ib), "")
	add("date", a.Base.Made.String(), b.Base.Made.String(), "")
	add("version", a.Base.Version.String(), b.Base.Version.String(), "")
	add("screen size", screen(a), screen(b), "")
	add("preferred timing", preferred(a), preferred(b), "sources will pick another mode by themselves")
	add("limits", limits(a), limits(b), "")
	sa, sb := summaryOf(a), summaryOf(b)
	add("HDMI block", sa.hdmi, sb.hdmi, lost(sa.hdmi, sb.hdmi, "without it sources send DVI, and no sound"))
	add("CEC address", sa.address, sb.address, "a device on the way has put in its own place in the tree, as it should")
	add("TMDS limit", sa.rate, sb.rate, "modes beyond the lower limit go away")
	add("deep colour", sa.deep, sb.deep, "")
	add("sound", sa.audio, sb.audio, lost(sa.audio, sb.audio, "sources send no sound"))
	add("speakers", sa.speakers, sb.speakers, "")
	add("HDR", sa.hdr, sb.hdr, "")
	out = append(out, compareFormats(a, b)...)
	add("extension blocks", fmt.Sprint(len(a.Extensions)), fmt.Sprint(len(b.Extensions)), "")
	add("checksums", good(a), good(b), "")
	return out
}

func lost(a, b, means string) string {
	if a != "" && b == "" {
		return means
	}
	return ""
}

func serial(i Identity) string {
	if i.SerialText != "" {
		return i.SerialText
	}
	if i.Serial == 0 {
		return ""
	}
	return fmt.Sprint(i.Serial)
}

func screen(e *EDID) string {
	if w, h, ok := e.Base.Screen.SizeCM(); ok {
		return fmt.Sprintf("%d x %d cm", w, h)
	}
	if r, ok := e.Base.Screen.Ratio(); ok {
		return fmt.Sprintf("ratio %.2f", r)
	}
	return ""
}

func preferred(e *EDID) string {
	if t, ok := e.Preferred(); ok {
		return t.String()
	}
	return ""
}

func limits(e *EDID) string {
	r := e.RangeLimits()
	if r == nil {
		return ""
	}
	return fmt.Sprintf("%d-%d Hz, %d-%d kHz, %d MHz", r.MinVHz, r.MaxVHz, r.MinHKHz, r.MaxHKHz, r.MaxClockMHz)
}

func good(e *EDID) string {
	if e.ChecksumsGood() {
		return "right"
	}
	return "wrong"
}

// summary is what Compare weighs of the CTA extensions, in words.
type summary struct{ hdmi, address, rate, deep, audio, speakers, hdr string }

func summaryOf(e *EDID) summary {
	var s summary
	var audio []string
	for _, c := range e.CTAs() {
		if c.BasicAudio && len(audio) == 0 {
			audio = append(audio, "basic")
		}
		for _, b := range c.Blocks {
			switch b := b.(type) {
			case *HDMI:
				s.hdmi, s.address = "present", b.PhysicalAddress.String()
				if b.MaxTMDSMHz != 0 {
					s.rate = fmt.Sprintf("%d MHz", b.MaxTMDSMHz)
				}
				if b.DeepColour != 0 {
					s.deep = fmt.Sprint(b.DeepColour.Bits(), " bit")
				}
			case *HDMIForum:
				if b.MaxTMDSMHz != 0 {
					s.rate = fmt.Sprintf("%d MHz", b.MaxTMDSMHz)
				}
				if b.MaxFRL != 0 {
					s.rate += " and FRL " + b.MaxFRL.String()
				}
			case *Audio:
				for _, a := range b.SADs {
					audio = append(audio, fmt.Sprintf("%s %d channels", a.Format(), a.Channels()))
				}
			case *Speakers:
				s.speakers = strings.Join(b.Mask.Names(), " ")
			case *HDRStatic:
				s.hdr = hdrNames(b.EOTFs)
			}
		}
	}
	s.audio = strings.Join(audio, ", ")
	return s
}

func hdrNames(e EOTFs) string {
	var out []string
	for i, n := range [4]string{"SDR", "HDR gamma", "PQ", "HLG"} {
		if e&(1<<i) != 0 {
			out = append(out, n)
		}
	}
	return strings.Join(out, ", ")
}

// compareFormats tells which formats came and went. The preferred one has its
// own line.
func compareFormats(a, b *EDID) []Difference {
	fa, fb := a.Formats(), b.Formats()
	missing := func(of, in []Format) string {
		var out []string
		for _, f := range of {
			found := false
			for _, g := range in {
				found = found || f.Timing == g.Timing
			}
			if !found {
				out = append(out, f.Timing.Size()+" "+f.Timing.FieldRate().InDecimals(1, 2)+" Hz")
			}
		}
		return strings.Join(out, ", ")
	}
	var out []Difference
	if gone := missing(fa, fb); gone != "" {
		out = append(out, Difference{"formats taken away", gone, "", "sources will not offer them"})
	}
	if come := missing(fb, fa); come != "" {
		out = append(out, Difference{"formats added", "", come, "sources may send them, and what comes behind must cope"})
	}
	return out
}

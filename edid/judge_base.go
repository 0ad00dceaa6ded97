package edid

import "bytes"

// firstYear is when each revision of EDID 1 was published.
var firstYear = [5]int{1994, 1996, 1997, 2000, 2006}

// judgeBase judges the fields of the base block. Some displays of 1.3 dress
// as 1.4 and the reverse; what the stated version demands is what counts.
func (d *decoder) judgeBase(b []byte) {
	p := &d.e.Base
	v := p.Version
	if v.Major != 1 || v.Minor > 4 {
		d.add(VersionUnknown, 0x12, 2, "version", int(v.Major), int(v.Minor))
	}
	if !p.Maker.Valid() {
		d.add(MakerInvalid, 8, 2, "maker", int(p.Maker))
	}
	// 1.4 allows week 54 and FF for a model year; FF before is seen often
	// and harms nobody.
	if w := p.Made.Week; w > 54 || w == 54 && !v.AtLeast(4) {
		d.add(WeekInvalid, 0x10, 1, "week", int(w))
	}
	if v.Major == 1 && v.Minor <= 4 && p.Made.Year < firstYear[v.Minor] {
		d.add(YearEarly, 0x11, 1, "year", p.Made.Year, int(v.Major), int(v.Minor))
	}
	if p.Input.Digital() && v.AtLeast(4) {
		if p.Input>>4&7 == 7 {
			d.add(DepthReserved, 0x14, 1, "video input")
		}
		if i := p.Input.Interface(); i > InterfaceDisplayPort {
			d.add(InterfaceReserved, 0x14, 1, "video input", int(i))
		}
	}
	d.judgeChroma(p)
	d.judgeStandard(p.Standard[:], 0x26)
	d.judgeDescriptors(b, p)
	d.judgeSize(p)
	d.judgePreferred(p)
}

func (d *decoder) judgeChroma(p *Base) {
	c := p.Chroma
	if c == (Chromaticity{}) {
		d.add(ChromaZero, 0x19, 10, "chromaticity")
		return
	}
	// Only a colour display with three distinct primaries has a triangle.
	if c.Red == c.Green || c.Green == c.Blue || c.White == (Point{}) {
		return
	}
	r, g, b, w := c.Red, c.Green, c.Blue, c.White
	s1, s2, s3 := side(r, g, w), side(g, b, w), side(b, r, w)
	if (s1 < 0 || s2 < 0 || s3 < 0) && (s1 > 0 || s2 > 0 || s3 > 0) {
		d.add(ChromaImpossible, 0x19, 10, "chromaticity")
	}
}

func side(a, b, p Point) int {
	return (int(b.X)-int(a.X))*(int(p.Y)-int(a.Y)) - (int(b.Y)-int(a.Y))*(int(p.X)-int(a.X))
}

func (d *decoder) judgeDescriptors(b []byte, p *Base) {
	v := p.Version
	var name, limits, display bool
	for i, x := range p.Descriptors {
		at := 0x36 + 18*i
		if x.Tag() == TimingTag {
			if display {
				d.add(DescriptorOrder, at, 18, "descriptor")
			}
			continue
		}
		display = true
		d.judgeDescriptor(b[at:at+18], at, x, v)
		name = name || x.Tag() == NameTag
		limits = limits || x.Tag() == RangeTag
	}
	if p.Descriptors[0].Tag() != TimingTag && v.AtLeast(3) {
		d.add(FirstNotTiming, 0x36, 18, "descriptor")
	}
	if !p.Features.PreferredNative() && v == (Version{1, 3}) {
		d.add(PreferredNotSet, 0x18, 1, "features")
	}
	if !limits && (v == Version{1, 3} || v.AtLeast(4) && p.Features.ContinuousOrGTF()) {
		d.add(NoRange, 0x36, 0, "range limits")
	}
	if !name && v == (Version{1, 3}) {
		d.add(NoName, 0x36, 0, "product name")
	}
}

func (d *decoder) judgeDescriptor(b []byte, at int, x Descriptor, v Version) {
	if b[2] != 0 {
		d.add(DescriptorFlag, at+2, 1, "descriptor", 2, int(b[2]))
	}
	if b[4] != 0 && x.Tag() != RangeTag {
		d.add(DescriptorFlag, at+4, 1, "descriptor", 4, int(b[4]))
	}
	switch x := x.(type) {
	case *Text:
		d.judgeText(b[5:], at+5)
	case *RangeLimits:
		d.judgeRange(b, at, x, v)
	case *OtherDescriptor:
		if x.Kind > DummyTag {
			d.add(DescriptorReserved, at+3, 1, "descriptor", int(x.Kind))
		}
	case *StandardTimings:
		d.judgeStandard(x.Codes[:], at+5)
	}
}

// judgeStandard reports reserved codes as one issue.
func (d *decoder) judgeStandard(codes []StandardTiming, at int) {
	first, n := -1, 0
	for i, s := range codes {
		if s[0] == 0 {
			if first < 0 {
				first = i
			}
			n++
		}
	}
	if n > 0 {
		d.add(StandardReserved, at+2*first, 2*n, "standard timing", n)
	}
}

// judgeText checks the 13 bytes of a text: printable, ended by 0A, padded
// with spaces.
func (d *decoder) judgeText(b []byte, at int) {
	end := bytes.IndexByte(b, 0x0A)
	if end < 0 {
		end = len(b)
	} else if !all(b[end+1:], ' ') {
		d.add(TextPadding, at+end, len(b)-end, "text")
	}
	for i, c := range b[:end] {
		if c < ' ' || c == 0x7F {
			d.add(TextControl, at+i, 1, "text", int(c))
			return
		}
	}
}

func (d *decoder) judgeRange(b []byte, at int, r *RangeLimits, v Version) {
	if b[4] != 0 && (!v.AtLeast(4) || b[4]&0xF0 != 0 || b[4]&3 == 1 || b[4]>>2&3 == 1) {
		d.add(RangeOffset, at+4, 1, "range limits", int(b[4]))
	}
	if b[5] == 0 || b[6] == 0 || b[7] == 0 || b[8] == 0 {
		d.add(RangeZero, at+5, 4, "range limits")
	}
	if r.MinVHz > r.MaxVHz {
		d.add(RangeInverted, at+5, 2, "vertical limits", int(r.MinVHz), int(r.MaxVHz))
	}
	if r.MinHKHz > r.MaxHKHz {
		d.add(RangeInverted, at+7, 2, "horizontal limits", int(r.MinHKHz), int(r.MaxHKHz))
	}
	switch s := r.Support; {
	case s == 3 || s > 4, s == SupportCVT && !v.AtLeast(4):
		d.add(RangeSupport, at+10, 1, "range limits", int(s))
	}
}

// judgeSize compares the two places that state the size of the picture. They
// round differently and a timing may letterbox; a factor of 1.5 is neither.
func (d *decoder) judgeSize(p *Base) {
	t, ok := p.Descriptors[0].(*DetailedTiming)
	w, h, stated := p.Screen.SizeCM()
	if !ok || !stated || t.WidthMM == 0 || t.HeightMM == 0 {
		return
	}
	mw, mh := int(t.WidthMM), int(t.HeightMM)
	if far(w*10, mw) || far(h*10, mh) {
		d.add(SizeImpossible, 0x15, 2, "screen size", w, h, mw, mh)
	}
}

func far(a, b int) bool { return a*2 > b*3+20 || b*2 > a*3+20 }

// judgePreferred compares the preferred timing with the range limits.
func (d *decoder) judgePreferred(p *Base) {
	r := d.e.RangeLimits()
	t, ok := d.e.Preferred()
	if r == nil || !ok || t.H.Total() == 0 || t.V.Total() == 0 {
		return
	}
	h := t.LineRate().Float() / 1000
	v := t.FieldRate().Float()
	c := t.PixelClock.Float()
	// The limits are whole numbers; half a unit is rounding.
	if h < float64(r.MinHKHz)-0.5 || h > float64(r.MaxHKHz)+0.5 ||
		v < float64(r.MinVHz)-0.5 || v > float64(r.MaxVHz)+0.5 ||
		r.MaxClockMHz != 0 && c > float64(r.MaxClockHz())*1.005 {
		d.add(PreferredOutsideLimits, 0x36, 18, "preferred timing", int(h+0.5), int(v+0.5), int(c/1e6+0.5))
	}
}

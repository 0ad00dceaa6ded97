package edid

// Descriptor is one of the four 18-byte places of the base block:
// *DetailedTiming, *Text, *RangeLimits, *ColourPoints, *StandardTimings,
// *ColourManagement, *CVTCodes, *EstablishedIII or *OtherDescriptor.
type Descriptor interface {
	Tag() DescriptorTag
	Raw() []byte
}

// DescriptorTag is byte 3 of a display descriptor (E-EDID 3.10.3).
type DescriptorTag uint16

const (
	SerialTag           DescriptorTag = 0xFF
	TextTag             DescriptorTag = 0xFE
	RangeTag            DescriptorTag = 0xFD
	NameTag             DescriptorTag = 0xFC
	ColourPointTag      DescriptorTag = 0xFB
	StandardTag         DescriptorTag = 0xFA
	ColourManagementTag DescriptorTag = 0xF9
	CVTTag              DescriptorTag = 0xF8
	EstablishedIIITag   DescriptorTag = 0xF7
	DummyTag            DescriptorTag = 0x10
	// TimingTag stands for a detailed timing, which has no tag on the wire.
	TimingTag DescriptorTag = 0x100
)

func (t DescriptorTag) String() string {
	switch t {
	case SerialTag:
		return "serial number"
	case TextTag:
		return "text"
	case RangeTag:
		return "range limits"
	case NameTag:
		return "product name"
	case ColourPointTag:
		return "colour points"
	case StandardTag:
		return "standard timings"
	case ColourManagementTag:
		return "colour management"
	case CVTTag:
		return "CVT codes"
	case EstablishedIIITag:
		return "established timings III"
	case DummyTag:
		return "dummy"
	case TimingTag:
		return "detailed timing"
	}
	if t < 0x10 {
		return "maker's own 0x" + hex2(byte(t))
	}
	return "reserved 0x" + hex2(byte(t))
}

func hex2(v byte) string {
	const digits = "0123456789ABCDEF"
	return string([]byte{digits[v>>4], digits[v&15]})
}

// OtherDescriptor is a dummy, a maker's own or a reserved descriptor. Bytes 4
// to 17 are its data.
type OtherDescriptor struct {
	body
	Kind DescriptorTag
	Data [14]byte
}

// Tag is Kind.
func (o *OtherDescriptor) Tag() DescriptorTag { return o.Kind }

// Text is a serial number, free text or product name (E-EDID 3.10.3.1, .2, .4).
type Text struct {
	body
	Kind DescriptorTag // SerialTag, TextTag or NameTag
	// Text is up to 13 characters, read as ISO 8859-1, without the line
	// feed and the padding.
	Text string
}

// Tag is Kind.
func (t *Text) Tag() DescriptorTag { return t.Kind }

func (d *decoder) decodeDescriptor(block []byte, at int) Descriptor {
	b := block[at : at+18 : at+18]
	if b[0] != 0 || b[1] != 0 {
		t := decodeDetailedTiming(block, at)
		if !d.mute {
			d.judgeTiming(&t)
		}
		return &t
	}
	o := body{b, at}
	switch tag := DescriptorTag(b[3]); tag {
	case SerialTag, TextTag, NameTag:
		return &Text{o, tag, d.descriptorText(b, at)}
	case RangeTag:
		return decodeRangeLimits(o)
	case ColourPointTag:
		return decodeColourPoints(o)
	case StandardTag:
		s := &StandardTimings{body: o}
		for i := range s.Codes {
			copy(s.Codes[i][:], b[5+2*i:])
		}
		return s
	case ColourManagementTag:
		return &ColourManagement{
			body: o, Version: b[5],
			Red:   CubicTerms{le16(b[6:]), le16(b[8:])},
			Green: CubicTerms{le16(b[10:]), le16(b[12:])},
			Blue:  CubicTerms{le16(b[14:]), le16(b[16:])},
		}
	case CVTTag:
		c := &CVTCodes{body: o, Version: b[5]}
		for i := range c.Codes {
			copy(c.Codes[i][:], b[6+3*i:])
		}
		return c
	case EstablishedIIITag:
		e := &EstablishedIII{body: o, Revision: b[5]}
		copy(e.Bits[:], b[6:12])
		return e
	default:
		p := &OtherDescriptor{body: o, Kind: tag}
		copy(p.Data[:], b[4:])
		return p
	}
}

// descriptorText is the text of bytes 5 to 17, up to the line feed. Where the
// line feed is missing, padding spaces at the end are dropped as well.
func (d *decoder) descriptorText(b []byte, at int) string {
	end := 5
	for end < 18 && b[end] != 0x0A && b[end] != 0 {
		end++
	}
	for end > 5 && b[end-1] == ' ' {
		end--
	}
	for _, c := range b[5:end] {
		if c >= 0x80 {
			return latin1(b[5:end])
		}
	}
	return d.cut(at+5, end-5)
}

func latin1(b []byte) string {
	r := make([]rune, len(b))
	for i, c := range b {
		r[i] = rune(c)
	}
	return string(r)
}

// ColourPoints is descriptor 0xFB: up to two more white points with their
// gamma (E-EDID 3.10.3.5).
type ColourPoints struct {
	body
	Points [2]ColourPoint
}

// ColourPoint is one white point. Index 0 means that it is not used.
type ColourPoint struct {
	Index uint8
	White Point
	Gamma Gamma
}

// Tag is ColourPointTag.
func (*ColourPoints) Tag() DescriptorTag { return ColourPointTag }

func decodeColourPoints(o body) *ColourPoints {
	c := &ColourPoints{body: o}
	for i := range c.Points {
		b := o.raw[5+5*i:]
		c.Points[i] = ColourPoint{
			Index: b[0],
			White: Point{uint16(b[2])<<2 | uint16(b[1]>>2&3), uint16(b[3])<<2 | uint16(b[1]&3)},
			Gamma: Gamma(b[4]),
		}
	}
	return c
}

// StandardTimings is descriptor 0xFA: six more standard timings (E-EDID
// 3.10.3.6).
type StandardTimings struct {
	body
	Codes [6]StandardTiming
}

// Tag is StandardTag.
func (*StandardTimings) Tag() DescriptorTag { return StandardTag }

// ColourManagement is descriptor 0xF9, the terms of the VESA display colour
// management standard (E-EDID 3.10.3.7).
type ColourManagement struct {
	body
	Version          uint8
	Red, Green, Blue CubicTerms
}

// CubicTerms are the a3 and a2 terms of one colour.
type CubicTerms struct{ A3, A2 uint16 }

// Tag is ColourManagementTag.
func (*ColourManagement) Tag() DescriptorTag { return ColourManagementTag }

// EstablishedIII is descriptor 0xF7 (E-EDID 3.10.3.9).
type EstablishedIII struct {
	body
	Revision uint8
	Bits     [6]byte
}

// Tag is EstablishedIIITag.
func (*EstablishedIII) Tag() DescriptorTag { return EstablishedIIITag }

// Has reports whether bit n is set; bit 0 is bit 7 of the first byte.
func (e *EstablishedIII) Has(n int) bool { return e.Bits[n/8]&(0x80>>(n%8)) != 0 }

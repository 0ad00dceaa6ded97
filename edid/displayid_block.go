package edid

import "math"

// decodeIDBlock decodes one whole DisplayID block; o.raw[0] is its tag.
func (d *decoder) decodeIDBlock(o body, tag IDTag) IDBlock {
	p := o.raw[3:]
	if need := shortestID(tag); len(p) < need {
		if tag == IDProductV1 && len(p) == 0 {
			return &IDUnknown{o, tag, o.raw[1], p} // 00 00 00 is filler
		}
		d.add(IDBlockShort, o.at, len(o.raw), tag.String(), len(p), need)
		return &IDBad{o, tag, len(p), BlockTooShort}
	}
	switch tag {
	case IDTypeI, IDTypeII, IDTypeVII:
		return d.decodeIDTimings(o, tag, p)
	case IDTypeIII:
		return &IDFormulas{o, tag, decodeTypeIII(p)}
	case IDTypeV:
		return &IDFormulas{o, tag, decodeTypeV(p)}
	case IDTypeIX:
		return &IDFormulas{o, tag, decodeFormulas(p, 6, false)}
	case IDTypeX:
		return &IDFormulas{o, tag, decodeFormulas(p, 6+int(o.raw[1]>>4&7), true)}
	case IDTypeIV:
		return &IDTimingCodes{o, tag, decodeTimingCodes(o.raw[1]&0xC0, p)}
	case IDTypeVIII:
		return &IDTimingCodes{o, tag, decodeTimingCodes(o.raw[1], p)}
	case IDProductV1, IDProductV2:
		return decodeIDProduct(o, tag, p)
	case IDParametersV1:
		return &IDParameters{body: o, Kind: tag,
			WidthTenthMM: uint32(le16(p)), HeightTenthMM: uint32(le16(p[2:])),
			HPixels: le16(p[4:]), VPixels: le16(p[6:]), Features: p[8], Gamma: Gamma(p[9])}
	case IDParametersV2:
		return decodeIDParametersV2(o, p)
	case IDRangeV2:
		return &IDRange{o, (le24(p)), (le24(p[3:])), uint16(p[6]), uint16(p[7]) | uint16(p[8]&3)<<8, p[8]&0x80 != 0}
	case IDInterfaceV2:
		return &IDInterface{body: o, RGB: p[0], YCbCr444: p[1], YCbCr422: p[2], YCbCr420: p[3],
			Min420ClockKHz: uint32(p[4]) * 74250, Audio: p[5], Colour: p[6], Rest: p[7:]}
	case IDTiledV1, IDTiledV2:
		return decodeTiled(o, tag, p)
	case IDAdaptiveSync:
		return decodeAdaptiveSync(o, p)
	case IDLuminance:
		return &IDLuminanceRange{o, half(le16(p)), half(le16(p[2:])), half(le16(p[4:]))}
	case IDSerial, IDText:
		return &IDString{o, tag, latin1(p)}
	case IDVendorV1, IDVendorV2:
		return &IDVendor{o, tag, [3]byte(p[:3]), p[3:]}
	case IDCTA:
		// The blocks count their offsets from the start of the EDID block.
		return &IDCTABlocks{o, d.decodeDataBlocks(d.blockBytes(), o.at+3, o.at+len(o.raw))}
	}
	return &IDUnknown{o, tag, o.raw[1], p}
}

func (d *decoder) blockBytes() []byte {
	return d.e.raw[d.block*BlockSize : (d.block+1)*BlockSize]
}

// shortestID is the smallest payload of a block.
func shortestID(tag IDTag) int {
	switch tag {
	case IDProductV1, IDProductV2, IDParametersV1:
		return 12
	case IDParametersV2:
		return 29
	case IDRangeV2, IDInterfaceV2:
		return 9
	case IDTiledV1, IDTiledV2:
		return 22
	case IDAdaptiveSync, IDLuminance:
		return 6
	case IDVendorV1, IDVendorV2:
		return 3
	}
	return 0
}

// IDProduct is the product block. Maker holds three letters in version 1, an
// OUI in version 2.
type IDProduct struct {
	body
	Kind    IDTag
	Maker   [3]byte
	Product uint16
	Serial  uint32
	Week    uint8
	Year    int
	Name    string
}

// Tag is Kind.
func (p *IDProduct) Tag() IDTag { return p.Kind }

func decodeIDProduct(o body, tag IDTag, p []byte) *IDProduct {
	n := min(int(p[11]), len(p)-12)
	return &IDProduct{
		body: o, Kind: tag, Maker: [3]byte(p[:3]), Product: le16(p[3:]),
		Serial: uint32(le16(p[5:])) | uint32(le16(p[7:]))<<16,
		Week:   p[9], Year: 2000 + int(p[10]), Name: latin1(p[12 : 12+n]),
	}
}

// IDParameters is the display parameters block, versions 1 and 2. Fields of
// version 2 are zero in version 1.
type IDParameters struct {
	body
	Kind                        IDTag
	WidthTenthMM, HeightTenthMM uint32
	HPixels, VPixels            uint16
	Features                    uint8
	Gamma                       Gamma

	Primaries     [4]IDPoint // red, green, blue, white
	MaxFullNits   float64    // luminance over the full screen
	MaxTenthNits  float64    // luminance over a tenth of it
	MinNits       float64
	BitsPerColour int   // 0 where not stated
	Technology    uint8 // 1 LCD, 2 OLED
}

// IDPoint is a chromaticity in units of 1/4096.
type IDPoint struct{ X, Y uint16 }

// Tag is Kind.
func (p *IDParameters) Tag() IDTag { return p.Kind }

func decodeIDParametersV2(o body, p []byte) *IDParameters {
	r := &IDParameters{body: o, Kind: IDParametersV2,
		WidthTenthMM: uint32(le16(p)), HeightTenthMM: uint32(le16(p[2:])),
		HPixels: le16(p[4:]), VPixels: le16(p[6:]), Features: p[8], Gamma: Gamma(p[28]),
		MaxFullNits: half(le16(p[21:])), MaxTenthNits: half(le16(p[23:])), MinNits: half(le16(p[25:])),
		BitsPerColour: [8]int{0, 6, 8, 10, 12, 16}[p[27]&7], Technology: p[27] >> 4 & 7,
	}
	if o.raw[1]&0x80 != 0 {
		r.WidthTenthMM *= 10
		r.HeightTenthMM *= 10
	}
	for i := range r.Primaries {
		c := p[9+3*i:]
		r.Primaries[i] = IDPoint{uint16(c[0]) | uint16(c[1]&15)<<8, uint16(c[1]>>4) | uint16(c[2])<<4}
	}
	return r
}

// half is the value of an IEEE 754 half-precision number.
func half(v uint16) float64 {
	exp, frac := int(v>>10&31), float64(v&0x3FF)
	f := 0.0
	switch exp {
	case 0:
		f = math.Ldexp(frac, -24)
	case 31:
		f = math.Inf(1)
		if frac != 0 {
			return 0 // not a number: not stated
		}
	default:
		f = math.Ldexp(1024+frac, exp-25)
	}
	if v&0x8000 != 0 {
		return -f
	}
	return f
}

// IDRange is the dynamic range limits block of version 2.
type IDRange struct {
	body
	MinClockKHz, MaxClockKHz uint32
	MinVHz, MaxVHz           uint16
	Seamless                 bool // rates may change without a break
}

// Tag is IDRangeV2.
func (*IDRange) Tag() IDTag { return IDRangeV2 }

// IDInterface is the interface features block of version 2. The depth bytes
// have bit 0 to 5 for 6, 8, 10, 12, 14 and 16 bits (RGB and 4:4:4) and bit 0
// to 4 for 8 to 16 bits (4:2:2 and 4:2:0).
type IDInterface struct {
	body
	RGB, YCbCr444, YCbCr422, YCbCr420 uint8
	Min420ClockKHz                    uint32
	Audio                             uint8 // bit 7 32, 6 44.1, 5 48 kHz
	Colour                            uint8
	Rest                              []byte
}

// Tag is IDInterfaceV2.
func (*IDInterface) Tag() IDTag { return IDInterfaceV2 }

// IDTiled is the tiled display topology.
type IDTiled struct {
	body
	Kind          IDTag
	OneEnclosure  bool
	Columns, Rows uint8
	Column, Row   uint8 // of this tile, from 0
	TileH, TileV  uint32
	BezelPresent  bool
	BezelUnit     uint8    // bezel sizes are multiples of it, in tenths of a pixel
	Bezel         [4]uint8 // top, bottom, right, left
	Topology      [9]byte  // vendor, product and serial of the whole
	Behaviour     uint8    // bits 4:3 with several tiles, 2:0 with one
}

// Tag is Kind.
func (t *IDTiled) Tag() IDTag { return t.Kind }

func decodeTiled(o body, tag IDTag, p []byte) *IDTiled {
	return &IDTiled{
		body: o, Kind: tag,
		OneEnclosure: p[0]&0x80 != 0, BezelPresent: p[0]&0x40 != 0, Behaviour: p[0] & 0x1F,
		Columns: (p[1]>>4 | p[3]>>6&3<<4) + 1, Rows: (p[1]&15 | p[3]>>4&3<<4) + 1,
		Column: p[2]>>4 | p[3]>>2&3<<4, Row: p[2]&15 | p[3]&3<<4,
		TileH: uint32(le16(p[4:])) + 1, TileV: uint32(le16(p[6:])) + 1,
		BezelUnit: p[8], Bezel: [4]uint8(p[9:13]), Topology: [9]byte(p[13:22]),
	}
}

// IDAdaptive is the adaptive sync block.
type IDAdaptive struct {
	body
	Ranges []AdaptiveRange
}

// AdaptiveRange is one range of vertical rates.
type AdaptiveRange struct {
	Flags        uint8
	MinHz, MaxHz uint16
}

// Tag is IDAdaptiveSync.
func (*IDAdaptive) Tag() IDTag { return IDAdaptiveSync }

func decodeAdaptiveSync(o body, p []byte) *IDAdaptive {
	a := &IDAdaptive{body: o}
	size := 6 + int(o.raw[1]>>4&7)
	for ; len(p) >= size; p = p[size:] {
		a.Ranges = append(a.Ranges, AdaptiveRange{p[0], uint16(p[2]), le16(p[3:])&0x3FF + 1})
	}
	return a
}

// IDLuminanceRange is the luminance range block, in cd/m2.
type IDLuminanceRange struct {
	body
	MinSDR, MaxSDR, MaxBoost float64
}

// Tag is IDLuminance.
func (*IDLuminanceRange) Tag() IDTag { return IDLuminance }

// IDString is a serial number or text.
type IDString struct {
	body
	Kind IDTag
	Text string
}

// Tag is Kind.
func (s *IDString) Tag() IDTag { return s.Kind }

// IDVendor is a vendor-specific block; its data are not decoded. Vendor holds
// the identifier in the order of the wire.
type IDVendor struct {
	body
	Kind   IDTag
	Vendor [3]byte
	Data   []byte
}

// Tag is Kind.
func (v *IDVendor) Tag() IDTag { return v.Kind }

// IDCTABlocks carries CTA-861 data blocks inside DisplayID.
type IDCTABlocks struct {
	body
	Blocks []DataBlock
}

// Tag is IDCTA.
func (*IDCTABlocks) Tag() IDTag { return IDCTA }

package edid

import "deadhop/edid/timing"

// IDTiming is a detailed timing of DisplayID Type I, II or VII.
type IDTiming struct {
	Timing    timing.Timing
	Preferred bool
	YCbCr420  bool  // Type VII revision 2: in YCbCr 4:2:0 too
	Stereo    uint8 // 0 none, 1 stereo, 2 user's choice
	Ratio     uint8 // code of the aspect ratio: 0 1:1, 1 5:4, 2 4:3, 3 15:9, 4 16:9, 5 16:10, 6 64:27, 7 256:135
}

// decodeIDTiming decodes the 20 bytes of a Type I (10 kHz) or Type VII (1
// kHz) timing. All numbers are stored less one.
func decodeIDTiming(b []byte, unitHz uint64, revision uint8) IDTiming {
	at := func(i int) uint32 { return uint32(le16(b[i:])) + 1 }
	flags := b[3]
	t := IDTiming{Stereo: flags >> 5 & 3, Ratio: flags & 15}
	if unitHz == 1000 && revision >= 2 {
		t.YCbCr420 = flags&0x80 != 0
	} else {
		t.Preferred = flags&0x80 != 0
	}
	hf, vf := le16(b[8:]), le16(b[16:])
	t.Timing = timing.Timing{
		PixelClock: timing.Hz((uint64(le24(b)) + 1) * unitHz),
		H:          axis(at(4), at(6), uint32(hf&0x7FFF)+1, at(10)),
		V:          axis(at(12), at(14), uint32(vf&0x7FFF)+1, at(18)),
		Interlaced: flags&0x10 != 0,
		Repeat:     1,
	}
	t.Timing.H.Positive, t.Timing.V.Positive = hf&0x8000 != 0, vf&0x8000 != 0
	t.Timing.HalfLine = t.Timing.Interlaced
	return t
}

// decodeTypeII decodes the 11 bytes of a Type II timing, whose horizontal
// numbers are in units of 8 pixels.
func decodeTypeII(b []byte) IDTiming {
	flags := b[3]
	ha := (uint32(b[4]) | uint32(b[5]&1)<<8) + 1
	t := IDTiming{Preferred: flags&0x80 != 0, Stereo: flags >> 5 & 3}
	t.Timing = timing.Timing{
		PixelClock: timing.Hz((uint64(le24(b)) + 1) * 10000),
		H:          axis(8*ha, 8*(uint32(b[5]>>1)+1), 8*(uint32(b[6]>>4)+1), 8*(uint32(b[6]&15)+1)),
		V:          axis((uint32(b[7])|uint32(b[8]&15)<<8)+1, uint32(b[9])+1, uint32(b[10]>>4)+1, uint32(b[10]&15)+1),
		Interlaced: flags&0x10 != 0,
		HalfLine:   flags&0x10 != 0,
		Repeat:     1,
	}
	t.Timing.H.Positive, t.Timing.V.Positive = flags&8 != 0, flags&4 != 0
	return t
}

// IDTimings is a block of Type I, II or VII timings.
type IDTimings struct {
	body
	Kind     IDTag
	Revision uint8 // byte 1, revision and flags
	Timings  []IDTiming
}

// Tag is Kind.
func (t *IDTimings) Tag() IDTag { return t.Kind }

func (d *decoder) decodeIDTimings(o body, tag IDTag, p []byte) IDBlock {
	t := &IDTimings{body: o, Kind: tag, Revision: o.raw[1]}
	size := 20
	switch tag {
	case IDTypeII:
		size = 11
	case IDTypeVII:
		size += int(o.raw[1] >> 4 & 7)
	}
	if len(p)%size != 0 {
		d.add(IDBlockLength, o.at, len(o.raw), tag.String(), len(p), size)
	}
	for ; len(p) >= size; p = p[size:] {
		switch tag {
		case IDTypeI:
			t.Timings = append(t.Timings, decodeIDTiming(p, 10000, 0))
		case IDTypeII:
			t.Timings = append(t.Timings, decodeTypeII(p))
		default:
			t.Timings = append(t.Timings, decodeIDTiming(p, 1000, o.raw[1]&7))
		}
	}
	return t
}

// CodeKind is the list that a timing code belongs to.
type CodeKind uint8

const (
	CodeDMT     CodeKind = 0
	CodeVIC     CodeKind = 1
	CodeHDMIVIC CodeKind = 2
)

func (k CodeKind) String() string {
	return nameOf([]string{"DMT", "VIC", "HDMI VIC"}, "code kind", int(k))
}

// TimingCodes are codes of standard timings.
type TimingCodes struct {
	CodeKind CodeKind
	YCbCr420 bool // in YCbCr 4:2:0 too
	Codes    []uint16
}

// decodeTimingCodes decodes the codes of a Type IV or VIII block; f is the
// byte with revision and flags.
func decodeTimingCodes(f byte, p []byte) TimingCodes {
	t := TimingCodes{CodeKind: CodeKind(f >> 6), YCbCr420: f&0x20 != 0}
	if f&8 == 0 {
		for _, c := range p {
			t.Codes = append(t.Codes, uint16(c))
		}
		return t
	}
	for ; len(p) >= 2; p = p[2:] {
		t.Codes = append(t.Codes, le16(p))
	}
	return t
}

// IDTimingCodes is a block of timing codes: Type IV or Type VIII, or the bit
// lists of DMT ids or VICs.
type IDTimingCodes struct {
	body
	Kind IDTag
	TimingCodes
}

// Tag is Kind.
func (t *IDTimingCodes) Tag() IDTag { return t.Kind }

// Formula names the formula of a timing.
type Formula uint8

const (
	FormulaCVT Formula = 0
	FormulaRB1 Formula = 1
	FormulaRB2 Formula = 2
	FormulaRB3 Formula = 3
)

func (f Formula) String() string {
	return nameOf([]string{"CVT", "CVT-RB", "CVT-RB2", "CVT-RB3"}, "formula", int(f))
}

// FormulaTiming is a timing given by its size, rate and formula: DisplayID
// Type III, V, IX or X.
type FormulaTiming struct {
	Formula    Formula
	H, V       uint32 // active pixels and lines, V 0 for Type III with an unknown ratio
	Hz         uint16
	NTSC       bool // times 1000/1001 too
	Interlaced bool
	Preferred  bool
	YCbCr420   bool
	// Options has the bytes with further options of Type X as they are.
	Options [2]byte
}

// decodeFormulas decodes Type IX (6 bytes) and Type X (6 or more) timings.
func decodeFormulas(p []byte, size int, typeX bool) []FormulaTiming {
	var out []FormulaTiming
	for ; len(p) >= size; p = p[size:] {
		f := FormulaTiming{
			Formula: Formula(p[0] & 7), NTSC: p[0]&0x10 != 0,
			H: uint32(le16(p[1:])) + 1, V: uint32(le16(p[3:])) + 1, Hz: uint16(p[5]) + 1,
		}
		if typeX {
			f.YCbCr420 = p[0]&0x80 != 0
			f.Options[0] = p[0] & 0x18
			if size > 6 {
				f.Hz = (uint16(p[5]) | uint16(p[6]&3)<<8) + 1
				f.Options[1] = p[6]
			}
			// With RB3 the bit means a mode of horizontal blanking.
			f.NTSC = f.NTSC && f.Formula != FormulaRB3
		}
		out = append(out, f)
	}
	return out
}

// IDFormulas is a block of Type III, V, IX or X timings.
type IDFormulas struct {
	body
	Kind    IDTag
	Timings []FormulaTiming
}

// Tag is Kind.
func (f *IDFormulas) Tag() IDTag { return f.Kind }

func decodeTypeIII(p []byte) []FormulaTiming {
	ratios := [8][2]uint32{{1, 1}, {5, 4}, {4, 3}, {15, 9}, {16, 9}, {16, 10}, {64, 27}, {256, 135}}
	var out []FormulaTiming
	for ; len(p) >= 3; p = p[3:] {
		f := FormulaTiming{
			Formula: Formula(p[0] >> 4 & 7), Preferred: p[0]&0x80 != 0,
			H: 8 * (uint32(p[1]) + 1), Hz: uint16(p[2]&0x7F) + 1, Interlaced: p[2]&0x80 != 0,
		}
		if r := p[0] & 15; r < 8 {
			f.V = f.H * ratios[r][1] / ratios[r][0]
		}
		out = append(out, f)
	}
	return out
}

func decodeTypeV(p []byte) []FormulaTiming {
	var out []FormulaTiming
	for ; len(p) >= 7; p = p[7:] {
		out = append(out, FormulaTiming{
			Formula: FormulaRB2 + Formula(p[0]&3), NTSC: p[0]&0x10 != 0, Preferred: p[0]&0x80 != 0,
			H: uint32(le16(p[2:])) + 1, V: uint32(le16(p[4:])) + 1, Hz: uint16(p[6]) + 1,
		})
	}
	return out
}

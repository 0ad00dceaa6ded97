package edid

// VideoFormats is the video format data block of CTA-861.6 and CTA-861-I.
type VideoFormats struct {
	body
	NTSC     bool // the 1000/1001 rates too
	YCbCr420 bool // in YCbCr 4:2:0 too
	Formats  []VFD
}

// VFD is a video format descriptor of one to three bytes; missing bytes are
// zero.
type VFD [3]byte

// RID is the resolution identification code.
func (v VFD) RID() uint8 { return v[0] & 63 }

// Size is the resolution that the code stands for, false for a reserved one.
func (v VFD) Size() (w, h int, ok bool) {
	if r := v.RID(); r > 0 && int(r) < len(ridSizes) {
		return ridSizes[r][0], ridSizes[r][1], true
	}
	return 0, 0, false
}

// ridSizes is the table of CTA-861.6 as NVIDIA's open header has it (its
// width of 1929 for code 5 is a slip).
var ridSizes = [29][2]int{
	1: {1280, 720}, {1280, 720}, {1680, 720}, {1920, 1080}, {1920, 1080}, {2560, 1080}, {3840, 1080},
	8: {2560, 1440}, {3440, 1440}, {5120, 1440}, {3840, 2160}, {3840, 2160}, {5120, 2160}, {7680, 2160},
	15: {5120, 2880}, {5120, 2880}, {6880, 2880}, {10240, 2880}, {7680, 4320}, {7680, 4320}, {10240, 4320},
	22: {15360, 4320}, {11520, 6480}, {11520, 6480}, {15360, 6480}, {15360, 8640}, {15360, 8640}, {20480, 8640},
}

// Tag is VideoFormatTag.
func (*VideoFormats) Tag() BlockTag { return VideoFormatTag }

func (d *decoder) decodeVideoFormats(o body, p []byte) *VideoFormats {
	v := &VideoFormats{body: o, NTSC: p[0]&0x40 != 0, YCbCr420: p[0]&0x80 != 0}
	size := int(p[0]&3) + 1
	if size == 4 || (len(p)-1)%size != 0 {
		d.add(NestedOverrun, o.at, len(o.raw), "video format", size)
	}
	for p = p[1:]; len(p) >= size; p = p[size:] {
		var f VFD
		copy(f[:], p[:size])
		v.Formats = append(v.Formats, f)
	}
	return v
}

// CTATypeVII is a DisplayID Type VII timing in a CTA data block (CTA-861.6).
type CTATypeVII struct {
	body
	Timing IDTiming
}

// Tag is TypeVIITag.
func (*CTATypeVII) Tag() BlockTag { return TypeVIITag }

func (d *decoder) decodeCTATypeVII(o body, p []byte) *CTATypeVII {
	return &CTATypeVII{o, decodeIDTiming(p[1:21], 1000, p[0]&7)}
}

// CTATypeVIII is a list of timing codes in a CTA data block.
type CTATypeVIII struct {
	body
	TimingCodes
}

// Tag is TypeVIIITag.
func (*CTATypeVIII) Tag() BlockTag { return TypeVIIITag }

func decodeCTATypeVIII(o body, p []byte) *CTATypeVIII {
	return &CTATypeVIII{o, decodeTimingCodes(p[0], p[1:])}
}

// CTATypeX is a list of DisplayID Type X timings in a CTA data block.
type CTATypeX struct {
	body
	Formulas []FormulaTiming
}

// Tag is TypeXTag.
func (*CTATypeX) Tag() BlockTag { return TypeXTag }

func (d *decoder) decodeCTATypeX(o body, p []byte) *CTATypeX {
	return &CTATypeX{o, decodeFormulas(p[1:], 6+int(p[0]>>4&7), true)}
}

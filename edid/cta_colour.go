package edid

import "math"

// Colorimetries is a set of colorimetry standards, the two bytes of the block
// read little endian.
type Colorimetries uint16

var colorimetryNames = [16]string{
	"xvYCC601", "xvYCC709", "sYCC601", "opYCC601", "opRGB", "BT2020cYCC", "BT2020YCC", "BT2020RGB",
	"MD0", "MD1", "MD2", "MD3", "defaultRGB", "sRGB", "ICtCp", "ST2113RGB",
}

// Names lists the set in bit order.
func (c Colorimetries) Names() []string {
	var out []string
	for i, n := range colorimetryNames {
		if c&(1<<i) != 0 {
			out = append(out, n)
		}
	}
	return out
}

// BT2020 tells whether any BT.2020 form is in the set.
func (c Colorimetries) BT2020() bool { return c&0xE0 != 0 }

// Colorimetry is the colorimetry block (CTA-861 7.5.5).
type Colorimetry struct {
	body
	Set Colorimetries
}

// Tag is ColorimetryTag.
func (*Colorimetry) Tag() BlockTag { return ColorimetryTag }

// EOTFs is a set of transfer functions.
type EOTFs uint8

const (
	SDRGamma EOTFs = 1
	HDRGamma EOTFs = 2
	PQ       EOTFs = 4 // SMPTE ST 2084
	HLG      EOTFs = 8
)

// HDRStatic is the HDR static metadata block (CTA-861 7.5.13). The luminance
// bytes are as on the wire, 0 where not stated.
type HDRStatic struct {
	body
	EOTFs      EOTFs
	Descriptor uint8 // bit 0: static metadata type 1
	MaxCode    uint8 // maximum luminance
	AvgCode    uint8 // maximum frame-average luminance
	MinCode    uint8 // minimum luminance
}

// Tag is HDRStaticTag.
func (*HDRStatic) Tag() BlockTag { return HDRStaticTag }

func (d *decoder) decodeHDRStatic(o body, p []byte) *HDRStatic {
	h := &HDRStatic{body: o, EOTFs: EOTFs(p[0] & 0x3F), Descriptor: p[1]}
	for i, f := range [3]*uint8{&h.MaxCode, &h.AvgCode, &h.MinCode} {
		if 2+i < len(p) {
			*f = p[2+i]
		}
	}
	return h
}

// MaxNits is the maximum luminance in cd/m2, 0 where not stated.
func (h *HDRStatic) MaxNits() float64 { return codedNits(h.MaxCode) }

// AvgNits is the maximum frame-average luminance in cd/m2, 0 where not stated.
func (h *HDRStatic) AvgNits() float64 { return codedNits(h.AvgCode) }

// MinNits is the minimum luminance in cd/m2, 0 where not stated.
func (h *HDRStatic) MinNits() float64 {
	v := float64(h.MinCode) / 255
	return h.MaxNits() * v * v / 100
}

func codedNits(v uint8) float64 {
	if v == 0 {
		return 0
	}
	return 50 * math.Pow(2, float64(v)/32)
}

// HDRDynamic is the HDR dynamic metadata block (CTA-861 7.5.14).
type HDRDynamic struct {
	body
	Types []HDRMetadataType
}

// HDRMetadataType is one supported type with its support bytes, not decoded.
type HDRMetadataType struct {
	Type    uint16
	Support []byte
}

// Tag is HDRDynamicTag.
func (*HDRDynamic) Tag() BlockTag { return HDRDynamicTag }

func (d *decoder) decodeHDRDynamic(o body, p []byte) *HDRDynamic {
	h := &HDRDynamic{body: o}
	for len(p) > 0 {
		n := int(p[0])
		if n < 2 || n+1 > len(p) {
			d.add(NestedOverrun, o.at+len(o.raw)-len(p), len(p), "HDR dynamic metadata", n)
			break
		}
		h.Types = append(h.Types, HDRMetadataType{le16(p[1:]), p[3 : 1+n]})
		p = p[1+n:]
	}
	return h
}

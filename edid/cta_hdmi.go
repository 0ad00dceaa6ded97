package edid

import "fmt"

// HDMI is the vendor-specific block of HDMI 1.4b (OUI 00-0C-03, section
// 8.3.2). Without it sources treat the display as DVI and send no sound.
// Fields that the block is too short for are zero.
type HDMI struct {
	body
	PhysicalAddress PhysicalAddress
	SupportsAI      bool // ACP and ISRC packets
	DeepColour      DeepColour
	DeepColour444   bool // deep colour in YCbCr 4:4:4 too
	DualDVI         bool
	MaxTMDSMHz      uint16 // maximum TMDS clock, 0 where not stated
	ContentTypes    ContentTypes
	Latency         *Latency // nil where not present
	Interlaced      *Latency // latency of interlaced formats, nil where not present
	Video           *HDMIVideo
}

// PhysicalAddress is the CEC physical address.
type PhysicalAddress uint16

// String is the address as "1.0.0.0".
func (p PhysicalAddress) String() string {
	return fmt.Sprintf("%d.%d.%d.%d", p>>12, p>>8&15, p>>4&15, p&15)
}

// DeepColour is a set of colour depths in bits per component beside 8.
type DeepColour uint8

const (
	Deep10 DeepColour = 1 << 0 // 30 bit
	Deep12 DeepColour = 1 << 1 // 36 bit
	Deep16 DeepColour = 1 << 2 // 48 bit
)

// Bits lists the depths per component.
func (d DeepColour) Bits() []int {
	var out []int
	for i, n := range [3]int{10, 12, 16} {
		if d&(1<<i) != 0 {
			out = append(out, n)
		}
	}
	return out
}

// ContentTypes are the content types that the display processes specially.
type ContentTypes uint8

const (
	ContentGraphics ContentTypes = 1
	ContentPhoto    ContentTypes = 2
	ContentCinema   ContentTypes = 4
	ContentGame     ContentTypes = 8
)

// Latency is a pair of latency bytes as on the wire.
type Latency struct{ Video, Audio uint8 }

// LatencyMS is a latency byte in milliseconds, false where it is unknown (0)
// or the signal is not supported (255).
func LatencyMS(v uint8) (ms int, ok bool) { return (int(v) - 1) * 2, v != 0 && v != 255 }

// HDMIVideo is the video part of the HDMI block: extended resolutions and 3D.
type HDMIVideo struct {
	ThreeD    bool  // the mandatory 3D formats
	Multi     uint8 // 1: Structures hold for the first 16 SVDs; 2: for those of Mask
	ImageSize uint8 // 1 ratio only is right, 2 size right to 1 cm, 3 to 5 cm
	VICs      []uint8
	// Structures has bit n set for 3D structure n.
	Structures uint16
	Mask       uint16 // bit n is SVD n of the video data block
	Formats    []Format3D
	// Rest is what follows; it should be empty or zero.
	Rest []byte
}

// Format3D is one 3D format of its own.
type Format3D struct {
	SVD       uint8 // index into the video data block
	Structure Structure3D
	Detail    uint8 // sub-sampling, for structures from 8 up
}

// Structure3D is a 3D structure code.
type Structure3D uint8

func (s Structure3D) String() string {
	return nameOf([]string{"frame packing", "field alternative", "line alternative", "side-by-side full",
		"L+depth", "L+depth+graphics", "top-and-bottom", "", "side-by-side half"}, "3D structure", int(s))
}

// Tag is VendorTag.
func (*HDMI) Tag() BlockTag { return VendorTag }

// decodeHDMI decodes what follows the OUI; p[0] is byte 4 of the block in the
// standard's count.
func (d *decoder) decodeHDMI(o body, p []byte) DataBlock {
	if len(p) < 2 {
		d.addAs(BreaksSound, BlockShort, o.at, len(o.raw), "HDMI", len(p)+3, 5)
		return &BadBlock{o, VendorTag, len(p) + 3, BlockTooShort}
	}
	h := &HDMI{body: o, PhysicalAddress: PhysicalAddress(p[0])<<8 | PhysicalAddress(p[1])}
	p = p[2:]
	if len(p) > 0 {
		f := p[0]
		h.SupportsAI, h.DualDVI, h.DeepColour444 = f&0x80 != 0, f&1 != 0, f&8 != 0
		h.DeepColour = DeepColour(f >> 4 & 7)
	}
	if len(p) > 1 {
		h.MaxTMDSMHz = uint16(p[1]) * 5
	}
	if len(p) < 3 {
		return h
	}
	flags := p[2]
	h.ContentTypes = ContentTypes(flags & 15)
	p = p[3:]
	if flags&0x80 != 0 {
		if h.Latency, p = d.decodeLatency(o, p); h.Latency == nil {
			return h
		}
		if flags&0x40 != 0 {
			if h.Interlaced, p = d.decodeLatency(o, p); h.Interlaced == nil {
				return h
			}
		}
	}
	if flags&0x20 != 0 {
		h.Video = d.decodeHDMIVideo(o, p)
	}
	return h
}

func (d *decoder) decodeLatency(o body, p []byte) (*Latency, []byte) {
	if len(p) < 2 {
		d.add(HDMITruncated, o.at, len(o.raw), "HDMI latency")
		return nil, nil
	}
	return &Latency{p[0], p[1]}, p[2:]
}

func (d *decoder) decodeHDMIVideo(o body, p []byte) *HDMIVideo {
	if len(p) < 2 {
		d.add(HDMITruncated, o.at, len(o.raw), "HDMI video")
		return nil
	}
	v := &HDMIVideo{ThreeD: p[0]&0x80 != 0, Multi: p[0] >> 5 & 3, ImageSize: p[0] >> 3 & 3}
	vics, threeD := int(p[1]>>5), int(p[1]&31)
	p = p[2:]
	if vics+threeD > len(p) {
		d.add(HDMITruncated, o.at, len(o.raw), "HDMI video")
		vics = min(vics, len(p))
		threeD = len(p) - vics
	}
	if vics > 0 {
		v.VICs = p[:vics:vics]
	}
	v.Rest = p[vics+threeD:]
	p = p[vics : vics+threeD]
	if (v.Multi == 1 || v.Multi == 2) && len(p) >= 2 {
		v.Structures = uint16(p[0])<<8 | uint16(p[1])
		p = p[2:]
	}
	if v.Multi == 2 && len(p) >= 2 {
		v.Mask = uint16(p[0])<<8 | uint16(p[1])
		p = p[2:]
	}
	for len(p) > 0 {
		f := Format3D{SVD: p[0] >> 4, Structure: Structure3D(p[0] & 15)}
		p = p[1:]
		if f.Structure >= 8 && len(p) > 0 {
			f.Detail = p[0] >> 4
			p = p[1:]
		}
		v.Formats = append(v.Formats, f)
	}
	return v
}

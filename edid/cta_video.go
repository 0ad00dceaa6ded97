package edid

// SVD is a short video descriptor: a Video Identification Code, with a native
// flag for VIC 1 to 64 (CTA-861 7.5.1).
type SVD uint8

// VIC is the Video Identification Code, 0 for a reserved value.
func (s SVD) VIC() uint8 {
	switch {
	case s == 128 || s >= 254:
		return 0
	case s > 128 && s <= 192:
		return uint8(s & 127)
	}
	return uint8(s)
}

// Native reports whether the format is marked native.
func (s SVD) Native() bool { return s > 128 && s <= 192 }

// Video is a video data block (CTA-861 7.5.1).
type Video struct {
	body
	SVDs []SVD
}

// Tag is VideoTag.
func (*Video) Tag() BlockTag { return VideoTag }

func (d *decoder) decodeVideo(o body, p []byte) *Video {
	v := &Video{o, decodeSVDs(p)}
	for i, s := range v.SVDs {
		if s.VIC() == 0 {
			d.add(VICReserved, o.at+1+i, 1, "video", int(s))
		}
	}
	return v
}

func decodeSVDs(p []byte) []SVD {
	if len(p) == 0 {
		return nil
	}
	s := make([]SVD, len(p))
	for i, v := range p {
		s[i] = SVD(v)
	}
	return s
}

// YCbCr420Video lists formats that are taken in YCbCr 4:2:0 only (CTA-861
// 7.5.10).
type YCbCr420Video struct {
	body
	SVDs []SVD
}

// Tag is YCbCr420VideoTag.
func (*YCbCr420Video) Tag() BlockTag { return YCbCr420VideoTag }

// YCbCr420Map marks the formats of the video data blocks that are taken in
// YCbCr 4:2:0 too: bit n of byte k is the short video descriptor 8k+n,
// counted over all video data blocks (CTA-861 7.5.11). An empty map marks
// all.
type YCbCr420Map struct {
	body
	Bits []byte
}

// Tag is YCbCr420MapTag.
func (*YCbCr420Map) Tag() BlockTag { return YCbCr420MapTag }

// Has reports whether short video descriptor n, from 0, is marked.
func (m *YCbCr420Map) Has(n int) bool {
	if len(m.Bits) == 0 {
		return true
	}
	return n/8 < len(m.Bits) && m.Bits[n/8]&(1<<(n%8)) != 0
}

// SVR is a short video reference (CTA-861 7.5.12).
type SVR uint8

// SVRKind is what a short video reference points to.
type SVRKind uint8

const (
	SVRReserved SVRKind = iota
	SVRVIC              // N is a VIC
	SVRDetailed         // N counts the EDID's 18-byte timings from 1
	SVRTypeVII          // N counts the DisplayID Type VII and then Type X timings from 1
	SVRFormat           // the first video format descriptor at rate N
	SVRTypeVIII         // the first code of the first Type VIII block
)

// Refers tells what the reference points to.
func (s SVR) Refers() (kind SVRKind, n int) {
	switch {
	case s >= 1 && s <= 127, s >= 193 && s <= 253:
		return SVRVIC, int(s)
	case s >= 129 && s <= 144:
		return SVRDetailed, int(s) - 128
	case s >= 145 && s <= 160:
		return SVRTypeVII, int(s) - 144
	case s >= 161 && s <= 175:
		return SVRFormat, int(s) - 160
	case s == 254:
		return SVRTypeVIII, 1
	}
	return SVRReserved, int(s)
}

// Preference is the video format preference block: formats, the most wanted
// first (CTA-861 7.5.12).
type Preference struct {
	body
	SVRs []SVR
}

// Tag is PreferenceTag.
func (*Preference) Tag() BlockTag { return PreferenceTag }

func decodeSVRs(p []byte) []SVR {
	s := make([]SVR, len(p))
	for i, v := range p {
		s[i] = SVR(v)
	}
	return s
}

// NativeResolution is the native video resolution block of CTA-861.6. The
// image size stays raw.
type NativeResolution struct {
	body
	Format SVR
	Rest   []byte
}

// Tag is NativeResolutionTag.
func (*NativeResolution) Tag() BlockTag { return NativeResolutionTag }

// VideoCapability is the video capability block (CTA-861 7.5.6).
type VideoCapability struct {
	body
	// YCCRange and RGBRange say that the quantization range is selectable.
	YCCRange, RGBRange bool
	PT, IT, CE         ScanBehaviour // preferred timing, IT and CE formats
}

// ScanBehaviour is how a class of formats is scanned.
type ScanBehaviour uint8

const (
	ScanUnknown ScanBehaviour = 0 // no data for PT, not supported for IT and CE
	ScanOver    ScanBehaviour = 1
	ScanUnder   ScanBehaviour = 2
	ScanBoth    ScanBehaviour = 3
)

func (s ScanBehaviour) String() string {
	return nameOf([]string{"not stated", "always overscanned", "always underscanned", "both"}, "scan", int(s))
}

// Tag is VideoCapabilityTag.
func (*VideoCapability) Tag() BlockTag { return VideoCapabilityTag }

func decodeVideoCapability(o body, p []byte) *VideoCapability {
	v := p[0]
	return &VideoCapability{o, v&0x80 != 0, v&0x40 != 0,
		ScanBehaviour(v >> 4 & 3), ScanBehaviour(v >> 2 & 3), ScanBehaviour(v & 3)}
}

package edid

// HDMIForum is the sink capability data of HDMI 2.1 (section 10.3.2 and
// 10.3.6): the HDMI Forum vendor-specific block, or the HDMI Forum sink
// capability block, which carries the same. Fields that the block is too
// short for are zero.
type HDMIForum struct {
	body
	Kind    BlockTag // VendorTag or HDMISinkTag
	Version uint8
	// MaxTMDSMHz is the maximum TMDS character rate in MHz (million
	// characters a second), 0 where not above 340.
	MaxTMDSMHz uint16

	SCDC             bool // status and control data channel
	ReadRequest      bool // SCDC read request
	CableStatus      bool
	CCBPCI           bool // colour content bits per component indication
	ScrambleUnder340 bool // scrambles at rates up to 340 MHz too
	IndependentView  bool
	DualView         bool
	OSDDisparity     bool

	MaxFRL        FRLRate
	UHDVIC        bool
	DeepColour420 DeepColour

	FAPAEndExtended, QMS, MDelta, CinemaVRR, NegativeMVRR bool
	FVA, ALLM, FAPAStart                                  bool

	VRRMinHz, VRRMaxHz uint16 // 0 for no variable refresh rate

	DSC       *DSC // nil where the block is too short or DSC is not supported
	QMSTFRMax bool
	QMSTFRMin bool
	Rest      []byte // after byte 13 of the standard's count
}

// DSC is the display stream compression that the sink supports.
type DSC struct {
	Native420, AllBpp   bool
	Bpc10, Bpc12, Bpc16 bool
	MaxFRL              FRLRate
	MaxSlices           DSCSlices
	TotalChunkBytes     int
}

// FRLRate is a fixed-rate link code.
type FRLRate uint8

func (f FRLRate) String() string {
	return nameOf([]string{"none", "3 lanes x 3 Gbit/s", "3 lanes x 6 Gbit/s", "4 lanes x 6 Gbit/s",
		"4 lanes x 8 Gbit/s", "4 lanes x 10 Gbit/s", "4 lanes x 12 Gbit/s"}, "FRL rate", int(f))
}

// Gbps is the raw rate over all lanes, 0 for none or a reserved code.
func (f FRLRate) Gbps() int {
	r := [...]int{0, 9, 18, 24, 32, 40, 48}
	if int(f) >= len(r) {
		return 0
	}
	return r[f]
}

// DSCSlices is a maximum slice code.
type DSCSlices uint8

func (s DSCSlices) String() string {
	return nameOf([]string{"none", "1 slice to 340 MHz", "2 slices to 340 MHz", "4 slices to 340 MHz", "8 slices to 340 MHz",
		"8 slices to 400 MHz", "12 slices to 400 MHz", "16 slices to 400 MHz"}, "slices", int(s))
}

// Tag is Kind.
func (h *HDMIForum) Tag() BlockTag { return h.Kind }

// decodeHDMIForum decodes what follows the OUI or the two reserved bytes;
// p[0] is byte 4 of the block in the standard's count, and p has at least 4.
func (d *decoder) decodeHDMIForum(o body, kind BlockTag, p []byte) *HDMIForum {
	h := &HDMIForum{body: o, Kind: kind, Version: p[0], MaxTMDSMHz: uint16(p[1]) * 5}
	f := p[2]
	h.SCDC, h.ReadRequest, h.CableStatus, h.CCBPCI = f&0x80 != 0, f&0x40 != 0, f&0x20 != 0, f&0x10 != 0
	h.ScrambleUnder340, h.IndependentView, h.DualView, h.OSDDisparity = f&8 != 0, f&4 != 0, f&2 != 0, f&1 != 0
	f = p[3]
	h.MaxFRL, h.UHDVIC, h.DeepColour420 = FRLRate(f>>4), f&8 != 0, DeepColour(f&7)
	if len(p) > 4 {
		f = p[4]
		h.FAPAEndExtended, h.QMS, h.MDelta, h.CinemaVRR = f&0x80 != 0, f&0x40 != 0, f&0x20 != 0, f&0x10 != 0
		h.NegativeMVRR, h.FVA, h.ALLM, h.FAPAStart = f&8 != 0, f&4 != 0, f&2 != 0, f&1 != 0
	}
	if len(p) > 6 {
		h.VRRMinHz, h.VRRMaxHz = uint16(p[5]&0x3F), uint16(p[5]&0xC0)<<2|uint16(p[6])
	}
	if len(p) > 7 {
		h.QMSTFRMax, h.QMSTFRMin = p[7]&0x20 != 0, p[7]&0x10 != 0
	}
	if len(p) > 9 {
		if p[7]&0x80 != 0 {
			h.DSC = &DSC{
				Native420: p[7]&0x40 != 0, AllBpp: p[7]&8 != 0,
				Bpc16: p[7]&4 != 0, Bpc12: p[7]&2 != 0, Bpc10: p[7]&1 != 0,
				MaxFRL: FRLRate(p[8] >> 4), MaxSlices: DSCSlices(p[8] & 15),
				TotalChunkBytes: 1024 * (1 + int(p[9]&0x3F)),
			}
		}
		h.Rest = p[10:]
	}
	return h
}

// HDMIOverride is the HDMI Forum EDID extension override: the number of
// extension blocks to read instead of what byte 0x7E says (HDMI 2.1 10.3.7).
type HDMIOverride struct {
	body
	Count uint8
}

// Tag is HDMIOverrideTag.
func (*HDMIOverride) Tag() BlockTag { return HDMIOverrideTag }

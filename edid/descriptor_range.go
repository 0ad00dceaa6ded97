package edid

// RangeLimits is descriptor 0xFD, the display range limits (E-EDID 3.10.3.3).
type RangeLimits struct {
	body
	MinVHz, MaxVHz   uint16
	MinHKHz, MaxHKHz uint16
	// MaxClockMHz is the maximum pixel clock in steps of 10 MHz, rounded
	// up; 0 where not stated. CVT may state it more closely.
	MaxClockMHz uint16
	Support     TimingSupport
	GTF         *SecondaryGTF // where Support is SupportSecondaryGTF
	CVT         *CVTSupport   // where Support is SupportCVT
}

// TimingSupport is byte 10 of the range limits: which formula the display
// supports within them.
type TimingSupport uint8

const (
	SupportDefaultGTF   TimingSupport = 0
	SupportLimitsOnly   TimingSupport = 1
	SupportSecondaryGTF TimingSupport = 2
	SupportCVT          TimingSupport = 4
)

func (t TimingSupport) String() string {
	return nameOf([]string{"default GTF", "limits only", "secondary GTF", "", "CVT"}, "timing support", int(t))
}

// SecondaryGTF is the second GTF curve. The terms are as on the wire: C and J
// hold twice their value.
type SecondaryGTF struct {
	StartKHz uint16 // horizontal rate at which this curve takes over
	C2       uint8
	M        uint16
	K        uint8
	J2       uint8
}

// CVTSupport is what the range limits say of CVT.
type CVTSupport struct {
	Version uint8 // 0x11 for 1.1
	// ClockLessQuarterMHz is how many quarter megahertz the maximum pixel
	// clock lies below MaxClockMHz.
	ClockLessQuarterMHz uint8
	MaxHActive          uint16 // pixels a line, 0 for no limit
	Ratios              CVTRatios
	Preferred           uint8 // code of the preferred ratio, 0 4:3, 1 16:9, 2 16:10, 3 5:4, 4 15:9
	Reduced, Standard   bool  // kinds of blanking
	HShrink, HStretch   bool
	VShrink, VStretch   bool
	PreferredHz         uint8
}

// CVTRatios are the supported aspect ratios.
type CVTRatios uint8

const (
	CVT4x3   CVTRatios = 0x80
	CVT16x9  CVTRatios = 0x40
	CVT16x10 CVTRatios = 0x20
	CVT5x4   CVTRatios = 0x10
	CVT15x9  CVTRatios = 0x08
)

// Tag is RangeTag.
func (*RangeLimits) Tag() DescriptorTag { return RangeTag }

// MaxClockHz is the maximum pixel clock as closely as stated, 0 if not.
func (r *RangeLimits) MaxClockHz() uint64 {
	hz := uint64(r.MaxClockMHz) * 1e6
	if r.CVT != nil {
		if less := uint64(r.CVT.ClockLessQuarterMHz) * 250e3; less < hz {
			hz -= less
		}
	}
	return hz
}

func decodeRangeLimits(o body) *RangeLimits {
	b := o.raw
	r := &RangeLimits{
		body:   o,
		MinVHz: uint16(b[5]), MaxVHz: uint16(b[6]),
		MinHKHz: uint16(b[7]), MaxHKHz: uint16(b[8]),
		MaxClockMHz: uint16(b[9]) * 10,
		Support:     TimingSupport(b[10]),
	}
	// Offsets of 255 (EDID 1.4): bit 1 for the maximum, both for minimum too.
	if b[4]&2 != 0 {
		r.MaxVHz += 255
		if b[4]&1 != 0 {
			r.MinVHz += 255
		}
	}
	if b[4]&8 != 0 {
		r.MaxHKHz += 255
		if b[4]&4 != 0 {
			r.MinHKHz += 255
		}
	}
	switch r.Support {
	case SupportSecondaryGTF:
		r.GTF = &SecondaryGTF{StartKHz: uint16(b[12]) * 2, C2: b[13], M: le16(b[14:]), K: b[16], J2: b[17]}
	case SupportCVT:
		r.CVT = &CVTSupport{
			Version: b[11], ClockLessQuarterMHz: b[12] >> 2,
			MaxHActive: (uint16(b[12]&3)<<8 | uint16(b[13])) * 8,
			Ratios:     CVTRatios(b[14] & 0xF8),
			Preferred:  b[15] >> 5, Reduced: b[15]&16 != 0, Standard: b[15]&8 != 0,
			HShrink: b[16]&0x80 != 0, HStretch: b[16]&0x40 != 0,
			VShrink: b[16]&0x20 != 0, VStretch: b[16]&0x10 != 0,
			PreferredHz: b[17],
		}
	}
	return r
}

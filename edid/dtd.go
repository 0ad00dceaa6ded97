package edid

import "deadhop/edid/timing"

// DetailedTiming is an 18-byte detailed timing descriptor (E-EDID 3.10.2).
type DetailedTiming struct {
	body
	Timing            timing.Timing
	WidthMM, HeightMM uint16 // image size, 0 where not stated
	// BorderH and BorderV are on each side, in pixels and lines. They lie
	// inside the blanking of Timing, as the kernel reads them.
	BorderH, BorderV uint8
	Sync             SyncKind
	// Serration and SyncOnRGB are flags of composite sync.
	Serration, SyncOnRGB bool
	Stereo               StereoMode
}

// SyncKind is how the sync signals are carried.
type SyncKind uint8

const (
	SyncAnalogComposite  SyncKind = 0
	SyncBipolarComposite SyncKind = 1
	SyncDigitalComposite SyncKind = 2
	SyncDigitalSeparate  SyncKind = 3
)

func (s SyncKind) String() string {
	return nameOf([]string{"analog composite", "bipolar analog composite", "digital composite", "digital separate"}, "sync", int(s))
}

// StereoMode is bits 6, 5 and 0 of byte 17 as one number, bit 0 lowest. 0 and
// 1 are both "none".
type StereoMode uint8

func (s StereoMode) String() string {
	return nameOf([]string{
		"none", "none",
		"field sequential, right on stereo sync high", "two-way interleaved, right on even lines",
		"field sequential, left on stereo sync high", "two-way interleaved, left on even lines",
		"four-way interleaved", "side by side interleaved",
	}, "stereo", int(s))
}

// Tag is TimingTag.
func (*DetailedTiming) Tag() DescriptorTag { return TimingTag }

func decodeDetailedTiming(b []byte, at int) DetailedTiming {
	b = b[at : at+18 : at+18]
	flags := b[17]
	t := DetailedTiming{
		body:     body{b, at},
		WidthMM:  uint16(b[12]) | uint16(b[14]&0xF0)<<4,
		HeightMM: uint16(b[13]) | uint16(b[14]&0x0F)<<8,
		BorderH:  b[15], BorderV: b[16],
		Sync:   SyncKind(flags >> 3 & 3),
		Stereo: StereoMode(flags>>4&6 | flags&1),
	}
	hblank := uint32(b[3]) | uint32(b[4]&0x0F)<<8
	vblank := uint32(b[6]) | uint32(b[7]&0x0F)<<8
	hfront := uint32(b[8]) | uint32(b[11]&0xC0)<<2
	hsync := uint32(b[9]) | uint32(b[11]&0x30)<<4
	vfront := uint32(b[10]>>4) | uint32(b[11]&0x0C)<<2
	vsync := uint32(b[10]&0x0F) | uint32(b[11]&0x03)<<4
	t.Timing = timing.Timing{
		PixelClock: timing.Hz(uint64(le16(b)) * 10000),
		H:          axis(uint32(b[2])|uint32(b[4]&0xF0)<<4, hblank, hfront, hsync),
		V:          axis(uint32(b[5])|uint32(b[7]&0xF0)<<4, vblank, vfront, vsync),
		Interlaced: flags&0x80 != 0,
		Repeat:     1,
	}
	switch t.Sync {
	case SyncDigitalSeparate:
		t.Timing.V.Positive = flags&4 != 0
		t.Timing.H.Positive = flags&2 != 0
	case SyncDigitalComposite:
		t.Serration = flags&4 != 0
		t.Timing.H.Positive = flags&2 != 0
	default:
		t.Serration = flags&4 != 0
		t.SyncOnRGB = flags&2 != 0
	}
	// An interlaced frame has an odd number of lines, but for one format of
	// CTA-861 (VIC 39), whose 1250 lines split evenly.
	t.Timing.HalfLine = t.Timing.Interlaced &&
		!(t.Timing.V.Active == 540 && vblank == 85 && t.Timing.H.Total() == 2304)
	return t
}

// axis builds an axis from what a descriptor states. Where front porch and
// sync exceed the blanking the back porch is 0, and the raw bytes tell the
// rest; judgeTiming reports it.
func axis(active, blank, front, sync uint32) timing.Axis {
	a := timing.Axis{Active: active, Front: front, Sync: sync}
	if blank > front+sync {
		a.Back = blank - front - sync
	}
	return a
}

// blanks are the blanking totals as stated, for descriptors whose porches do
// not fit inside them.
func (t *DetailedTiming) blanks() (h, v uint32) {
	if t.raw == nil {
		return t.Timing.H.Blank(), t.Timing.V.Blank()
	}
	b := t.raw
	return uint32(b[3]) | uint32(b[4]&0x0F)<<8, uint32(b[6]) | uint32(b[7]&0x0F)<<8
}

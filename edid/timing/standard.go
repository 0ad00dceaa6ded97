package timing

import (
	"fmt"
	"strings"
)

// Source says which document a standard timing is in, or which formula made
// it.
type Source uint8

// The sources in the order in which a name is preferred where several
// documents hold the same timing.
const (
	SourceCTA         Source = iota + 1 // CTA-861, Video Identification Codes
	SourceHDMI                          // HDMI 1.4b section 8.2.3.1, HDMI_VIC
	SourceDMT                           // VESA DMT 1.0 rev. 13
	SourceEstablished                   // E-EDID established timings I, II, III
)

func (s Source) String() string {
	switch s {
	case SourceCTA:
		return "CTA-861"
	case SourceHDMI:
		return "HDMI 1.4b"
	case SourceDMT:
		return "VESA DMT"
	case SourceEstablished:
		return "E-EDID established timings"
	}
	return fmt.Sprintf("Source(%d)", uint8(s))
}

// Reduced says how the blanking of a standard timing was reduced.
type Reduced uint8

// NotReduced is ordinary blanking; ReducedV1 and ReducedV2 are CVT's two forms;
// ReducedOther is a blanking that DMT calls reduced and no formula makes.
const (
	NotReduced Reduced = iota
	ReducedV1
	ReducedV2
	ReducedOther
)

// Standard is one entry of a published timing table.
type Standard struct {
	Timing Timing
	Source Source
	// Code is the entry's number in its document: DMT id, VIC or HDMI_VIC.
	// Established timings have their byte in the high half (offset 0x23 to
	// 0x25 in the base block, or 6 to 11 in descriptor 0xF7) and their bit in
	// the low half.
	Code uint16
	Name string // "1920x1080 60 Hz": size and nominal rate, field rate where interlaced
	// Aspect is the picture's aspect ratio, "16:9". DMT states none; there
	// it is that of square pixels.
	Aspect  string
	Reduced Reduced
	// Repeats has bit n set where each pixel may be sent n times. Timing has
	// the lowest factor allowed.
	Repeats uint16
	// MoreLines is how many lines longer the front porch may be: 240-line
	// formats exist with 262 and 263 lines, 288-line ones with 312 to 314.
	MoreLines uint8
	// TwinClock is the pixel clock of the 1000/1001 partner, zero where the
	// document has none.
	TwinClock Freq
	STDCode   [2]byte // EDID standard-timing code as DMT prints it, 00 00 for none
	CVTCode   [3]byte // CVT 3-byte code as DMT prints it, 00 00 00 for none
}

// Label names the entry as its document does: "VIC 16", "HDMI VIC 1",
// "DMT 0x52", "established timing 0x23 bit 5".
func (s Standard) Label() string {
	switch s.Source {
	case SourceCTA:
		return fmt.Sprintf("VIC %d", s.Code)
	case SourceHDMI:
		return fmt.Sprintf("HDMI VIC %d", s.Code)
	case SourceDMT:
		return fmt.Sprintf("DMT 0x%02X", s.Code)
	case SourceEstablished:
		return fmt.Sprintf("established timing 0x%02X bit %d", s.Code>>8, s.Code&0xFF)
	}
	return fmt.Sprintf("%s %d", s.Source, s.Code)
}

// String is label, name and aspect: "VIC 16, 1920x1080 60 Hz, 16:9".
func (s Standard) String() string {
	return s.Label() + ", " + s.Name + ", " + s.Aspect
}

// Twin is the other member of the 1000/1001 pair with its own name: 59.94 Hz
// for 60 Hz and the reverse. It has the same code. ok is false where the
// document knows no twin.
func (s Standard) Twin() (twin Standard, ok bool) {
	if s.TwinClock.IsZero() {
		return Standard{}, false
	}
	twin = s
	twin.Timing.PixelClock, twin.TwinClock = s.TwinClock, s.Timing.PixelClock
	size, _, _ := strings.Cut(s.Name, " ")
	twin.Name = fmt.Sprintf("%s %s Hz", size, twin.Timing.FieldRate().InDecimals(1, 2))
	return twin, true
}

// DMT is the VESA DMT timing with that id, 0x01 to 0x58.
func DMT(id uint8) (Standard, bool) {
	if id == 0 || int(id) > len(dmtTable) {
		return Standard{}, false
	}
	return dmtTable[id-1], true
}

// VIC is the CTA-861 video format with that Video Identification Code, 1 to
// 127 and 193 to 219. Its clock is the one that CTA-861 lists first; see
// [Standard.Twin] for the other.
func VIC(n uint8) (Standard, bool) {
	switch {
	case n >= 1 && n <= 127:
		return vicTable[n-1], true
	case n >= 193 && n <= 219:
		return vicTable[127+n-193], true
	}
	return Standard{}, false
}

// HDMIVIC is the extended-resolution format with that HDMI_VIC, 1 to 4 (HDMI
// 1.4b section 8.2.3.1).
func HDMIVIC(n uint8) (Standard, bool) {
	if n == 0 || int(n) > len(hdmiTable) {
		return Standard{}, false
	}
	return hdmiTable[n-1], true
}

// Established is the timing that a bit of the EDID's established timings I
// and II stands for: offset 0x23 or 0x24, or 0x25 bit 7; bit 7 is the most
// significant. The other bits of 0x25 are the maker's own.
//
// The rows that come from IBM and Apple carry what the Linux kernel's table
// has, which marks them as guesses; 1152x870 is from memory.
func Established(offset, bit uint8) (Standard, bool) {
	return established(offset, bit, 0x23, 0x25)
}

// EstablishedIII is the timing that a bit of the descriptor 0xF7 stands for:
// offset 6 to 11 within the descriptor, bit 7 the most significant.
func EstablishedIII(offset, bit uint8) (Standard, bool) {
	return established(offset, bit, 6, 11)
}

func established(offset, bit, first, last uint8) (Standard, bool) {
	if offset < first || offset > last {
		return Standard{}, false
	}
	for i := range establishedTable {
		if establishedTable[i].Code == uint16(offset)<<8|uint16(bit) {
			return establishedTable[i], true
		}
	}
	return Standard{}, false
}

// Standards is a fresh copy of one document's whole table in the order of its
// codes.
func Standards(s Source) []Standard {
	var table []Standard
	switch s {
	case SourceDMT:
		table = dmtTable[:]
	case SourceCTA:
		table = vicTable[:]
	case SourceHDMI:
		table = hdmiTable[:]
	case SourceEstablished:
		table = establishedTable[:]
	}
	return append([]Standard(nil), table...)
}

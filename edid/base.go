package edid

import "fmt"

// Base is the base block, E-EDID section 3. Numbers keep the unit of the wire
// unless the type or name says otherwise.
type Base struct {
	Maker   MakerID
	Product uint16
	Serial  uint32
	Made    Date
	Version Version

	Input       Input
	Screen      Screen
	Gamma       Gamma
	Features    Features
	Chroma      Chromaticity
	Established Established
	Standard    [8]StandardTiming
	// Descriptors are the four 18-byte places: *DetailedTiming, *Text,
	// *RangeLimits and so on, never nil.
	Descriptors [4]Descriptor

	// ExtensionCount is the number of blocks that byte 0x7E announces. A
	// CTA extension may override it, see HDMIOverride.
	ExtensionCount uint8
}

var header = [8]byte{0x00, 0xFF, 0xFF, 0xFF, 0xFF, 0xFF, 0xFF, 0x00}

// MakerID is the three-letter maker code, five bits a letter (E-EDID 3.4.1).
type MakerID uint16

// String is the three letters. A code that is no letter prints as "?".
func (m MakerID) String() string {
	var s [3]byte
	for i, v := range [3]uint16{uint16(m) >> 10 & 31, uint16(m) >> 5 & 31, uint16(m) & 31} {
		if v < 1 || v > 26 {
			s[i] = '?'
			continue
		}
		s[i] = byte('A' - 1 + v)
	}
	return string(s[:])
}

// Valid reports whether bit 15 is 0 and all three codes are letters.
func (m MakerID) Valid() bool {
	for _, v := range [3]uint16{uint16(m) >> 10, uint16(m) >> 5 & 31, uint16(m) & 31} {
		if v < 1 || v > 26 {
			return false
		}
	}
	return true
}

// ParseMakerID is the code of three capital letters.
func ParseMakerID(s string) (MakerID, error) {
	var m MakerID
	if len(s) != 3 {
		return 0, fmt.Errorf("maker code %q: it has three letters (E-EDID 3.4.1)", s)
	}
	for _, c := range []byte(s) {
		if c < 'A' || c > 'Z' {
			return 0, fmt.Errorf("maker code %q: only A to Z can be coded (E-EDID 3.4.1)", s)
		}
		m = m<<5 | MakerID(c-'A'+1)
	}
	return m, nil
}

// Date is the week and year of manufacture, or the model year (E-EDID 3.4.4).
type Date struct {
	Week      uint8 // 1 to 54, 0 where not given
	Year      int
	ModelYear bool // Year is the model year, Week says nothing
}

func (d Date) String() string {
	switch {
	case d.ModelYear:
		return fmt.Sprintf("model year %d", d.Year)
	case d.Week != 0:
		return fmt.Sprintf("week %d of %d", d.Week, d.Year)
	}
	return fmt.Sprintf("%d", d.Year)
}

// Version is the EDID structure's version and revision, such as 1 and 4.
type Version struct{ Major, Minor uint8 }

func (v Version) String() string { return fmt.Sprintf("%d.%d", v.Major, v.Minor) }

// AtLeast reports whether v is major 1 with at least this revision.
func (v Version) AtLeast(minor uint8) bool { return v.Major == 1 && v.Minor >= minor }

// Text is the text of the first descriptor with this tag, "" where there is
// none.
func (b *Base) Text(tag DescriptorTag) string {
	for _, x := range b.Descriptors {
		if t, ok := x.(*Text); ok && t.Kind == tag {
			return t.Text
		}
	}
	return ""
}

func (d *decoder) decodeBase(b []byte) {
	p := &d.e.Base
	p.Maker = MakerID(uint16(b[8])<<8 | uint16(b[9]))
	p.Product = le16(b[10:])
	p.Serial = uint32(le16(b[12:])) | uint32(le16(b[14:]))<<16
	p.Version = Version{b[0x12], b[0x13]}
	p.Made = Date{Week: b[0x10], Year: 1990 + int(b[0x11])}
	if b[0x10] == 0xFF {
		p.Made.Week, p.Made.ModelYear = 0, true
	}
	p.Input = Input(b[0x14])
	p.Screen = Screen{b[0x15], b[0x16]}
	p.Gamma = Gamma(b[0x17])
	p.Features = Features(b[0x18])
	p.Chroma = decodeChroma(b[0x19:0x23])
	copy(p.Established[:], b[0x23:0x26])
	for i := range p.Standard {
		copy(p.Standard[i][:], b[0x26+2*i:])
	}
	for i := range p.Descriptors {
		p.Descriptors[i] = d.decodeDescriptor(b, 0x36+18*i)
	}
	p.ExtensionCount = b[0x7E]
	if !d.mute {
		d.judgeBase(b)
	}
}

func le16(b []byte) uint16 { return uint16(b[0]) | uint16(b[1])<<8 }

func le24(b []byte) uint32 { return uint32(b[0]) | uint32(b[1])<<8 | uint32(b[2])<<16 }

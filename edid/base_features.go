package edid

// Input is byte 0x14, the video input definition (E-EDID 3.6.1).
type Input uint8

// Digital reports whether the input is digital.
func (i Input) Digital() bool { return i&0x80 != 0 }

// BitsPerColour is the colour depth of a digital EDID 1.4 input, 0 where it
// is not stated.
func (i Input) BitsPerColour() int {
	c := int(i >> 4 & 7)
	if !i.Digital() || c == 0 || c == 7 {
		return 0
	}
	return 4 + 2*c
}

// Interface is the digital interface of an EDID 1.4 input.
func (i Input) Interface() Interface {
	if !i.Digital() {
		return 0
	}
	return Interface(i & 15)
}

// SignalLevel is the white and sync level code of an analog input, 0 to 3,
// in volts.
func (i Input) SignalLevel() (white, sync float64) {
	levels := [4][2]float64{{0.700, 0.300}, {0.714, 0.286}, {1.000, 0.400}, {0.700, 0.000}}
	l := levels[i>>5&3]
	return l[0], l[1]
}

// Interface is the digital video interface standard (E-EDID table 3.11).
type Interface uint8

const (
	InterfaceUndefined   Interface = 0
	InterfaceDVI         Interface = 1
	InterfaceHDMIa       Interface = 2
	InterfaceHDMIb       Interface = 3
	InterfaceMDDI        Interface = 4
	InterfaceDisplayPort Interface = 5
)

func (i Interface) String() string {
	return nameOf([]string{"not stated", "DVI", "HDMI-a", "HDMI-b", "MDDI", "DisplayPort"}, "interface", int(i))
}

// nameOf is names[n], or the kind and number of a value without a name.
func nameOf(names []string, kind string, n int) string {
	if n >= 0 && n < len(names) && names[n] != "" {
		return names[n]
	}
	return kind + " " + itoa(n)
}

// Screen is bytes 0x15 and 0x16: the size of the screen in centimetres, or
// its aspect ratio (E-EDID 3.6.2).
type Screen struct{ H, V uint8 }

// SizeCM is the size in centimetres, false where it is not stated.
func (s Screen) SizeCM() (w, h int, ok bool) {
	return int(s.H), int(s.V), s.H != 0 && s.V != 0
}

// Ratio is width over height where only the ratio is stated (EDID 1.4).
func (s Screen) Ratio() (r float64, ok bool) {
	switch {
	case s.H != 0 && s.V == 0:
		return (float64(s.H) + 99) / 100, true
	case s.V != 0 && s.H == 0:
		return 100 / (float64(s.V) + 99), true
	}
	return 0, false
}

// Gamma is byte 0x17, the display transfer characteristic (E-EDID 3.6.3).
type Gamma uint8

// Value is the gamma, 1.00 to 3.54, false where an extension gives it.
func (g Gamma) Value() (float64, bool) { return (float64(g) + 100) / 100, g != 0xFF }

// Features is byte 0x18, feature support (E-EDID 3.6.4).
type Features uint8

func (f Features) Standby() bool   { return f&0x80 != 0 }
func (f Features) Suspend() bool   { return f&0x40 != 0 }
func (f Features) ActiveOff() bool { return f&0x20 != 0 }

// SRGB says that sRGB is the default colour space.
func (f Features) SRGB() bool { return f&4 != 0 }

// PreferredNative says, in EDID 1.4, that the preferred timing has the native
// pixel format and rate; before, that the first timing is preferred.
func (f Features) PreferredNative() bool { return f&2 != 0 }

// ContinuousOrGTF says that the display takes any timing within its limits
// (EDID 1.4) or supports the default GTF (before).
func (f Features) ContinuousOrGTF() bool { return f&1 != 0 }

// ColourCode is bits 4:3: the display colour type of an analog display, the
// colour encodings of a digital EDID 1.4 display.
func (f Features) ColourCode() uint8 { return uint8(f >> 3 & 3) }

// YCbCr tells which encodings beside RGB a digital EDID 1.4 display takes.
func (f Features) YCbCr() (ycc444, ycc422 bool) { return f&8 != 0, f&16 != 0 }

// Point is a CIE 1931 chromaticity in units of 1/1024.
type Point struct{ X, Y uint16 }

// XY is the chromaticity as fractions.
func (p Point) XY() (x, y float64) { return float64(p.X) / 1024, float64(p.Y) / 1024 }

// Chromaticity holds the primaries and the white point (E-EDID 3.7).
type Chromaticity struct{ Red, Green, Blue, White Point }

func decodeChroma(b []byte) Chromaticity {
	at := func(hi int, lo byte, shift uint) uint16 {
		return uint16(b[hi])<<2 | uint16(lo>>shift&3)
	}
	return Chromaticity{
		Red:   Point{at(2, b[0], 6), at(3, b[0], 4)},
		Green: Point{at(4, b[0], 2), at(5, b[0], 0)},
		Blue:  Point{at(6, b[1], 6), at(7, b[1], 4)},
		White: Point{at(8, b[1], 2), at(9, b[1], 0)},
	}
}

func (c Chromaticity) append(b []byte) []byte {
	b = append(b,
		byte(c.Red.X&3<<6|c.Red.Y&3<<4|c.Green.X&3<<2|c.Green.Y&3),
		byte(c.Blue.X&3<<6|c.Blue.Y&3<<4|c.White.X&3<<2|c.White.Y&3))
	for _, p := range [4]Point{c.Red, c.Green, c.Blue, c.White} {
		b = append(b, byte(p.X>>2), byte(p.Y>>2))
	}
	return b
}

package sim

import (
	"encoding/hex"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"deadhop/edid/timing"
)

// edidSpec is an EDID as a file beside the YAML file, as hex, or built from
// its main facts.
type edidSpec struct {
	File  string     `yaml:"file"`
	Hex   string     `yaml:"hex"`
	Built *builtEDID `yaml:"built"`
}

// builtEDID is a plain digital display: EDID 1.3 with one detailed timing,
// and a CTA-861 block where it takes HDMI.
type builtEDID struct {
	Maker   string     `yaml:"maker"` // three letters
	Product uint16     `yaml:"product"`
	Serial  uint32     `yaml:"serial"`
	Name    string     `yaml:"name"`
	Timing  timingSpec `yaml:"timing"`
	HDMI    bool       `yaml:"hdmi"`
	Sound   bool       `yaml:"sound"`
}

func dirOf(name string) string { return filepath.Dir(name) }

func (b *builder) edid(path string, s *edidSpec) []byte {
	if s == nil {
		return nil
	}
	data, err := s.bytes(b.dir)
	if err != nil {
		b.fail(path, "%v", err)
		return []byte{} // there is one, and its fault is told already
	}
	return data
}

func (s *edidSpec) bytes(dir string) ([]byte, error) {
	switch {
	case s.File != "" && s.Hex == "" && s.Built == nil:
		data, err := os.ReadFile(filepath.Join(dir, s.File))
		if err != nil {
			return nil, fmt.Errorf("cannot read the EDID: %w", err)
		}
		return data, nil
	case s.Hex != "" && s.File == "" && s.Built == nil:
		data, err := hex.DecodeString(strings.Join(strings.Fields(s.Hex), ""))
		if err != nil {
			return nil, fmt.Errorf("the EDID is no hex: %w", err)
		}
		return data, nil
	case s.Built != nil && s.File == "" && s.Hex == "":
		return s.Built.bytes()
	}
	return nil, fmt.Errorf("an EDID is one of file, hex or built")
}

// bytes lays the display out after VESA E-EDID A.2 section 3 and CTA-861
// section 7.
func (s *builtEDID) bytes() ([]byte, error) {
	if len(s.Maker) != 3 || strings.Trim(s.Maker, "ABCDEFGHIJKLMNOPQRSTUVWXYZ") != "" {
		return nil, fmt.Errorf("maker is three capital letters, not %q", s.Maker)
	}
	if len(s.Name) > 13 {
		return nil, fmt.Errorf("name %q is longer than the 13 letters of a descriptor", s.Name)
	}
	t, err := s.Timing.timing()
	if err != nil {
		return nil, err
	}
	dtd, err := detailed(t)
	if err != nil {
		return nil, err
	}
	b := make([]byte, 128)
	copy(b, []byte{0, 255, 255, 255, 255, 255, 255, 0})
	id := uint16(s.Maker[0]-'@')<<10 | uint16(s.Maker[1]-'@')<<5 | uint16(s.Maker[2]-'@')
	b[8], b[9] = byte(id>>8), byte(id)
	b[10], b[11] = byte(s.Product), byte(s.Product>>8)
	b[12], b[13], b[14], b[15] = byte(s.Serial), byte(s.Serial>>8), byte(s.Serial>>16), byte(s.Serial>>24)
	b[16], b[17], b[18], b[19] = 1, 34, 1, 3 // week 1 of 2024, EDID 1.3
	b[20] = 0x80                             // digital
	b[23] = 120                              // gamma 2.20
	b[24] = 0x0A                             // RGB, preferred timing first
	// Chromaticity of sRGB (IEC 61966-2-1) in the 10-bit form of section 3.7.
	copy(b[25:], []byte{0xEE, 0x91, 0xA3, 0x54, 0x4C, 0x99, 0x26, 0x0F, 0x50, 0x54})
	b[35] = 0x20 // 640x480 60 Hz, which every HDMI display takes
	for i := 38; i < 54; i += 2 {
		b[i], b[i+1] = 1, 1 // unused standard timings
	}
	copy(b[54:], dtd)
	copy(b[72:], textDescriptor(0xFC, s.Name))
	lineKHz, fieldHz := t.LineRate().Float()/1000, t.FieldRate().Float()
	copy(b[90:], []byte{0, 0, 0, 0xFD, 0, byte(min(50, fieldHz)), byte(max(75, fieldHz+1)),
		byte(min(30, lineKHz)), byte(max(80, lineKHz+1)), byte(max(17, t.PixelClock.Float()/1e7+1)),
		0, 10, 32, 32, 32, 32, 32, 32})
	copy(b[108:], []byte{0, 0, 0, 0x10}) // dummy descriptor
	if !s.HDMI {
		seal(b)
		return b, nil
	}
	b[126] = 1
	seal(b)
	c := make([]byte, 128)
	copy(c, []byte{2, 3, 0, 0})
	blocks := []byte{0x41, 1} // video: VIC 1
	if s.Sound {
		c[3] = 0x40                                     // basic audio
		blocks = append(blocks, 0x23, 0x09, 0x07, 0x07) // LPCM, 2 channels, 32 to 48 kHz, 16 to 24 bit
		blocks = append(blocks, 0x83, 0x01, 0, 0)       // front left and right
	}
	blocks = append(blocks, 0x65, 0x03, 0x0C, 0x00, 0x10, 0x00) // HDMI, physical address 1.0.0.0
	copy(c[4:], blocks)
	c[2] = byte(4 + len(blocks))
	seal(c)
	return slices.Concat(b, c), nil
}

// seal sets the checksum byte.
func seal(block []byte) {
	var sum byte
	for _, v := range block[:127] {
		sum += v
	}
	block[127] = -sum
}

func textDescriptor(tag byte, text string) []byte {
	d := []byte{0, 0, 0, tag, 0}
	d = append(d, text...)
	if len(text) < 13 {
		d = append(d, '\n')
	}
	for len(d) < 18 {
		d = append(d, ' ')
	}
	return d
}

// detailed packs a timing into the 18 bytes of E-EDID A.2 section 3.10.2.
func detailed(t timing.Timing) ([]byte, error) {
	clock := t.PixelClock.Round(10000) / 10000
	if t.Interlaced || clock > 0xFFFF || max(t.H.Active, t.H.Blank(), t.V.Active, t.V.Blank()) > 0xFFF ||
		max(t.H.Front, t.H.Sync) > 0x3FF || max(t.V.Front, t.V.Sync) > 0x3F {
		return nil, fmt.Errorf("%v does not fit into a detailed timing descriptor", t)
	}
	h, v := t.H, t.V
	flags := byte(0x18) // digital, separate syncs
	if v.Positive {
		flags |= 4
	}
	if h.Positive {
		flags |= 2
	}
	return []byte{
		byte(clock), byte(clock >> 8),
		byte(h.Active), byte(h.Blank()), byte(h.Active>>8<<4 | h.Blank()>>8),
		byte(v.Active), byte(v.Blank()), byte(v.Active>>8<<4 | v.Blank()>>8),
		byte(h.Front), byte(h.Sync), byte(v.Front&15<<4 | v.Sync&15),
		byte(h.Front>>8<<6 | h.Sync>>8<<4 | v.Front>>4<<2 | v.Sync>>4),
		0, 0, 0, 0, 0, flags,
	}, nil
}

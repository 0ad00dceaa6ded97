package sim

import (
	"encoding/hex"
	"fmt"
	"os"
	"path/filepath"
	"strings"

	"deadhop/edid"
)

// edidSpec is an EDID as a file beside the YAML file, as hex, or built from
// its main facts.
type edidSpec struct {
	File  string     `yaml:"file"`
	Hex   string     `yaml:"hex"`
	Built *builtEDID `yaml:"built"`
}

// builtEDID is a plain digital display with one detailed timing, and with a
// CTA-861 block where it takes HDMI.
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
		path := s.File
		if !filepath.IsAbs(path) {
			path = filepath.Join(dir, path)
		}
		data, err := os.ReadFile(path)
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

// description puts the display into the words of package edid, with range
// limits wide enough for its timing.
func (s *builtEDID) description() (*edid.Description, error) {
	t, err := s.Timing.timing()
	if err != nil {
		return nil, err
	}
	kHz, hz := uint16(t.LineRate().Float()/1000), uint16(t.FieldRate().Float())
	d := &edid.Description{Maker: s.Maker, Product: s.Product, Serial: s.Serial, Name: s.Name,
		Week: 1, Year: 2024, Interface: "dvi",
		Timings: []edid.TimingChoice{{
			ClockKHz: t.PixelClock.Round(1000) / 1000, Polarity: sign(t.H.Positive) + sign(t.V.Positive),
			H: []uint32{t.H.Active, t.H.Front, t.H.Sync, t.H.Back},
			V: []uint32{t.V.Active, t.V.Front, t.V.Sync, t.V.Back},
		}},
		Limits: &edid.Limits{VHz: [2]uint16{min(50, hz), max(75, hz+1)}, HKHz: [2]uint16{min(30, kHz), max(80, kHz+1)},
			ClockMHz: uint16(max(170, t.PixelClock.Float()/1e6+1))},
	}
	if s.HDMI {
		d.Interface = "hdmi"
		d.HDMI = &edid.HDMIChoice{Address: [4]uint8{1, 0, 0, 0}}
	}
	if s.Sound {
		d.Sound = []edid.AudioChoice{{Channels: 2, RatesHz: []int{32000, 44100, 48000}, Bits: []int{16, 20, 24}}}
	}
	return d, nil
}

func sign(positive bool) string {
	if positive {
		return "+"
	}
	return "-"
}

func (s *builtEDID) bytes() ([]byte, error) {
	d, err := s.description()
	if err != nil {
		return nil, err
	}
	return d.Build()
}

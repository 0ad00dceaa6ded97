package edid

import (
	"errors"
	"fmt"

	"deadhop/edid/timing"
	"deadhop/edid/yamlfile"
)

// Description is a short description of a display, in YAML. Build makes a
// legal EDID of it.
type Description struct {
	Maker   string `yaml:"maker"`   // three letters
	Product uint16 `yaml:"product"` // product code
	Serial  uint32 `yaml:"serial"`
	Name    string `yaml:"name"`
	// SerialText is the serial number as text, up to 13 characters.
	SerialText string `yaml:"serial_text"`
	Week       uint8  `yaml:"week"`
	Year       int    `yaml:"year"`
	// SizeMM is width and height of the picture in mm.
	SizeMM [2]uint16 `yaml:"size_mm"`
	Bits   int       `yaml:"bits"` // per colour, 0 for not stated
	// Interface is "dvi", "hdmi", "displayport" or "analog".
	Interface string `yaml:"interface"`
	// Timings are detailed timings, the preferred one first.
	Timings []TimingChoice `yaml:"timings"`
	Limits  *Limits        `yaml:"limits"`
	// VICs are the CTA-861 video codes that the display takes.
	VICs []uint8 `yaml:"vics"`
	// NativeVIC is the native one of them, 0 for none.
	NativeVIC uint8         `yaml:"native_vic"`
	HDMI      *HDMIChoice   `yaml:"hdmi"`
	Sound     []AudioChoice `yaml:"sound"`
}

// TimingChoice is one detailed timing: a VIC, a DMT id, a CVT mode or all its
// numbers.
type TimingChoice struct {
	VIC uint8 `yaml:"vic"`
	DMT uint8 `yaml:"dmt"`
	// CVT is width, height and rate in Hz; Reduced asks for reduced blanking.
	CVT     []uint32 `yaml:"cvt"`
	Reduced bool     `yaml:"reduced"`
	// ClockKHz, H and V state the timing in full: active, front porch, sync,
	// back porch. Polarity is "++", "+-", "-+" or "--", horizontal first.
	ClockKHz uint64   `yaml:"clock_khz"`
	H        []uint32 `yaml:"h"`
	V        []uint32 `yaml:"v"`
	Polarity string   `yaml:"polarity"`
}

// Limits are the display's range limits.
type Limits struct {
	VHz      [2]uint16 `yaml:"v_hz"`
	HKHz     [2]uint16 `yaml:"h_khz"`
	ClockMHz uint16    `yaml:"clock_mhz"`
}

// HDMIChoice is the HDMI block, and the HDMI Forum block where a rate above
// 340 MHz is asked for.
type HDMIChoice struct {
	Address [4]uint8 `yaml:"address"`
	MaxMHz  uint16   `yaml:"max_mhz"`
	Deep    []int    `yaml:"deep_colour"` // bits per colour: 10, 12, 16
}

// AudioChoice is one LPCM sound format.
type AudioChoice struct {
	Channels int   `yaml:"channels"`
	RatesHz  []int `yaml:"rates_hz"`
	Bits     []int `yaml:"bits"`
}

// BuildYAML makes an EDID of a display described in YAML. Errors name file,
// line and column, and the clause where no EDID can express the display.
func BuildYAML(file string, data []byte) ([]byte, error) {
	var d Description
	f, err := yamlfile.Decode(file, data, &d)
	if err != nil {
		return nil, err
	}
	b, err := d.Build()
	var at *buildError
	if errors.As(err, &at) {
		return nil, f.Errorf("$."+at.path, "%v", at.err)
	}
	return b, err
}

// buildError is a fault of the description at a YAML path.
type buildError struct {
	path string
	err  error
}

func (e *buildError) Error() string { return e.path + ": " + e.err.Error() }
func (e *buildError) Unwrap() error { return e.err }

func at(path string, err error) error {
	var enc *EncodeError
	if errors.As(err, &enc) {
		// The place in the YAML file says more than the block would.
		err = errors.New(enc.reason())
	}
	if err == nil {
		return nil
	}
	return &buildError{path, err}
}

// Build makes the EDID: version 1.4, one CTA-861 extension where sound, HDMI
// or video codes ask for it.
func (d *Description) Build() ([]byte, error) {
	e := &EDID{}
	b := &e.Base
	var err error
	if b.Maker, err = ParseMakerID(d.Maker); err != nil {
		return nil, at("maker", err)
	}
	b.Product, b.Serial, b.Version = d.Product, d.Serial, Version{1, 4}
	b.Made = Date{Week: d.Week, Year: d.Year}
	if d.Year == 0 {
		b.Made.Year = 2006
	}
	if b.Input, err = d.input(); err != nil {
		return nil, err
	}
	b.Screen = Screen{cm(d.SizeMM[0]), cm(d.SizeMM[1])}
	b.Gamma = 120
	// sRGB, whose chromaticities follow (IEC 61966-2-1), and the preferred
	// timing's raster is native.
	b.Features = 4 | 2
	b.Chroma = Chromaticity{Red: Point{655, 338}, Green: Point{307, 614}, Blue: Point{154, 61}, White: Point{320, 337}}
	b.Established = Established{0x20}
	for i := range b.Standard {
		b.Standard[i] = StandardTiming{1, 1}
	}
	rest, err := d.descriptors(b)
	if err != nil {
		return nil, err
	}
	if d.HDMI != nil || len(d.Sound) > 0 || len(d.VICs) > 0 || len(rest) > 0 {
		c, err := d.extension(rest)
		if err != nil {
			return nil, err
		}
		e.Extensions = []Extension{c}
	}
	return e.AppendBinary(nil)
}

// cm rounds millimetres to whole centimetres; what does not fit a byte is not
// stated there.
func cm(mm uint16) uint8 {
	if n := (mm + 5) / 10; n <= 255 {
		return uint8(n)
	}
	return 0
}

func (d *Description) input() (Input, error) {
	codes := map[string]Interface{"": 0, "dvi": InterfaceDVI, "hdmi": InterfaceHDMIa, "displayport": InterfaceDisplayPort}
	if d.Interface == "analog" {
		if d.Bits != 0 {
			return 0, at("bits", errors.New("an analog input has no colour depth (E-EDID 3.6.1)"))
		}
		return 0x0E, nil // 0.7/0.3 V, separate and composite sync
	}
	code, ok := codes[d.Interface]
	if !ok {
		return 0, at("interface", fmt.Errorf("%q is none of dvi, hdmi, displayport, analog", d.Interface))
	}
	depth := Input(0)
	if d.Bits != 0 {
		if d.Bits < 6 || d.Bits > 16 || d.Bits%2 != 0 {
			return 0, at("bits", fmt.Errorf("%d bits a colour; 6, 8, 10, 12, 14 and 16 can be coded (E-EDID 3.6.1)", d.Bits))
		}
		depth = Input(d.Bits-4) / 2
	}
	return 0x80 | depth<<4 | Input(code), nil
}

// descriptors fills the four places: timings first, then limits, name and
// serial number. Timings that find no place are returned.
func (d *Description) descriptors(b *Base) ([]DetailedTiming, error) {
	if len(d.Timings) == 0 {
		return nil, at("timings", errors.New("at least the preferred timing is needed (E-EDID 3.10.1)"))
	}
	var all []DetailedTiming
	for i, c := range d.Timings {
		path := fmt.Sprintf("timings[%d]", i)
		t, err := c.timing()
		if err != nil {
			return nil, at(path, err)
		}
		x := DetailedTiming{Timing: t, WidthMM: d.SizeMM[0], HeightMM: d.SizeMM[1], Sync: SyncDigitalSeparate}
		if _, err := x.append(nil); err != nil {
			return nil, at(path, err)
		}
		all = append(all, x)
	}
	var tail []Descriptor
	if l := d.Limits; l != nil {
		r := &RangeLimits{MinVHz: l.VHz[0], MaxVHz: l.VHz[1], MinHKHz: l.HKHz[0], MaxHKHz: l.HKHz[1],
			MaxClockMHz: (l.ClockMHz + 9) / 10 * 10, Support: SupportLimitsOnly}
		if _, err := r.append(nil, b.Version); err != nil {
			return nil, at("limits", err)
		}
		tail = append(tail, r)
	}
	for _, t := range []struct {
		path string
		Text
	}{{"name", Text{Kind: NameTag, Text: d.Name}}, {"serial_text", Text{Kind: SerialTag, Text: d.SerialText}}} {
		if t.Text.Text == "" {
			continue
		}
		if _, err := t.Text.append(nil); err != nil {
			return nil, at(t.path, err)
		}
		tail = append(tail, &t.Text)
	}
	n := min(len(all), 4-len(tail))
	for i := range b.Descriptors {
		switch {
		case i < n:
			b.Descriptors[i] = &all[i]
		case i-n < len(tail):
			b.Descriptors[i] = tail[i-n]
		default:
			b.Descriptors[i] = &OtherDescriptor{Kind: DummyTag}
		}
	}
	return all[n:], nil
}

func (c *TimingChoice) timing() (timing.Timing, error) {
	ways := 0
	for _, used := range [4]bool{c.VIC != 0, c.DMT != 0, len(c.CVT) > 0, c.ClockKHz != 0 || len(c.H) > 0 || len(c.V) > 0} {
		if used {
			ways++
		}
	}
	if ways != 1 {
		return timing.Timing{}, errors.New("a timing is one of vic, dmt, cvt, or clock_khz with h and v")
	}
	switch {
	case c.VIC != 0:
		s, ok := timing.VIC(c.VIC)
		if !ok {
			return timing.Timing{}, fmt.Errorf("no VIC %d (CTA-861 table 3)", c.VIC)
		}
		return onePixel(s.Timing), nil
	case c.DMT != 0:
		s, ok := timing.DMT(c.DMT)
		if !ok {
			return timing.Timing{}, fmt.Errorf("no DMT id 0x%02X (VESA DMT 1.13)", c.DMT)
		}
		return s.Timing, nil
	case len(c.CVT) > 0:
		if len(c.CVT) != 3 {
			return timing.Timing{}, errors.New("cvt is width, height and rate in Hz")
		}
		blank := timing.CVTStandard
		if c.Reduced {
			blank = timing.CVTReduced1
		}
		return timing.CVT(timing.Request{Width: c.CVT[0], Height: c.CVT[1], Rate: timing.Hz(uint64(c.CVT[2]))}, blank)
	}
	return c.numbers()
}

// onePixel counts repeated pixels as sent, which is how a detailed timing
// states them.
func onePixel(t timing.Timing) timing.Timing {
	t.Repeat = 1
	return t
}

func (c *TimingChoice) numbers() (timing.Timing, error) {
	if len(c.H) != 4 || len(c.V) != 4 || c.ClockKHz == 0 {
		return timing.Timing{}, errors.New("h and v are active, front porch, sync, back porch, beside clock_khz")
	}
	t := timing.Timing{
		PixelClock: timing.KHz(c.ClockKHz),
		H:          timing.Axis{Active: c.H[0], Front: c.H[1], Sync: c.H[2], Back: c.H[3]},
		V:          timing.Axis{Active: c.V[0], Front: c.V[1], Sync: c.V[2], Back: c.V[3]},
		Repeat:     1,
	}
	switch c.Polarity {
	case "", "--":
	case "+-", "-+", "++":
		t.H.Positive, t.V.Positive = c.Polarity[0] == '+', c.Polarity[1] == '+'
	default:
		return t, fmt.Errorf("polarity %q is none of ++, +-, -+, --", c.Polarity)
	}
	return t, nil
}

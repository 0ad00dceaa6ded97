package timing

import (
	"errors"
	"fmt"
	"strconv"
	"strings"

	"deadhop/edid/yamlfile"
)

// Kind is the part that a limits file describes.
type Kind string

const (
	KindSource      Kind = "source"
	KindLink        Kind = "link"
	KindScalerInput Kind = "scaler input"
	KindPanel       Kind = "panel"
)

// LimitsFile is a file of limits, in the order in which they stand there.
type LimitsFile struct {
	// Buffers says that the scaler has a frame buffer and re-times.
	Buffers bool
	Parts   []Part
}

// Part is one part's limits and, for a panel, its active size.
type Part struct {
	Kind          Kind
	Width, Height uint32 // 0 where not stated
	Limits        Limits
}

// Of are the limits of all parts of the given kinds.
func (f *LimitsFile) Of(kinds ...Kind) []Limits {
	var out []Limits
	for _, p := range f.Parts {
		for _, k := range kinds {
			if p.Kind == k {
				out = append(out, p.Limits)
			}
		}
	}
	return out
}

// Path joins the file with what the source sends and, behind a frame buffer,
// what the scaler puts out.
func (f *LimitsFile) Path(source, output Timing, errorPPM float64) Path {
	return Path{Source: source, ErrorPPM: errorPPM, Link: f.Of(KindSource, KindLink), Input: f.Of(KindScalerInput),
		Buffers: f.Buffers, Output: output, Panel: f.Of(KindPanel)}
}

type rangeYAML struct{ Min, Typ, Max string }

type sequenceYAML struct{ Name, Min, Max string }

type partYAML struct {
	Kind          string    `yaml:"kind"`
	Name          string    `yaml:"name"`
	Active        string    `yaml:"active"`
	PixelClock    rangeYAML `yaml:"pixel_clock"`
	CharacterRate rangeYAML `yaml:"character_rate"`
	LineRate      rangeYAML `yaml:"line_rate"`
	FieldRate     rangeYAML `yaml:"field_rate"`
	HTotal        rangeYAML `yaml:"h_total"`
	HBlank        rangeYAML `yaml:"h_blanking"`
	HFront        rangeYAML `yaml:"h_front_porch"`
	HSync         rangeYAML `yaml:"h_sync"`
	HBack         rangeYAML `yaml:"h_back_porch"`
	VTotal        rangeYAML `yaml:"v_total"`
	VBlank        rangeYAML `yaml:"v_blanking"`
	VFront        rangeYAML `yaml:"v_front_porch"`
	VSync         rangeYAML `yaml:"v_sync"`
	VBack         rangeYAML `yaml:"v_back_porch"`

	Scan      string         `yaml:"scan"`
	HPolarity string         `yaml:"h_polarity"`
	VPolarity string         `yaml:"v_polarity"`
	DEOnly    bool           `yaml:"de_only"`
	Channels  uint8          `yaml:"channels"`
	Bits      uint8          `yaml:"bits_per_component"`
	Sampling  string         `yaml:"sampling"`
	FRL       string         `yaml:"frl"`
	Listed    []string       `yaml:"listed"`
	Sequence  []sequenceYAML `yaml:"sequence"`
}

type limitsYAML struct {
	Scaler string     `yaml:"scaler"`
	Parts  []partYAML `yaml:"parts"`
}

// ParseLimits reads a limits file. Every number has its unit, every error
// says file, line and column; all errors are reported, joined.
func ParseLimits(name string, data []byte) (*LimitsFile, error) {
	var w limitsYAML
	f, err := yamlfile.Decode(name, data, &w)
	if err != nil {
		return nil, err
	}
	out := &LimitsFile{}
	var errs []error
	switch w.Scaler {
	case "", "pass-through":
	case "frame buffer":
		out.Buffers = true
	default:
		errs = append(errs, f.Errorf("$.scaler", "scaler is %q: wanted pass-through or frame buffer", w.Scaler))
	}
	if len(w.Parts) == 0 {
		errs = append(errs, f.Errorf("$.parts", "there are no limits: list at least one part under parts"))
	}
	for i := range w.Parts {
		r := partReader{file: f, path: "$.parts[" + strconv.Itoa(i) + "]"}
		out.Parts = append(out.Parts, r.read(&w.Parts[i]))
		errs = append(errs, r.errs...)
	}
	if err := errors.Join(errs...); err != nil {
		return nil, err
	}
	return out, nil
}

type partReader struct {
	file *yamlfile.File
	path string
	errs []error
}

func (r *partReader) fail(key, format string, args ...any) {
	r.errs = append(r.errs, r.file.Errorf(r.path+key, format, args...))
}

func (r *partReader) read(w *partYAML) Part {
	p := Part{Kind: Kind(w.Kind)}
	switch p.Kind {
	case KindSource, KindLink, KindScalerInput, KindPanel:
	default:
		r.fail(".kind", "kind is %q: wanted source, link, scaler input or panel", w.Kind)
	}
	l := &p.Limits
	l.Origin = w.Kind
	if w.Name != "" {
		l.Origin = w.Name
	}
	r.active(&p, w.Active)
	for _, x := range []struct {
		key string
		q   Quantity
		v   rangeYAML
	}{{"pixel_clock", PixelClock, w.PixelClock}, {"character_rate", CharacterRate, w.CharacterRate}, {"line_rate", LineRate, w.LineRate},
		{"field_rate", FieldRate, w.FieldRate}, {"h_total", HTotal, w.HTotal}, {"h_blanking", HBlank, w.HBlank}, {"h_front_porch", HFront, w.HFront},
		{"h_sync", HSync, w.HSync}, {"h_back_porch", HBack, w.HBack}, {"v_total", VTotal, w.VTotal}, {"v_blanking", VBlank, w.VBlank},
		{"v_front_porch", VFront, w.VFront}, {"v_sync", VSync, w.VSync}, {"v_back_porch", VBack, w.VBack}} {
		if x.v != (rangeYAML{}) {
			r.limit(l, x.key, x.q, x.v)
		}
	}
	l.Interlaced = r.rule(".scan", w.Scan, "interlaced", "progressive")
	l.HPositive = r.rule(".h_polarity", w.HPolarity, "positive", "negative")
	l.VPositive = r.rule(".v_polarity", w.VPolarity, "positive", "negative")
	l.DEOnly, l.Channels, l.BitsPerComponent = w.DEOnly, w.Channels, w.Bits
	if w.Channels > 4 {
		r.fail(".channels", "channels is %d: wanted 1, 2 or 4 pixels a clock", w.Channels)
	}
	if w.Bits != 0 && (w.Bits < 6 || w.Bits > 16) {
		r.fail(".bits_per_component", "bits_per_component is %d: wanted 6 to 16", w.Bits)
	}
	r.link(l, w)
	for i, label := range w.Listed {
		s, err := ParseStandard(label)
		if err != nil {
			r.fail(fmt.Sprintf(".listed[%d]", i), "%v", err)
			continue
		}
		l.Listed = append(l.Listed, s)
	}
	for i, s := range w.Sequence {
		r.sequence(l, fmt.Sprintf(".sequence[%d]", i), s)
	}
	if len(r.errs) == 0 {
		if err := l.Validate(); err != nil {
			r.fail("", "%v", err)
		}
		if len(l.List) == 0 && len(l.Listed) == 0 && l.Channels == 0 {
			r.fail("", "the part has no limit")
		}
	}
	return p
}

func (r *partReader) active(p *Part, text string) {
	if text == "" {
		return
	}
	w, h, ok := strings.Cut(text, "x")
	width, errW := strconv.ParseUint(w, 10, 16)
	height, errH := strconv.ParseUint(h, 10, 16)
	if !ok || errW != nil || errH != nil || width == 0 || height == 0 {
		r.fail(".active", "active is %q: wanted a size such as 1920x1080, both above 0", text)
		return
	}
	p.Width, p.Height = uint32(width), uint32(height)
	p.Limits.List = append(p.Limits.List, At(HActive, Count(p.Width), Count(p.Width)), At(VActive, Count(p.Height), Count(p.Height)))
}

func (r *partReader) limit(l *Limits, key string, q Quantity, v rangeYAML) {
	x := Limit{Quantity: q}
	for _, c := range []struct {
		name, text string
		into       *Freq
	}{{"min", v.Min, &x.Min}, {"typ", v.Typ, &x.Typ}, {"max", v.Max, &x.Max}} {
		if c.text == "" {
			continue
		}
		var err error
		if q <= FieldRate {
			*c.into, err = ParseFreq(c.text)
		} else {
			unit, _ := q.unit()
			*c.into, err = parseCount(c.text, unit)
			if err == nil && c.into.IsZero() && (q == HTotal || q == VTotal || c.name == "max") {
				err = fmt.Errorf("%q: %s is above 0", c.text, q)
			}
		}
		if err != nil {
			r.fail("."+key+"."+c.name, "%s: %v", key, err)
			return
		}
	}
	one := Limits{Origin: key, List: []Limit{x}}
	if err := one.Validate(); err != nil {
		r.fail("."+key, "%v", err)
		return
	}
	l.List = append(l.List, x)
}

func (r *partReader) rule(key, text, yes, no string) Rule {
	switch text {
	case "", "any":
		return NotStated
	case yes:
		return Required
	case no:
		return Refused
	}
	r.fail(key, "%s is %q: wanted %s, %s or any", strings.TrimPrefix(key, "."), text, yes, no)
	return NotStated
}

func (r *partReader) link(l *Limits, w *partYAML) {
	switch w.Sampling {
	case "", "4:4:4":
	case "4:2:2":
		l.Sampling = Sampling422
	case "4:2:0":
		l.Sampling = Sampling420
	default:
		r.fail(".sampling", "sampling is %q: wanted 4:4:4, 4:2:2 or 4:2:0", w.Sampling)
	}
	if w.FRL == "" {
		return
	}
	a, b, ok := strings.Cut(w.FRL, "x")
	lanes, errA := strconv.ParseUint(a, 10, 8)
	gbits, errB := strconv.ParseUint(b, 10, 8)
	if !ok || errA != nil || errB != nil {
		r.fail(".frl", "frl is %q: wanted lanes x Gbit/s, such as 4x10", w.FRL)
		return
	}
	frl, err := FRLLink(uint8(lanes), uint8(gbits), l.BitsPerComponent, l.Sampling)
	if err != nil {
		r.fail(".frl", "%v", err)
		return
	}
	l.List = append(l.List, frl.List...)
}

func (r *partReader) sequence(l *Limits, key string, s sequenceYAML) {
	t := SequenceTime{Name: s.Name}
	for _, c := range []struct {
		name, text string
		into       *uint64
	}{{"min", s.Min, &t.MinUS}, {"max", s.Max, &t.MaxUS}} {
		if c.text == "" {
			continue
		}
		v, err := parseTime(c.text)
		if err != nil {
			r.fail(key+"."+c.name, "sequence: %v", err)
			return
		}
		*c.into = v
	}
	if s.Name == "" || t.MaxUS > 0 && t.MinUS > t.MaxUS {
		r.fail(key, "sequence: wanted a name, and a minimum that is not above the maximum")
		return
	}
	l.Sequence = append(l.Sequence, t)
}

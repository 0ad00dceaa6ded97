package chain

import (
	"errors"
	"fmt"
	"regexp"
	"strconv"
	"strings"

	"deadhop/edid/timing"
	"deadhop/edid/yamlfile"
)

// FileVersion is the version of the chain file that Parse reads.
const FileVersion = 1

type chainYAML struct {
	Version   int          `yaml:"version"`
	Equipment string       `yaml:"equipment"`
	Stages    []stageYAML  `yaml:"stages"`
	Links     []linkYAML   `yaml:"links"`
	Rails     []railYAML   `yaml:"rails"`
	Expect    []expectYAML `yaml:"expect"`
}

type stageYAML struct {
	ID      string  `yaml:"id"`
	Kind    string  `yaml:"kind"`
	Name    string  `yaml:"name"`
	DDC     string  `yaml:"ddc"`
	HotPlug string  `yaml:"hot_plug"`
	Timing  string  `yaml:"timing"`
	Access  float64 `yaml:"access_minutes"`
}

type linkYAML struct {
	ID     string  `yaml:"id"`
	Kind   string  `yaml:"kind"`
	Name   string  `yaml:"name"`
	From   string  `yaml:"from"`
	To     string  `yaml:"to"`
	Access float64 `yaml:"access_minutes"`
}

type railYAML struct {
	ID        string   `yaml:"id"`
	Volts     float64  `yaml:"volts"`
	Tolerance float64  `yaml:"tolerance_percent"`
	Feeds     []string `yaml:"feeds"`
}

type expectYAML struct {
	At     string      `yaml:"at"`
	Timing string      `yaml:"timing"`
	Limits *limitsYAML `yaml:"limits"`
	EDID   *edidYAML   `yaml:"edid"`
	Sound  string      `yaml:"sound"`
}

type limitsYAML struct {
	PixelClock string `yaml:"pixel_clock"`
	FH         string `yaml:"fh"`
	FV         string `yaml:"fv"`
}

type edidYAML struct {
	File   string `yaml:"file"`
	SHA256 string `yaml:"sha256"`
}

// Parse reads a chain file. name stands in its errors, which say line and
// column.
func Parse(name string, data []byte) (*Chain, error) {
	var y chainYAML
	f, err := yamlfile.Decode(name, data, &y)
	if err != nil {
		return nil, err
	}
	p := parser{f: f}
	c := p.chain(&y)
	if len(p.errs) > 0 {
		return nil, errors.Join(p.errs...)
	}
	return c, nil
}

type parser struct {
	f    *yamlfile.File
	errs []error
}

func (p *parser) errorf(path, format string, args ...any) {
	p.errs = append(p.errs, p.f.Errorf(path, format, args...))
}

var idForm = regexp.MustCompile(`^[a-z][a-z0-9_-]*$`)

// id checks one identifier and that nothing else has it.
func (p *parser) id(path, what, id string, seen map[string]string) {
	switch {
	case id == "":
		p.errorf(path, "%s has no id", what)
	case !idForm.MatchString(id) || id == "lead":
		p.errorf(path, "the id %q cannot be used: small letters, digits, - and _, starting with a letter, and not \"lead\"", id)
	case seen[id] != "":
		p.errorf(path, "duplicate id %q: %s has it already", id, seen[id])
	default:
		seen[id] = what
	}
}

// oneOf checks a word against the words that are known.
func (p *parser) oneOf(path, what, got string, known ...string) {
	for _, k := range known {
		if got == k {
			return
		}
	}
	p.errorf(path, "%s %q is not known: use %s", what, got, strings.Join(known, ", "))
}

func (p *parser) chain(y *chainYAML) *Chain {
	if y.Version != FileVersion {
		p.errorf("$.version", "chain file version %d: this program reads version %d", y.Version, FileVersion)
		return nil
	}
	c := &Chain{Equipment: y.Equipment}
	seen := map[string]string{}
	stages := map[string]Stage{}
	var names []string
	for i, s := range y.Stages {
		at := fmt.Sprintf("$.stages[%d]", i)
		p.id(at+".id", fmt.Sprintf("stage %d", i+1), s.ID, seen)
		stages[s.ID] = p.stage(at, s)
		names = append(names, s.ID)
	}
	if len(y.Stages) < 2 {
		p.errorf("$.stages", "a chain needs at least two stages, a source and a scaler or panel")
		return nil
	}
	known := strings.Join(names, ", ")
	for i, l := range y.Links {
		at := fmt.Sprintf("$.links[%d]", i)
		p.id(at+".id", fmt.Sprintf("link %d", i+1), l.ID, seen)
		p.oneOf(at+".kind", "the link kind", l.Kind, "hdmi", "panel")
		for _, e := range []struct{ key, stage string }{{"from", l.From}, {"to", l.To}} {
			if _, ok := stages[e.stage]; !ok {
				p.errorf(at+"."+e.key, "link %q: unknown stage %q: this file has %s", l.ID, e.stage, known)
			}
		}
	}
	if len(p.errs) > 0 {
		return nil
	}
	p.order(c, y, stages)
	if len(p.errs) > 0 {
		return nil
	}
	rails := map[string]string{}
	for i, r := range y.Rails {
		at := fmt.Sprintf("$.rails[%d]", i)
		p.id(at+".id", fmt.Sprintf("rail %d", i+1), r.ID, rails)
		if r.Volts <= 0 {
			p.errorf(at+".volts", "rail %q: volts must be above 0", r.ID)
		}
		if r.Tolerance < 0 || r.Tolerance >= 100 {
			p.errorf(at+".tolerance_percent", "rail %q: the tolerance must be from 0 to 100 per cent", r.ID)
		}
		tol := r.Tolerance / 100
		if tol == 0 {
			tol = 0.05 // common practice, no source: ±5 % at the board, loaded
		}
		for k, id := range r.Feeds {
			if _, ok := stages[id]; !ok {
				p.errorf(fmt.Sprintf("%s.feeds[%d]", at, k), "rail %q: unknown stage %q: this file has %s", r.ID, id, known)
			}
		}
		if len(r.Feeds) == 0 {
			p.errorf(at, "rail %q feeds nothing: list its stages under feeds", r.ID)
		}
		c.Rails = append(c.Rails, Rail{ID: r.ID, Volts: r.Volts, Tolerance: tol, Feeds: r.Feeds})
	}
	p.expectations(c, y, stages, known)
	return c
}

func (p *parser) stage(at string, s stageYAML) Stage {
	p.oneOf(at+".kind", "the stage kind", s.Kind, "source", "switch", "extender", "scaler", "panel")
	out := Stage{ID: s.ID, Name: s.Name, Kind: StageKind(s.Kind), Access: s.Access}
	def := Answers
	if out.Kind == Extender {
		def = Passes
	}
	out.DDC, out.HotPlug = def, def
	if s.DDC != "" {
		p.oneOf(at+".ddc", "ddc", s.DDC, "answers", "passes", "buffers")
		out.DDC = Treats(s.DDC)
	}
	if s.HotPlug != "" {
		p.oneOf(at+".hot_plug", "hot_plug", s.HotPlug, "answers", "passes", "buffers")
		out.HotPlug = Treats(s.HotPlug)
	}
	out.Retimes = out.Kind == Scaler
	if s.Timing != "" {
		p.oneOf(at+".timing", "timing", s.Timing, "passes", "retimes")
		out.Retimes = s.Timing == "retimes"
	}
	if s.Access < 0 {
		p.errorf(at+".access_minutes", "stage %q: minutes cannot be below 0", s.ID)
	}
	return out
}

// order walks the links from the source on and fills c in path order.
func (p *parser) order(c *Chain, y *chainYAML, stages map[string]Stage) {
	out, in := map[string]int{}, map[string]int{}
	for i, l := range y.Links {
		at := fmt.Sprintf("$.links[%d]", i)
		if l.From == l.To {
			p.errorf(at+".to", "link %q joins stage %q to itself: a cycle", l.ID, l.From)
			return
		}
		if k, ok := out[l.From]; ok {
			p.errorf(at+".from", "the chain forks: links %q and %q both start at stage %q; describe one path", y.Links[k].ID, l.ID, l.From)
			return
		}
		if k, ok := in[l.To]; ok {
			p.errorf(at+".to", "the chain forks: links %q and %q both end at stage %q; describe one path", y.Links[k].ID, l.ID, l.To)
			return
		}
		out[l.From], in[l.To] = i, i
	}
	for i, l := range y.Links {
		// A path that comes back to its own start never ends.
		seen := map[string]bool{l.From: true}
		for k, ok := i, true; ok; k, ok = out[y.Links[k].To] {
			if to := y.Links[k].To; to == l.From {
				p.errorf(fmt.Sprintf("$.links[%d].to", k), "link %q leads back to stage %q: a cycle", y.Links[k].ID, to)
				return
			} else if seen[to] {
				break
			} else {
				seen[to] = true
			}
		}
	}
	start := ""
	for i, s := range y.Stages {
		_, hasIn := in[s.ID]
		_, hasOut := out[s.ID]
		switch {
		case !hasIn && !hasOut:
			p.errorf(fmt.Sprintf("$.stages[%d]", i), "stage %q is joined by no link: the chain has a gap", s.ID)
			return
		case !hasIn && start != "":
			p.errorf(fmt.Sprintf("$.stages[%d]", i), "stages %q and %q are both fed by no link: the chain has a gap", start, s.ID)
			return
		case !hasIn:
			start = s.ID
		}
	}
	for id := start; ; {
		c.Stages = append(c.Stages, stages[id])
		i, ok := out[id]
		if !ok {
			break
		}
		l := y.Links[i]
		c.Links = append(c.Links, Link{ID: l.ID, Name: l.Name, Kind: LinkKind(l.Kind), From: l.From, To: l.To, Access: l.Access})
		id = l.To
	}
	if c.Stages[0].Kind != Source {
		p.errorf("$.stages", "the chain starts at stage %q, which is a %s: it must start at a source", start, c.Stages[0].Kind)
	}
	for i, s := range c.Stages[1:] {
		if s.Kind == Source {
			p.errorf("$.stages", "stage %q is a source, yet link %q feeds it", s.ID, c.Links[i].ID)
		}
	}
}

func (p *parser) expectations(c *Chain, y *chainYAML, stages map[string]Stage, known string) {
	seen := map[string]bool{}
	for i, e := range y.Expect {
		at := fmt.Sprintf("$.expect[%d]", i)
		if _, ok := stages[e.At]; !ok {
			p.errorf(at+".at", "expect: unknown stage %q: this file has %s", e.At, known)
			continue
		}
		if seen[e.At] {
			p.errorf(at+".at", "duplicate expectation for stage %q", e.At)
		}
		seen[e.At] = true
		x := Expectation{At: e.At}
		if e.Timing != "" {
			t, err := parseTiming(e.Timing)
			if err != nil {
				p.errorf(at+".timing", "%v", err)
			}
			x.Timing, x.HasTiming = t, true
		}
		if e.Limits != nil {
			x.HasLimits = true
			for _, l := range []struct {
				key, text string
				into      *Range
			}{{"pixel_clock", e.Limits.PixelClock, &x.Limits.PixelClock}, {"fh", e.Limits.FH, &x.Limits.FH}, {"fv", e.Limits.FV, &x.Limits.FV}} {
				if l.text == "" {
					continue
				}
				r, err := parseRange(l.text)
				if err != nil {
					p.errorf(at+".limits."+l.key, "%s: %v", l.key, err)
				}
				*l.into = r
			}
		}
		if e.EDID != nil {
			x.EDIDFile, x.EDIDSHA256 = e.EDID.File, strings.ToLower(e.EDID.SHA256)
			switch {
			case (x.EDIDFile == "") == (x.EDIDSHA256 == ""):
				p.errorf(at+".edid", "edid: give either a file or a sha256")
			case x.EDIDFile == "" && !regexp.MustCompile(`^[0-9a-f]{64}$`).MatchString(x.EDIDSHA256):
				p.errorf(at+".edid.sha256", "sha256 must be 64 hexadecimal digits")
			}
		}
		switch e.Sound {
		case "":
		case "yes", "no", "true", "false":
			x.Sound = Reading[bool]{State: Measured, Value: e.Sound == "yes" || e.Sound == "true"}
		default:
			p.errorf(at+".sound", "sound %q is not known: use yes or no", e.Sound)
		}
		if !x.HasTiming && !x.HasLimits && x.EDIDFile == "" && x.EDIDSHA256 == "" {
			p.errorf(at, "the expectation for stage %q is empty: give timing, limits or edid", e.At)
		}
		c.Expect = append(c.Expect, x)
	}
	for i := 1; i < len(c.Stages); i++ {
		s := c.Stages[i]
		if s.Kind != Scaler && s.Kind != Panel {
			continue
		}
		if e := c.expectFrom(i); e == nil || e.At != s.ID || !e.HasTiming && !e.HasLimits {
			p.errorf("$.expect", "missing expectation: say under expect what stage %q needs (timing or limits)", s.ID)
		}
		return
	}
	p.errorf("$.stages", "the chain has no scaler and no panel: nothing says where it should end")
}

var (
	rangeForm  = regexp.MustCompile(`^([0-9.]+) *(?:-|to) *([0-9.]+) *(Hz|kHz|MHz)$`)
	timingForm = regexp.MustCompile(`^([0-9]+)x([0-9]+)(i?) *@ *([0-9.]+)(?: *Hz)?$`)
)

// parseRange reads "25 to 165 MHz".
func parseRange(s string) (Range, error) {
	m := rangeForm.FindStringSubmatch(s)
	bad := fmt.Errorf("%q is no range: write it like \"30 to 80 kHz\", with Hz, kHz or MHz", s)
	if m == nil {
		return Range{}, bad
	}
	scale := map[string]float64{"Hz": 1, "kHz": 1e3, "MHz": 1e6}[m[3]]
	lo, err1 := strconv.ParseFloat(m[1], 64)
	hi, err2 := strconv.ParseFloat(m[2], 64)
	if err1 != nil || err2 != nil || lo > hi {
		return Range{}, bad
	}
	return Range{lo * scale, hi * scale}, nil
}

// parseTiming finds "1280x1024@60" in DMT, then CTA-861.
func parseTiming(s string) (timing.Timing, error) {
	m := timingForm.FindStringSubmatch(s)
	if m == nil {
		return timing.Timing{}, fmt.Errorf("%q is no timing: write it like \"1280x1024@60\"", s)
	}
	w, _ := strconv.ParseUint(m[1], 10, 32)
	h, _ := strconv.ParseUint(m[2], 10, 32)
	rate, err := strconv.ParseFloat(m[4], 64)
	if err != nil {
		return timing.Timing{}, fmt.Errorf("%q is no timing: the rate is no number", s)
	}
	for _, src := range []timing.Source{timing.SourceDMT, timing.SourceCTA} {
		for _, st := range timing.Standards(src) {
			t := st.Timing
			if st.Reduced == timing.NotReduced && uint64(t.H.Active) == w && uint64(t.FrameActive()) == h &&
				t.Interlaced == (m[3] == "i") && t.FieldRate().Float() > rate-0.5 && t.FieldRate().Float() < rate+0.5 {
				return t, nil
			}
		}
	}
	return timing.Timing{}, fmt.Errorf("%s is in neither DMT nor CTA-861: state limits instead", s)
}

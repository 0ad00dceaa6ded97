package sim

import (
	"errors"
	"fmt"
	"slices"
	"time"

	"deadhop/ddc"
	"deadhop/edid/timing"
	"deadhop/edid/yamlfile"
)

// equipment is the file after checking: what is built, and what is wrong with
// it. It never changes; repairs are kept by the Bench.
type equipment struct {
	name   string
	seed   uint64
	delay  time.Duration
	bench  benchKit
	stages []board
	links  []cable // links[i] joins stages[i] to stages[i+1]
	rails  []rail
	faults []fault
}

type benchKit struct {
	maxClock    timing.Freq
	cannot      []ddc.Quantity
	denied      bool
	vanishAfter int
	presents    []byte
}

type board struct {
	id, kind                string
	fallback                timing.Timing
	mode                    *timing.Timing
	ignoresHotPlug          bool
	maxClock                timing.Freq
	ddc, hotPlug, fiveVolts string
	edid                    []byte
	edidFedByBoard          bool
	accepts                 *limitSpec
	retimes                 bool
	native                  timing.Timing
}

type cable struct {
	id, kind   string
	picofarads float64
}

type rail struct {
	id    string
	volts float64
	feeds []string
}

var canMeasure = map[string]ddc.Quantity{
	"connector": ddc.Connector, "hot-plug": ddc.HotPlug, "termination": ddc.RxSense,
	"acknowledge": ddc.Ack, "edid": ddc.RawEDID, "power-5v": ddc.Power5V,
	"signal": ddc.SignalLock, "timing": ddc.InTiming, "picture": ddc.Picture, "sound": ddc.Sound,
}

const defaultMaxKHz = 165000 // single-link TMDS of HDMI 1.0 to 1.2a

// builder gathers every error of a file, each with its place.
type builder struct {
	spec *fileSpec
	f    *yamlfile.File
	dir  string
	errs []error
}

func (b *builder) fail(path, format string, args ...any) {
	b.errs = append(b.errs, b.f.Errorf(path, format, args...))
}

func (s *fileSpec) build(name string, f *yamlfile.File) (*equipment, error) {
	b := &builder{spec: s, f: f, dir: dirOf(name)}
	eq := &equipment{name: s.Name, seed: s.Seed}
	d, err := s.wireDelay()
	if err != nil {
		b.fail("$.wire_delay", "%v", err)
	}
	eq.delay = d
	eq.bench = b.bench()
	b.stages(eq)
	b.links(eq)
	b.rails(eq)
	if len(b.errs) == 0 {
		b.faults(eq)
	}
	return eq, errors.Join(b.errs...)
}

func (b *builder) bench() benchKit {
	s := b.spec.Bench
	k := benchKit{maxClock: timing.KHz(defaultMaxKHz), denied: s.Denied, vanishAfter: s.VanishAfter}
	if s.MaxClockKHz != 0 {
		k.maxClock = timing.KHz(s.MaxClockKHz)
	}
	for i, c := range s.Cannot {
		q, ok := canMeasure[c]
		if !ok {
			b.fail(fmt.Sprintf("$.bench.cannot[%d]", i), "unknown reading %q; known are %s", c, list(canMeasure))
		}
		k.cannot = append(k.cannot, q)
	}
	k.presents = b.edid("$.bench.presents", s.Presents)
	return k
}

func (b *builder) timing(path string, s *timingSpec) timing.Timing {
	t, err := s.timing()
	if err != nil {
		b.fail(path, "%v", err)
	}
	return t
}

func (b *builder) stages(eq *equipment) {
	if len(b.spec.Stages) < 2 {
		b.fail("$.stages", "a chain has at least two stages")
	}
	seen := map[string]bool{}
	for i, s := range b.spec.Stages {
		at := fmt.Sprintf("$.stages[%d]", i)
		if s.ID == "" {
			b.fail(at, "a stage without an id")
		} else if seen[s.ID] {
			b.fail(at+".id", "stage %q is there twice", s.ID)
		}
		seen[s.ID] = true
		eq.stages = append(eq.stages, b.board(at, i, s))
	}
}

func (b *builder) board(at string, i int, s stageSpec) board {
	o := board{id: s.ID, kind: s.Kind, ignoresHotPlug: s.IgnoresHotPlug, accepts: s.Accepts,
		maxClock: timing.KHz(defaultMaxKHz), edid: b.edid(at+".edid", s.EDID)}
	if s.MaxClockKHz != 0 {
		o.maxClock = timing.KHz(s.MaxClockKHz)
	}
	vga, _ := timing.VIC(1) // the format that every HDMI source and sink has, HDMI 1.4b section 6.2.1
	o.fallback = vga.Timing
	if s.Fallback != nil {
		o.fallback = b.timing(at+".fallback", s.Fallback)
	}
	if s.Mode != nil {
		t := b.timing(at+".mode", s.Mode)
		o.mode = &t
	}
	o.edidFedByBoard = b.choice(at+".edid_fed_by", s.EDIDFedBy, "pin18", "either") == "either"
	if first := i == 0; first != (s.Kind == "source") {
		b.fail(at+".kind", "the first stage, and only it, is of kind source")
	}
	b.limits(at+".accepts", s.Accepts)
	switch s.Kind {
	case "source":
	case "switch", "extender":
		o.ddc = b.choice(at+".ddc", s.DDC, "passes", "buffers", "answers")
		o.hotPlug = b.choice(at+".hot_plug", s.HotPlug, "passes", "wired", "driven")
		o.fiveVolts = b.choice(at+".five_volts", s.FiveVolts, "own", "passes")
		if o.ddc == "answers" && o.edid == nil {
			b.fail(at, "stage %q answers DDC itself, so it needs an edid", s.ID)
		}
	case "scaler":
		o.ddc = b.choice(at+".ddc", s.DDC, "answers")
		o.hotPlug = b.choice(at+".hot_plug", s.HotPlug, "wired", "driven")
		o.retimes = b.choice(at+".video", s.Video, "retimes", "passes") == "retimes"
		if o.edid == nil {
			b.fail(at, "scaler %q needs an edid", s.ID)
		}
		if o.retimes {
			if s.Native == nil {
				b.fail(at, "scaler %q retimes, so it needs the native timing of its output", s.ID)
			} else {
				o.native = b.timing(at+".native", s.Native)
			}
		}
	case "panel":
	default:
		b.fail(at+".kind", "unknown kind %q; known are source, switch, extender, scaler, panel", s.Kind)
	}
	return o
}

func (b *builder) limits(at string, l *limitSpec) {
	if l == nil {
		return
	}
	for _, r := range []struct {
		key string
		v   []float64
	}{{"line_khz", l.LineKHz}, {"field_hz", l.FieldHz}} {
		if r.v != nil && (len(r.v) != 2 || r.v[0] > r.v[1]) {
			b.fail(at+"."+r.key, "%s is two numbers, least and most", r.key)
		}
	}
}

// choice checks a word against the known ones, the first being the default.
func (b *builder) choice(path, got string, known ...string) string {
	if got == "" {
		return known[0]
	}
	if !slices.Contains(known, got) {
		b.fail(path, "%q is not one of %v", got, known)
	}
	return got
}

func (b *builder) links(eq *equipment) {
	if len(b.spec.Links) != len(b.spec.Stages)-1 {
		b.fail("$.links", "%d stages in a row need %d links, but there are %d",
			len(b.spec.Stages), len(b.spec.Stages)-1, len(b.spec.Links))
		return
	}
	seen := map[string]bool{}
	for i, l := range b.spec.Links {
		at := fmt.Sprintf("$.links[%d]", i)
		if l.ID == "" {
			b.fail(at, "a link without an id")
		} else if seen[l.ID] || eq.stage(l.ID) >= 0 {
			b.fail(at+".id", "%q is there twice", l.ID)
		}
		seen[l.ID] = true
		if from, to := eq.stages[i].id, eq.stages[i+1].id; l.From != from || l.To != to {
			b.fail(at, "link %q joins %q to %q, but stages and links stand in order and %q to %q is next",
				l.ID, l.From, l.To, from, to)
		}
		c := cable{id: l.ID, kind: b.choice(at+".kind", l.Kind, "hdmi", "panel"), picofarads: 150}
		if l.Picofarads != 0 {
			c.picofarads = l.Picofarads
		}
		if toPanel := eq.stages[i+1].kind == "panel"; toPanel != (c.kind == "panel") {
			b.fail(at, "a panel link, and only it, ends at a panel")
		} else if toPanel && eq.stages[i].kind != "scaler" {
			b.fail(at, "a panel hangs on a scaler")
		}
		eq.links = append(eq.links, c)
	}
}

func (b *builder) rails(eq *equipment) {
	seen := map[string]bool{}
	for i, r := range b.spec.Rails {
		at := fmt.Sprintf("$.rails[%d]", i)
		if r.ID == "" || seen[r.ID] {
			b.fail(at, "rail %q has no id or one used before", r.ID)
		}
		seen[r.ID] = true
		if r.Volts <= 0 {
			b.fail(at, "rail %q needs its volts", r.ID)
		}
		for j, id := range r.Feeds {
			if eq.stage(id) < 0 {
				b.fail(fmt.Sprintf("%s.feeds[%d]", at, j), "rail %q feeds %q, which is no stage", r.ID, id)
			}
		}
		eq.rails = append(eq.rails, rail{r.ID, r.Volts, r.Feeds})
	}
}

func (eq *equipment) stage(id string) int {
	return slices.IndexFunc(eq.stages, func(s board) bool { return s.id == id })
}

func (eq *equipment) link(id string) int {
	return slices.IndexFunc(eq.links, func(l cable) bool { return l.id == id })
}

func (eq *equipment) rail(id string) int {
	return slices.IndexFunc(eq.rails, func(r rail) bool { return r.id == id })
}

package sim

import (
	"fmt"
	"slices"
	"sort"
	"strings"

	"deadhop/edid/timing"
)

// partKind is what sort of part a fault sits on.
type partKind uint8

const (
	stagePart partKind = iota + 1
	linkPart
	plugPart // one end of a link
	railPart
	leadPart // the bench's own lead
	modePart // the source's mode setting
	edidPart // a stage's EDID contents
)

// part is a place where something can be wrong or be repaired.
type part struct {
	kind    partKind
	index   int  // of the stage, link or rail
	display bool // of a plug: the end nearer the panel
}

// parsePart reads "c1", "c1.display", "scaler", "rail:main", "lead",
// "setting:mode" or "setting:edid:scaler".
func (eq *equipment) parsePart(s string) (part, error) {
	if s == "lead" {
		return part{kind: leadPart}, nil
	}
	if id, ok := strings.CutPrefix(s, "rail:"); ok {
		if i := eq.rail(id); i >= 0 {
			return part{kind: railPart, index: i}, nil
		}
		return part{}, fmt.Errorf("there is no rail %q", id)
	}
	if s == "setting:mode" {
		return part{kind: modePart}, nil // the source's
	}
	if id, ok := strings.CutPrefix(s, "setting:edid:"); ok {
		i := eq.stage(id)
		if i <= 0 || eq.stages[i].kind == "panel" {
			return part{}, fmt.Errorf("%q is no stage that can hold an EDID", id)
		}
		return part{kind: edidPart, index: i}, nil
	}
	if i := eq.stage(s); i >= 0 {
		return part{kind: stagePart, index: i}, nil
	}
	if i := eq.link(s); i >= 0 {
		return part{kind: linkPart, index: i}, nil
	}
	return eq.parsePlug(s)
}

func (eq *equipment) parsePlug(s string) (part, error) {
	id, end, ok := strings.Cut(s, ".")
	i := eq.link(id)
	if !ok || i < 0 || end != "source" && end != "display" {
		return part{}, fmt.Errorf("%q is no part of this equipment: write a stage, a link, a plug such as c1.display, rail:ID, lead, setting:mode or setting:edid:STAGE", s)
	}
	return part{kind: plugPart, index: i, display: end == "display"}, nil
}

// Action is a repair that a person carries out on a part.
type Action string

const (
	Reseat      Action = "reseat" // pull and put back, clean
	Swap        Action = "swap"   // a new part, known good
	Reset       Action = "reset"  // power off for a minute
	SetMode     Action = "set-mode"
	RewriteEDID Action = "rewrite-edid"
)

var actions = []Action{Reseat, Swap, Reset, SetMode, RewriteEDID}

// fault is something wrong with one part.
type fault struct {
	name    string // the part as written
	part    part
	kind    string
	chance  float64
	pairs   []wire
	wires   []wire
	ohms    float64
	above   uint64
	lane    int
	socket  bool // the bad half of a contact is the board's
	mode    timing.Timing
	edid    []byte
	bytes   []byteSpec
	curedBy []Action
}

// faultKind says where a kind of fault can sit, what it needs and what
// usually cures it. What it does to signals stands in inject.go.
type faultKind struct {
	on     []string // stage kinds, or hdmi, plug, panel-link, panel-plug, rail, lead, mode, edid
	needs  string   // the key that must be given
	cures  []Action
	chance bool // by nature intermittent: chance must be given
}

// faultKinds holds the trade's faults under the names of what is broken.
var faultKinds = map[string]faultKind{
	"no-boot":          {on: []string{"source"}, cures: []Action{Swap}},
	"regulator":        {on: []string{"source", "switch", "extender", "scaler"}, cures: []Action{Swap}},
	"hung":             {on: []string{"source", "switch", "extender", "scaler"}, cures: []Action{Reset, Swap}},
	"output-driver":    {on: []string{"source", "switch", "extender"}, cures: []Action{Swap}},
	"five-volts-open":  {on: []string{"source", "switch", "extender"}, cures: []Action{Swap}},
	"pull-up-missing":  {on: []string{"source", "switch", "extender"}, cures: []Action{Swap}},
	"black-output":     {on: []string{"source"}, cures: []Action{Reset, Swap}},
	"frozen-output":    {on: []string{"source"}, cures: []Action{Reset, Swap}},
	"wrong-mode":       {on: []string{"mode"}, needs: "mode", cures: []Action{SetMode}},
	"loose":            {on: []string{"plug", "panel-plug"}, chance: true, cures: []Action{Reseat, Swap}},
	"unplugged":        {on: []string{"plug", "panel-plug"}, cures: []Action{Reseat, Swap}},
	"wire-open":        {on: []string{"hdmi", "plug", "lead"}, needs: "wires", cures: []Action{Swap}},
	"wire-resistive":   {on: []string{"hdmi", "plug", "lead"}, needs: "ohms", cures: []Action{Swap}},
	"pair-open":        {on: []string{"hdmi", "plug", "lead"}, cures: []Action{Swap}},
	"pair-lossy":       {on: []string{"hdmi", "plug", "lead"}, needs: "above_khz", cures: []Action{Swap}},
	"port-dead":        {on: []string{"switch"}, cures: []Action{Swap}},
	"ddc-buffer-dead":  {on: []string{"switch", "extender"}, cures: []Action{Swap}},
	"hot-plug-dead":    {on: []string{"switch", "extender", "scaler"}, cures: []Action{Swap}},
	"unsteady":         {on: []string{"switch", "extender"}, cures: []Action{Swap}},
	"own-edid":         {on: []string{"edid"}, needs: "edid", cures: []Action{Reset, RewriteEDID, SetMode}},
	"wrong-edid":       {on: []string{"edid"}, needs: "edid", cures: []Action{RewriteEDID}},
	"corrupt":          {on: []string{"edid"}, needs: "bytes", cures: []Action{RewriteEDID}},
	"input-dead":       {on: []string{"scaler"}, cures: []Action{Swap}},
	"edid-store-dead":  {on: []string{"scaler"}, cures: []Action{Swap}},
	"sda-stuck":        {on: []string{"switch", "extender", "scaler"}, cures: []Action{Swap}},
	"scl-stuck":        {on: []string{"switch", "extender", "scaler"}, cures: []Action{Reset, Swap}},
	"five-volts-short": {on: []string{"switch", "extender", "scaler"}, cures: []Action{Swap}},
	"supply-short":     {on: []string{"source", "switch", "extender", "scaler"}, cures: []Action{Swap}},
	"panel-table":      {on: []string{"scaler"}, cures: []Action{Swap}},
	"panel-output":     {on: []string{"scaler"}, cures: []Action{Swap}},
	"sound-stage":      {on: []string{"scaler"}, cures: []Action{Swap}},
	"lane-open":        {on: []string{"panel-link", "panel-plug"}, needs: "lane", cures: []Action{Swap}},
	"vdd-open":         {on: []string{"panel-link", "panel-plug"}, cures: []Action{Swap}},
	"light-wire-open":  {on: []string{"panel-link", "panel-plug"}, cures: []Action{Swap}},
	"panel-supply":     {on: []string{"panel"}, cures: []Action{Swap}},
	"glass":            {on: []string{"panel"}, cures: []Action{Swap}},
	"backlight":        {on: []string{"panel"}, cures: []Action{Swap}},
	"capacitors":       {on: []string{"rail"}, chance: true, cures: []Action{Swap}},
	"no-output":        {on: []string{"rail"}, cures: []Action{Swap}},
}

// FaultKinds lists the known kinds of fault in order.
func FaultKinds() []string { return keys(faultKinds) }

// sort of part, as faultKinds names it.
func (eq *equipment) sortOf(p part) string {
	switch p.kind {
	case stagePart:
		return eq.stages[p.index].kind
	case linkPart:
		if eq.links[p.index].kind == "panel" {
			return "panel-link"
		}
		return "hdmi"
	case plugPart:
		if eq.links[p.index].kind == "panel" {
			return "panel-plug"
		}
		return "plug"
	}
	return map[partKind]string{railPart: "rail", leadPart: "lead", modePart: "mode", edidPart: "edid"}[p.kind]
}

func (b *builder) faults(eq *equipment) {
	for i, s := range b.spec.Faults {
		if f, ok := b.fault(eq, fmt.Sprintf("$.faults[%d]", i), s); ok {
			eq.faults = append(eq.faults, f)
		}
	}
}

func (b *builder) fault(eq *equipment, at string, s faultSpec) (fault, bool) {
	before := len(b.errs)
	f := fault{name: s.Part, kind: s.Kind, chance: 1, ohms: s.Ohms, above: s.AboveKHz, bytes: s.Bytes}
	p, err := eq.parsePart(s.Part)
	if err != nil {
		b.fail(at+".part", "%v", err)
		return f, false
	}
	f.part = p
	k, ok := faultKinds[s.Kind]
	if !ok {
		b.fail(at+".kind", "unknown kind of fault %q; known are %s", s.Kind, list(faultKinds))
		return f, false
	}
	if sort := eq.sortOf(p); !slices.Contains(k.on, sort) {
		b.fail(at+".kind", "%q cannot sit on %q, which is of kind %s, but on %s", s.Kind, s.Part, sort, strings.Join(k.on, ", "))
	}
	if s.Kind == "pull-up-missing" && p.index > 0 && eq.stages[p.index].ddc != "buffers" {
		b.fail(at+".kind", "%q has no pull-ups of its own: it does not buffer DDC", s.Part)
	}
	given := map[string]bool{"mode": s.Mode != nil, "edid": s.EDID != nil, "bytes": s.Bytes != nil,
		"wires": s.Wires != nil, "ohms": s.Ohms > 0, "above_khz": s.AboveKHz > 0, "lane": s.Lane != nil}
	if k.needs != "" && !given[k.needs] {
		b.fail(at, "a fault of kind %q needs %s", s.Kind, k.needs)
	}
	switch {
	case s.Chance != nil && (*s.Chance <= 0 || *s.Chance > 1):
		b.fail(at+".chance", "a chance is above 0 and at most 1, not %v", *s.Chance)
	case s.Chance != nil:
		f.chance = *s.Chance
	case k.chance:
		b.fail(at, "a fault of kind %q comes and goes, so it needs its chance to show", s.Kind)
	}
	f.cures(b, at, s, k)
	f.where(b, at, s)
	return f, len(b.errs) == before
}

func (f *fault) cures(b *builder, at string, s faultSpec, k faultKind) {
	f.curedBy = k.cures
	if s.CuredBy == nil {
		return
	}
	f.curedBy = nil
	for i, a := range s.CuredBy {
		if !slices.Contains(actions, Action(a)) {
			b.fail(fmt.Sprintf("%s.cured_by[%d]", at, i), "unknown action %q; known are %v", a, actions)
		}
		f.curedBy = append(f.curedBy, Action(a))
	}
}

// where reads the details of a fault: which pair, wire, lane, byte.
func (f *fault) where(b *builder, at string, s faultSpec) {
	f.pairs = []wire{clockPair, bluePair, greenPair, redPair}
	if s.Pair != "" {
		w, ok := wireNames[s.Pair]
		if !ok || w > redPair {
			b.fail(at+".pair", "a pair is red, green, blue or clock, not %q", s.Pair)
		}
		f.pairs = []wire{w}
	}
	for i, n := range s.Wires {
		w, ok := wireNames[n]
		if !ok {
			b.fail(fmt.Sprintf("%s.wires[%d]", at, i), "unknown wire %q; known are %s", n, list(wireNames))
		}
		f.wires = append(f.wires, w)
	}
	if f.kind == "wire-resistive" && f.wires == nil {
		f.wires = []wire{fiveVolts}
	}
	if s.Lane != nil {
		if f.lane = *s.Lane; f.lane < 0 || f.lane > 3 {
			b.fail(at+".lane", "a lane is 0 to 3, not %d", f.lane)
			f.lane = 0
		}
	}
	if s.Mode != nil {
		f.mode = b.timing(at+".mode", s.Mode)
	}
	f.edid = b.edid(at+".edid", s.EDID)
	f.socket = b.choice(at+".half", s.Half, "plug", "socket") == "socket"
	if s.Half != "" && f.part.kind != plugPart {
		b.fail(at+".half", "only a contact has halves, and %q is none", s.Part)
	}
	for i, v := range s.Bytes {
		if v.At < 0 || v.Is < 0 || v.Is > 255 {
			b.fail(fmt.Sprintf("%s.bytes[%d]", at, i), "at is an offset from 0, is a byte from 0 to 255")
		}
	}
}

func keys[V any](m map[string]V) []string {
	var names []string
	for k := range m {
		names = append(names, k)
	}
	sort.Strings(names)
	return names
}

func list[V any](m map[string]V) string { return strings.Join(keys(m), ", ") }

package chain

import (
	_ "embed"
	"errors"
	"fmt"
	"math"
	"slices"
	"sort"
	"strings"

	"deadhop/edid/yamlfile"
)

// CatalogueVersion is the version of the catalogue file that is read.
const CatalogueVersion = 1

//go:embed catalogue.yaml
var builtIn []byte

// Catalogue is the effect table: what can fail, how often, what it disturbs
// in each direction, and how it is repaired.
type Catalogue struct {
	NoFault   Num // share of jobs where nothing is wrong
	TwoFaults Num // share of faulty units with two faults
	// FalseBad and FalseGood are the chances of a reading that is wrong.
	FalseBad, FalseGood [rungCount]float64
	FalseBlack          Num // extra, for each condition of a display test that was not made sure of
	Costs               map[string]Num
	Modes               []Mode
	Repairs             []Repair
}

// Mode is one way in which one class of part fails.
type Mode struct {
	ID, Part, Name string
	Prior          Num // weight of one instance
	Shows          Num // chance that it shows itself; 1 for a constant fault
	Keeps          Num // chance that it keeps its state while another plug is opened
	Effect         [rungCount]float64
	Confirm        string
	Repair         string
}

// Repair is one action that may cure a part, priced in minutes.
type Repair struct {
	ID, Do, Caution string
	Minutes         Num
	Parts           Num  // price of parts in the minutes they are worth
	Replaces        bool // a new part: every mode of the old one goes with it
	Cures           Num  // chance that it cures the mode it is meant for
}

type catalogueYAML struct {
	Version    int            `yaml:"version"`
	NoFault    Num            `yaml:"no_fault"`
	TwoFaults  Num            `yaml:"two_faults"`
	FalseBlack Num            `yaml:"display_condition_unsure"`
	FalseBad   map[string]Num `yaml:"false_bad"`
	FalseGood  map[string]Num `yaml:"false_good"`
	Costs      map[string]Num `yaml:"costs"`
	Repairs    []repairYAML   `yaml:"repairs"`
	Modes      []modeYAML     `yaml:"modes"`
}

type repairYAML struct {
	ID       string `yaml:"id"`
	Do       string `yaml:"do"`
	Caution  string `yaml:"caution"`
	Minutes  Num    `yaml:"minutes"`
	Parts    Num    `yaml:"parts"`
	Cures    Num    `yaml:"cures"`
	Replaces bool   `yaml:"replaces"`
}

type modeYAML struct {
	ID      string         `yaml:"id"`
	Part    string         `yaml:"part"`
	Name    string         `yaml:"name"`
	Prior   Num            `yaml:"prior"`
	Shows   Num            `yaml:"shows"`
	Keeps   Num            `yaml:"keeps"`
	Up      map[string]Num `yaml:"up"`
	Down    map[string]Num `yaml:"down"`
	Hand    map[string]Num `yaml:"hand"`
	Confirm string         `yaml:"confirm"`
	Repair  string         `yaml:"repair"`
}

// Classes are the classes of part that a mode can belong to.
var Classes = []string{"source", "switch", "extender", "scaler", "panel", "hdmi-cable", "panel-cable",
	"hdmi-plug", "panel-plug", "rail", "lead", "mode-setting", "edid-store", "edid-copy"}

// costKinds are the costs that a catalogue states, in minutes.
var costKinds = []string{"look", "move", "hand", "measure", "temperature", "display", "verify", "close", "parts_per_minute"}

// DefaultCatalogue is the built-in effect table.
func DefaultCatalogue() (*Catalogue, error) { return ParseCatalogue("catalogue.yaml", builtIn, nil) }

// ParseCatalogue reads a catalogue. With a base, its repairs and modes are
// added to the base's, replacing those of the same id, and what the file
// leaves out stays as the base has it.
func ParseCatalogue(name string, data []byte, base *Catalogue) (*Catalogue, error) {
	var y catalogueYAML
	f, err := yamlfile.Decode(name, data, &y)
	if err != nil {
		return nil, err
	}
	p := catalogueParser{parser: parser{f: f}, cat: &Catalogue{Costs: map[string]Num{}}}
	if base != nil {
		*p.cat = *base
		p.cat.Costs = map[string]Num{}
		for k, v := range base.Costs {
			p.cat.Costs[k] = v
		}
		p.cat.Modes, p.cat.Repairs = slices.Clone(base.Modes), slices.Clone(base.Repairs)
	}
	p.read(&y, base != nil)
	if len(p.errs) > 0 {
		return nil, errors.Join(p.errs...)
	}
	return p.cat, nil
}

type catalogueParser struct {
	parser
	cat *Catalogue
}

// number reports a number that could not be read.
func (p *catalogueParser) number(path string, n Num) bool {
	if n.fault != nil {
		p.errorf(path, "%v", n.fault)
		return false
	}
	return true
}

func (p *catalogueParser) probability(path string, n Num) {
	if !p.number(path, n) {
		return
	}
	if n.V < 0 || n.V > 1 || math.IsNaN(n.V) {
		p.errorf(path, "the probability %g is not between 0 and 1", n.V)
	}
}

func sortedKeys(m map[string]Num) []string {
	keys := make([]string, 0, len(m))
	for k := range m {
		keys = append(keys, k)
	}
	sort.Strings(keys)
	return keys
}

func (p *catalogueParser) read(y *catalogueYAML, extends bool) {
	cat := p.cat
	if y.Version != CatalogueVersion {
		p.errorf("$.version", "catalogue version %d: this program reads version %d", y.Version, CatalogueVersion)
		return
	}
	for _, n := range []struct {
		key  string
		from Num
		into *Num
	}{{"no_fault", y.NoFault, &cat.NoFault}, {"two_faults", y.TwoFaults, &cat.TwoFaults}, {"display_condition_unsure", y.FalseBlack, &cat.FalseBlack}} {
		if n.from.From == "" && n.from.fault == nil {
			if !extends {
				p.errorf("$", "the catalogue does not state %s", n.key)
			}
			continue
		}
		p.probability("$."+n.key, n.from)
		*n.into = n.from
	}
	p.rungs("$.false_bad", y.FalseBad, &cat.FalseBad, "")
	p.rungs("$.false_good", y.FalseGood, &cat.FalseGood, "")
	for _, k := range sortedKeys(y.Costs) {
		if !slices.Contains(costKinds, k) {
			p.errorf("$.costs."+k, "the cost %q is not known: use %s", k, strings.Join(costKinds, ", "))
		}
		if p.number("$.costs."+k, y.Costs[k]) && y.Costs[k].V < 0 {
			p.errorf("$.costs."+k, "the cost %s is below 0", k)
		}
		cat.Costs[k] = y.Costs[k]
	}
	for _, k := range costKinds {
		if _, ok := cat.Costs[k]; !ok {
			p.errorf("$.costs", "the cost %q is missing", k)
		}
	}
	p.repairs(y.Repairs)
	p.modes(y.Modes)
	if len(cat.Modes) == 0 {
		p.errorf("$.modes", "the catalogue has no modes")
	}
}

// rungs reads one map of probabilities. With a section the keys are that
// section's, else "section.key" or "default".
func (p *catalogueParser) rungs(path string, m map[string]Num, into *[rungCount]float64, section string) {
	if d, ok := m["default"]; ok && section == "" {
		p.probability(path+".default", d)
		for r := range into {
			into[r] = d.V
		}
	}
	for _, k := range sortedKeys(m) {
		sec, key := section, k
		if section == "" {
			if k == "default" {
				continue
			}
			sec, key, _ = strings.Cut(k, "/")
		}
		r, ok := rungByName(sec, key)
		if !ok {
			var known []string
			for _, n := range rungNames {
				if n.section == sec || section == "" {
					known = append(known, strings.TrimPrefix(n.section+"/"+n.key, section+"/"))
				}
			}
			p.errorf(path+"."+k, "the reading %q is not known here: use %s", k, strings.Join(known, ", "))
			continue
		}
		p.probability(path+"."+k, m[k])
		into[r] = m[k].V
	}
}

func (p *catalogueParser) repairs(ys []repairYAML) {
	seen := map[string]bool{}
	for i, y := range ys {
		at := fmt.Sprintf("$.repairs[%d]", i)
		if !p.number(at+".minutes", y.Minutes) || !p.number(at+".parts", y.Parts) {
			continue
		}
		switch {
		case y.ID == "" || y.Do == "":
			p.errorf(at, "a repair needs an id and a do")
		case seen[y.ID]:
			p.errorf(at+".id", "contradictory costs: the repair %q is listed twice", y.ID)
		case y.Minutes.From == "" || y.Parts.From == "" || y.Cures.From == "" && y.Cures.fault == nil:
			p.errorf(at, "the repair %q must state minutes, parts and cures", y.ID)
		case y.Minutes.V <= 0 || y.Parts.V < 0:
			p.errorf(at+".minutes", "contradictory costs: the repair %q takes %g minutes and %g for parts; minutes must be above 0, parts not below 0", y.ID, y.Minutes.V, y.Parts.V)
		}
		p.probability(at+".cures", y.Cures)
		seen[y.ID] = true
		r := Repair{ID: y.ID, Do: y.Do, Caution: y.Caution, Minutes: y.Minutes, Parts: y.Parts, Cures: y.Cures, Replaces: y.Replaces}
		if k := slices.IndexFunc(p.cat.Repairs, func(o Repair) bool { return o.ID == y.ID }); k >= 0 {
			p.cat.Repairs[k] = r
		} else {
			p.cat.Repairs = append(p.cat.Repairs, r)
		}
	}
}

func (p *catalogueParser) modes(ys []modeYAML) {
	seen := map[string]bool{}
	for i, y := range ys {
		at := fmt.Sprintf("$.modes[%d]", i)
		if y.ID == "" || y.Name == "" {
			p.errorf(at, "a mode needs an id and a name")
			continue
		}
		if seen[y.ID] {
			p.errorf(at+".id", "duplicate mode %q", y.ID)
		}
		seen[y.ID] = true
		if !slices.Contains(Classes, y.Part) {
			p.errorf(at+".part", "mode %q is for no part: %q is not one of %s", y.ID, y.Part, strings.Join(Classes, ", "))
		}
		if p.cat.repair(y.Repair) == nil {
			p.errorf(at+".repair", "mode %q: unknown repair %q", y.ID, y.Repair)
		}
		if !p.number(at+".prior", y.Prior) {
			continue
		}
		if y.Prior.From == "" || y.Prior.V <= 0 {
			p.errorf(at+".prior", "mode %q needs a prior above 0", y.ID)
		}
		m := Mode{ID: y.ID, Part: y.Part, Name: y.Name, Prior: y.Prior, Shows: y.Shows, Keeps: y.Keeps, Confirm: y.Confirm, Repair: y.Repair}
		if m.Shows.From == "" && m.Shows.fault == nil {
			m.Shows = Num{V: 1, From: "a constant fault"}
		}
		p.probability(at+".shows", m.Shows)
		p.probability(at+".keeps", m.Keeps)
		p.rungs(at+".up", y.Up, &m.Effect, "up")
		p.rungs(at+".down", y.Down, &m.Effect, "down")
		p.rungs(at+".hand", y.Hand, &m.Effect, "hand")
		if k := slices.IndexFunc(p.cat.Modes, func(o Mode) bool { return o.ID == y.ID }); k >= 0 {
			p.cat.Modes[k] = m
		} else {
			p.cat.Modes = append(p.cat.Modes, m)
		}
	}
}

func (cat *Catalogue) repair(id string) *Repair {
	for i := range cat.Repairs {
		if cat.Repairs[i].ID == id {
			return &cat.Repairs[i]
		}
	}
	return nil
}

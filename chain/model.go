package chain

import (
	"fmt"
	"strings"
)

// StageKind is what a stage is.
type StageKind string

const (
	Source   StageKind = "source"
	Switch   StageKind = "switch"
	Extender StageKind = "extender"
	Scaler   StageKind = "scaler"
	Panel    StageKind = "panel"
)

// Treats says what a stage does with a line of the return path.
type Treats string

const (
	Answers Treats = "answers" // it replies itself; the line ends here
	Passes  Treats = "passes"  // it joins the wires
	Buffers Treats = "buffers" // it repeats the line through an active part
)

// LinkKind is what a link carries.
type LinkKind string

const (
	HDMI      LinkKind = "hdmi"  // the bench can be put in at its plugs
	PanelLink LinkKind = "panel" // LVDS or eDP: the bench has no port for it
)

// Stage is one board or device of the chain.
type Stage struct {
	ID, Name     string
	Kind         StageKind
	DDC, HotPlug Treats
	Retimes      bool    // its output timing is its own
	Access       float64 // minutes to reach it, paid once a job
}

// Link is a cable or harness between two stages. It has two plugs.
type Link struct {
	ID, Name string
	Kind     LinkKind
	From, To string
	Access   float64 // minutes to reach its plugs, paid once a job
}

// Rail is one supply and the stages that it feeds.
type Rail struct {
	ID        string
	Volts     float64
	Tolerance float64 // fraction of Volts that is accepted either way
	Feeds     []string
}

// Chain is the video path of one piece of equipment, source first. Links[i]
// joins Stages[i] and Stages[i+1].
type Chain struct {
	Equipment string
	Stages    []Stage
	Links     []Link
	Rails     []Rail
	Expect    []Expectation
}

// PartKind sorts the parts that can be at fault.
type PartKind string

const (
	PartStage   PartKind = "stage"
	PartLink    PartKind = "link"
	PartPlug    PartKind = "plug"
	PartRail    PartKind = "rail"
	PartLead    PartKind = "lead"
	PartSetting PartKind = "setting"
)

// Part is one thing of the chain that can be at fault. IDs are stable: a
// stage or link by its own id, a plug "c1.display", a rail "rail:main", the
// bench's lead "lead", settings "setting:mode" and "setting:edid:STAGE".
type Part struct {
	ID   string
	Kind PartKind
	// Class is the kind of part that the catalogue speaks of, such as
	// "switch", "hdmi-cable" or "panel-plug".
	Class string
	Name  string
	// At is the place along the path: stages, plugs and cables are counted
	// from the source on. It is -1 for what has no single place.
	At    int
	Feeds []int // places of the stages that a rail feeds
}

// Places along the path: stage i, its outgoing plug, the cable, the plug at
// the next stage.
func stagePlace(i int) int { return 4 * i }
func linkPlace(i int) int  { return 4*i + 2 }

func plugPlace(link int, e End) int {
	if e == SourceEnd {
		return linkPlace(link) - 1
	}
	return linkPlace(link) + 1
}

func (c *Chain) stageIndex(id string) int {
	for i := range c.Stages {
		if c.Stages[i].ID == id {
			return i
		}
	}
	return -1
}

func (c *Chain) linkIndex(id string) int {
	for i := range c.Links {
		if c.Links[i].ID == id {
			return i
		}
	}
	return -1
}

func (c *Chain) railIndex(id string) int {
	for i := range c.Rails {
		if c.Rails[i].ID == id {
			return i
		}
	}
	return -1
}

// Parts lists everything that can be at fault, in the order of the path, then
// rails, settings and the bench's own lead.
func (c *Chain) Parts() []Part {
	var parts []Part
	for i, s := range c.Stages {
		parts = append(parts, Part{ID: s.ID, Kind: PartStage, Class: string(s.Kind), Name: s.title(), At: stagePlace(i)})
		if i == len(c.Links) {
			break
		}
		l := c.Links[i]
		to := c.Stages[i+1]
		parts = append(parts,
			Part{ID: l.ID + ".source", Kind: PartPlug, Class: string(l.Kind) + "-plug",
				Name: fmt.Sprintf("the plug of %s at %s", l.title(), s.title()), At: plugPlace(i, SourceEnd)},
			Part{ID: l.ID, Kind: PartLink, Class: string(l.Kind) + "-cable", Name: l.title(), At: linkPlace(i)},
			Part{ID: l.ID + ".display", Kind: PartPlug, Class: string(l.Kind) + "-plug",
				Name: fmt.Sprintf("the plug of %s at %s", l.title(), to.title()), At: plugPlace(i, DisplayEnd)})
	}
	for _, r := range c.Rails {
		p := Part{ID: "rail:" + r.ID, Kind: PartRail, Class: "rail", Name: fmt.Sprintf("supply %s (%g V)", r.ID, r.Volts), At: -1}
		for _, f := range r.Feeds {
			p.Feeds = append(p.Feeds, stagePlace(c.stageIndex(f)))
		}
		parts = append(parts, p)
	}
	parts = append(parts, Part{ID: "setting:mode", Kind: PartSetting, Class: "mode-setting",
		Name: "the video mode set at " + c.Stages[0].title(), At: 0})
	for i, s := range c.Stages {
		if s.DDC == Answers && s.Kind != Panel && s.Kind != Source {
			class := "edid-store"
			if s.Kind != Scaler {
				class = "edid-copy"
			}
			parts = append(parts, Part{ID: "setting:edid:" + s.ID, Kind: PartSetting, Class: class,
				Name: "the EDID held by " + s.title(), At: stagePlace(i)})
		}
	}
	return append(parts, Part{ID: "lead", Kind: PartLead, Class: "lead", Name: "the bench's own lead", At: -1})
}

// Plugs lists every plug from the source to the panel.
func (c *Chain) Plugs() []Plug {
	var ps []Plug
	for _, l := range c.Links {
		ps = append(ps, Plug{l.ID, SourceEnd}, Plug{l.ID, DisplayEnd})
	}
	return ps
}

// Plug finds a plug by its name, such as "c2.display". The error names the
// plugs that the chain has.
func (c *Chain) Plug(name string) (Plug, error) {
	link, end, _ := strings.Cut(name, ".")
	if c.linkIndex(link) >= 0 && (End(end) == SourceEnd || End(end) == DisplayEnd) {
		return Plug{link, End(end)}, nil
	}
	var known []string
	for _, p := range c.Plugs() {
		known = append(known, p.String())
	}
	return Plug{}, fmt.Errorf("unknown plug %q: this chain has %s", name, strings.Join(known, ", "))
}

// place of a plug along the path; the plug must exist.
func (c *Chain) place(p Plug) int { return plugPlace(c.linkIndex(p.Link), p.End) }

// Where says in words where a plug is: "the display end of c2, at scaler".
func (c *Chain) Where(p Plug) string {
	i := c.linkIndex(p.Link)
	if i < 0 {
		return p.String()
	}
	if p.End == SourceEnd {
		return fmt.Sprintf("the source end of %s, at %s", c.Links[i].title(), c.Stages[i].title())
	}
	return fmt.Sprintf("the display end of %s, at %s", c.Links[i].title(), c.Stages[i+1].title())
}

func (s Stage) title() string {
	if s.Name != "" {
		return s.Name
	}
	return s.ID
}

func (l Link) title() string {
	if l.Name != "" {
		return l.Name
	}
	return "cable " + l.ID
}

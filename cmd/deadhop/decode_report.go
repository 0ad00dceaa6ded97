package main

import (
	"fmt"
	"io"
	"strings"
	"unicode/utf8"

	"deadhop/chain"
	"deadhop/ddc"
	"deadhop/edid"
	"deadhop/edid/timing"
)

// edidReport is the JSON form of a decoded EDID.
type edidReport struct {
	Version  int                 `json:"version"`
	Source   string              `json:"source"`
	Bytes    int                 `json:"bytes"`
	SHA256   string              `json:"sha256"`
	Verdict  string              `json:"verdict"` // gravest severity, or "clean"
	Who      edidWho             `json:"who"`
	AsksFor  *timing.Timing      `json:"asks_for,omitempty"`
	Accepts  edidAccepts         `json:"accepts"`
	Issues   []edidIssue         `json:"issues"`
	ReadOver *chain.DownReadings `json:"port,omitempty"`
	Wire     []wireReport        `json:"wire,omitempty"`
	Unsure   string              `json:"unsure,omitempty"`

	decoded *edid.EDID
}

// wireReport is a sign of the DDC lines in the bytes that came over them.
type wireReport struct {
	Sign   string `json:"sign"`
	Detail string `json:"detail"`
	sign   ddc.WireSign
}

type edidWho struct {
	Maker       string `json:"maker"`
	Product     string `json:"product"`
	Serial      uint32 `json:"serial,omitempty"`
	Name        string `json:"name,omitempty"`
	SerialText  string `json:"serial_text,omitempty"`
	Made        string `json:"made,omitempty"`
	EDIDVersion string `json:"edid_version"`
}

type edidAccepts struct {
	Input   string       `json:"input"` // analog, DVI or HDMI as the source will take it
	Sound   []string     `json:"sound"`
	Formats []edidFormat `json:"formats"`
	Ranges  *edidRanges  `json:"ranges,omitempty"`
}

type edidFormat struct {
	Name     string        `json:"name"`
	Timing   timing.Timing `json:"timing"`
	Stated   []string      `json:"stated_in,omitempty"`
	Inferred bool          `json:"inferred"`
	Native   bool          `json:"native,omitempty"`
	Aspect   string        `json:"aspect,omitempty"`
	Chroma   string        `json:"chroma,omitempty"`
	TMDSHz   uint64        `json:"tmds_characters_per_second"` // at 8 bits a colour
}

type edidRanges struct {
	FieldHz     [2]uint16 `json:"field_rate_hz"`
	LineKHz     [2]uint16 `json:"line_rate_khz"`
	MaxClockMHz uint16    `json:"pixel_clock_max_mhz,omitempty"`
}

type edidIssue struct {
	Code     edid.IssueCode `json:"code"`
	Severity edid.Severity  `json:"severity"`
	Block    int            `json:"block"`
	Offset   int            `json:"offset"`
	Length   int            `json:"length"`
	Field    string         `json:"field,omitempty"`
	Sentence string         `json:"sentence"`
	Standard string         `json:"standard"`
}

func newEDIDReport(in input, e *edid.EDID) *edidReport {
	id := e.Identity()
	r := &edidReport{
		Version: 1, Source: in.name, Bytes: len(in.bytes), SHA256: hashOf(in.bytes), Verdict: "clean",
		Who: edidWho{
			Maker: id.Maker.String(), Product: fmt.Sprintf("%04X", id.Product), Serial: id.Serial,
			Name: id.Name, SerialText: id.SerialText, Made: e.Base.Made.String(), EDIDVersion: e.Base.Version.String(),
		},
		Accepts:  edidAccepts{Input: inputKind(e), Sound: soundOf(e), Formats: []edidFormat{}},
		Issues:   []edidIssue{},
		ReadOver: in.port, decoded: e,
	}
	if t, ok := e.Preferred(); ok {
		r.AsksFor = &t
	}
	if l := e.RangeLimits(); l != nil {
		r.Accepts.Ranges = &edidRanges{[2]uint16{l.MinVHz, l.MaxVHz}, [2]uint16{l.MinHKHz, l.MaxHKHz}, l.MaxClockMHz}
	}
	for _, f := range e.Formats() {
		r.Accepts.Formats = append(r.Accepts.Formats, newEDIDFormat(f))
	}
	if w, any := e.Worst(); any {
		r.Verdict = w.String()
	}
	for _, i := range e.Issues {
		r.Issues = append(r.Issues, edidIssue{i.Code, i.Severity, i.Block, i.Offset, i.Len, i.Field, i.Detail(), i.Spec()})
	}
	for _, f := range in.wire {
		r.Wire = append(r.Wire, wireReport{f.Sign.String(), f.Detail, f.Sign})
	}
	if in.unsure != nil {
		r.Unsure = in.unsure.Error()
	}
	return r
}

func newEDIDFormat(f edid.Format) edidFormat {
	r := edidFormat{
		Name:   fmt.Sprintf("%s@%s", f.Timing.Size(), f.Timing.FieldRate().InDecimals(1, 2)),
		Timing: f.Timing, Inferred: !f.Stated(), Native: f.Native, Aspect: f.Aspect,
		TMDSHz: f.TMDSRate(8, f.Chroma == edid.ChromaOnly420).Round(1),
	}
	if f.Chroma != edid.ChromaFull {
		r.Chroma = f.Chroma.String()
	}
	for _, p := range f.Places {
		r.Stated = append(r.Stated, fmt.Sprintf("block %d byte 0x%02X, %s", p.Block, p.Offset, p.Kind))
	}
	return r
}

// inputKind is what a source will take the display for.
func inputKind(e *edid.EDID) string {
	if !e.Base.Input.Digital() {
		return "analog"
	}
	for _, c := range e.CTAs() {
		for _, b := range c.Blocks {
			switch b.(type) {
			case *edid.HDMI, *edid.HDMIForum:
				return "HDMI"
			}
		}
	}
	if e.Base.Input.Interface() == edid.InterfaceDisplayPort {
		return "DisplayPort"
	}
	return "DVI"
}

func soundOf(e *edid.EDID) []string {
	sound := []string{}
	for _, c := range e.CTAs() {
		for _, b := range c.Blocks {
			audio, ok := b.(*edid.Audio)
			if !ok {
				continue
			}
			for _, s := range audio.SADs {
				var rates []string
				for _, hz := range s.RatesHz() {
					rates = append(rates, fmt.Sprintf("%g", float64(hz)/1000))
				}
				sound = append(sound, fmt.Sprintf("%s, %d channels, %s kHz", s.Format(), s.Channels(), strings.Join(rates, "/")))
			}
		}
	}
	return sound
}

// print answers in the order in which a technician asks: who answers, what
// does it ask for, what does it accept, what is wrong, what next.
func (r *edidReport) print(w io.Writer) {
	row := func(label string, lines ...string) {
		for _, l := range lines {
			fmt.Fprintf(w, "%-14s%s\n", label, l)
			label = ""
		}
	}
	row("Verdict", r.verdictWords())
	who := r.Who.Maker + " " + r.Who.Product
	if r.Who.Name != "" {
		who += fmt.Sprintf(" %q", r.Who.Name)
	}
	switch {
	case r.Who.SerialText != "":
		who += ", serial " + r.Who.SerialText
	case r.Who.Serial != 0:
		who += fmt.Sprintf(", serial %d", r.Who.Serial)
	default:
		who += ", no serial number"
	}
	if r.Who.Made != "" {
		who += ", " + r.Who.Made
	}
	row("Who answers", who, fmt.Sprintf("EDID %s, %d bytes, hash %s", r.Who.EDIDVersion, r.Bytes, r.SHA256[:12]))
	if r.AsksFor != nil {
		row("Asks for", r.AsksFor.String())
	} else {
		row("Asks for", "no timing of its own")
	}
	row("Accepts", r.acceptWords()...)
	if len(r.Issues) == 0 {
		row("Wrong", "nothing")
	}
	label := "Wrong"
	for _, i := range r.Issues {
		lines := wrap(fmt.Sprintf("%s: %s", i.Severity, i.Sentence), 64)
		lines = append(lines, fmt.Sprintf("  block %d, byte 0x%02X; %s; code %s", i.Block, i.Offset, i.Standard, i.Code))
		row(label, lines...)
		label = ""
	}
	for _, f := range r.Wire {
		row("The wire", wrap(f.Sign+": "+f.Detail, 64)...)
	}
	row("Next", wrap(r.next(), 64)...)
}

func (r *edidReport) verdictWords() string {
	switch r.Verdict {
	case "clean":
		return "clean: nothing is wrong with this EDID"
	case edid.BreaksPicture.String():
		return "damaged: sources are likely to send no picture, or the wrong one"
	case edid.BreaksSound.String():
		return "sources are likely to send no sound; the picture is not at risk"
	case edid.BreaksStandard.String():
		return "usable, though it breaks the standard in places"
	}
	return "usable; there are oddities below"
}

func (r *edidReport) acceptWords() []string {
	lines := []string{r.Accepts.Input}
	if len(r.Accepts.Sound) == 0 {
		lines[0] += ", no sound offered"
	}
	if g := r.Accepts.Ranges; g != nil {
		s := fmt.Sprintf("%d-%d Hz, %d-%d kHz a line", g.FieldHz[0], g.FieldHz[1], g.LineKHz[0], g.LineKHz[1])
		if g.MaxClockMHz > 0 {
			s += fmt.Sprintf(", pixel clock to %d MHz", g.MaxClockMHz)
		}
		lines = append(lines, s)
	}
	var stated, inferred []string
	seen := map[string]bool{}
	for _, f := range r.Accepts.Formats {
		if seen[f.Name] {
			continue
		}
		seen[f.Name] = true
		if f.Inferred {
			inferred = append(inferred, f.Name)
		} else {
			stated = append(stated, f.Name)
		}
	}
	if len(stated) > 0 {
		lines = append(lines, wrap(strings.Join(stated, ", "), 64)...)
	}
	if len(inferred) > 0 {
		lines = append(lines, wrap("by formula: "+strings.Join(inferred, ", "), 64)...)
	}
	for _, s := range r.Accepts.Sound {
		lines = append(lines, "sound: "+s)
	}
	return lines
}

// next is the one sentence of advice.
func (r *edidReport) next() string {
	damaged := r.Verdict == edid.BreaksPicture.String()
	for _, f := range r.Wire {
		switch f.sign {
		case ddc.AllOnes, ddc.StuckHigh, ddc.StuckLow:
			return "a data line that stays where it is, and not the store: look at pins 15 to 17 of both plugs, then try another cable"
		case ddc.AllZeros:
			return "pull the plug and read again: still 00 means a data line held low by the bench's own lead or port; no answer means that the unit holds it low, or that its store is blank"
		case ddc.BitShift, ddc.Rolled:
			return "the wire lost a clock or the offset, so the store may be whole: read again, and try a shorter cable"
		}
	}
	switch {
	case damaged && r.ReadOver != nil && r.ReadOver.Stable.State == chain.Measured && !r.ReadOver.Stable.Value:
		return "the bytes change from read to read, so the wire is bad and not the store: reseat the plug, try another cable, and read again"
	case damaged && r.ReadOver != nil && r.ReadOver.Stable.State == chain.Measured:
		return "the same bytes came every time, so the store holds them: save this dump, then compare with a known-good unit of the same model"
	case damaged:
		return "read it several times from the port itself: the same wrong bytes mean a bad store, changing bytes a bad wire"
	case r.Unsure != "":
		return "the read broke off (" + r.Unsure + "): read again, and look at the plug"
	case r.Verdict == edid.BreaksSound.String():
		return "if sound is missing in the unit, this is why; if the picture is missing, look elsewhere"
	}
	return "nothing to do here: the fault, if there is one, is not in this EDID"
}

// wrap breaks a text into lines of at most width characters where it can. A
// number is never parted from its per cent sign.
func wrap(text string, width int) []string {
	var words []string
	for _, w := range strings.Fields(text) {
		if strings.HasPrefix(w, "%") && len(words) > 0 {
			words[len(words)-1] += " " + w
			continue
		}
		words = append(words, w)
	}
	var lines []string
	line := ""
	for _, word := range words {
		switch {
		case line == "":
			line = word
		case utf8.RuneCountInString(line)+1+utf8.RuneCountInString(word) > width:
			lines = append(lines, line)
			line = word
		default:
			line += " " + word
		}
	}
	return append(lines, line)
}

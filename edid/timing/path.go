package timing

// Path is a picture's way through the equipment: source, link, scaler, panel.
type Path struct {
	// Source is what the source sends, measured or stated.
	Source   Timing
	ErrorPPM float64 // of the receiver that measured Source, 0 where stated
	Link     []Limits
	Input    []Limits // the scaler's input side, or none
	// Buffers is a scaler with a frame buffer: it re-times, so the panel sees
	// Output. A pass-through board hands the source's timing to the panel.
	Buffers bool
	Output  Timing
	Panel   []Limits
}

// Stretch is one timing of a path against the limits that it meets.
type Stretch struct {
	Name   string `json:"name"`
	Report Report `json:"report"`
}

// Fit judges the path: on a pass-through board the source's timing has to fit
// link, scaler and panel at once; behind a frame buffer the source's has to
// fit link and scaler, and the scaler's own output the panel.
func (p Path) Fit() []Stretch {
	in := append(append([]Limits(nil), p.Link...), p.Input...)
	if !p.Buffers {
		return []Stretch{{"source through to panel", Check(p.Source, p.ErrorPPM, append(in, p.Panel...)...)}}
	}
	return []Stretch{
		{"source to scaler", Check(p.Source, p.ErrorPPM, in...)},
		{"scaler to panel", Check(p.Output, 0, p.Panel...)},
	}
}

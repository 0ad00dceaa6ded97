package sim

import (
	"fmt"
	"time"

	"deadhop/edid/timing"
	"deadhop/edid/yamlfile"
)

// The file's form. Clocks are in kHz, capacitance in pF, resistance in ohms,
// voltages in volts.
type fileSpec struct {
	Name      string      `yaml:"name"`
	Seed      uint64      `yaml:"seed"`
	WireDelay string      `yaml:"wire_delay"` // Go duration, waited once a transaction; absent is none
	Bench     benchSpec   `yaml:"bench"`
	Stages    []stageSpec `yaml:"stages"`
	Links     []linkSpec  `yaml:"links"`
	Rails     []railSpec  `yaml:"rails"`
	Faults    []faultSpec `yaml:"faults"`
}

// benchSpec is the bench's own equipment and what is wrong with it.
type benchSpec struct {
	MaxClockKHz uint64    `yaml:"max_clock_khz"` // of the receiver; absent is 165000
	Cannot      []string  `yaml:"cannot"`        // readings that the ports cannot take
	Denied      bool      `yaml:"denied"`        // no permission on the out port's bus
	VanishAfter int       `yaml:"vanish_after"`  // the out port is gone after so many transactions
	Presents    *edidSpec `yaml:"presents"`      // EDID shown from the start; absent is none
}

type stageSpec struct {
	ID   string `yaml:"id"`
	Kind string `yaml:"kind"` // source, switch, extender, scaler, panel

	// A source.
	Fallback       *timingSpec `yaml:"fallback"`         // sent when no EDID can be read; absent is VIC 1
	Mode           *timingSpec `yaml:"mode"`             // sent always; absent obeys the EDID
	IgnoresHotPlug bool        `yaml:"ignores_hot_plug"` // sends with hot-plug low too
	MaxClockKHz    uint64      `yaml:"max_clock_khz"`    // absent is 165000

	// What is done with the return path. DDC: passes, buffers, answers.
	// Hot-plug: passes (from downstream), wired (1 kilohm from pin 18),
	// driven (by the running board). Five volts on the output: own, passes.
	DDC       string    `yaml:"ddc"`
	HotPlug   string    `yaml:"hot_plug"`
	FiveVolts string    `yaml:"five_volts"`
	EDID      *edidSpec `yaml:"edid"`
	EDIDFedBy string    `yaml:"edid_fed_by"` // pin18 or either (pin 18 or the board)

	// A scaler or a panel.
	Accepts *limitSpec  `yaml:"accepts"`
	Video   string      `yaml:"video"`  // retimes or passes
	Native  *timingSpec `yaml:"native"` // a retiming scaler's output
}

type limitSpec struct {
	MaxClockKHz uint64    `yaml:"max_clock_khz"`
	LineKHz     []float64 `yaml:"line_khz"` // least and most
	FieldHz     []float64 `yaml:"field_hz"`
}

type linkSpec struct {
	ID         string  `yaml:"id"`
	From       string  `yaml:"from"`
	To         string  `yaml:"to"`
	Kind       string  `yaml:"kind"`       // hdmi or panel
	Picofarads float64 `yaml:"picofarads"` // of each DDC wire; absent is 150
}

type railSpec struct {
	ID    string   `yaml:"id"`
	Volts float64  `yaml:"volts"`
	Feeds []string `yaml:"feeds"`
}

type faultSpec struct {
	Part     string      `yaml:"part"`
	Kind     string      `yaml:"kind"`
	Chance   *float64    `yaml:"chance"` // that it shows after a touch; absent is 1
	Pair     string      `yaml:"pair"`   // red, green, blue, clock; absent is all of them
	Wires    []string    `yaml:"wires"`
	Ohms     float64     `yaml:"ohms"`
	AboveKHz uint64      `yaml:"above_khz"` // a lossy pair errs above this character rate
	Lane     *int        `yaml:"lane"`      // of a panel link, 0 to 3
	Mode     *timingSpec `yaml:"mode"`
	EDID     *edidSpec   `yaml:"edid"`
	Bytes    []byteSpec  `yaml:"bytes"`
	Half     string      `yaml:"half"`     // of a contact: plug, on the cable (if absent), or socket, on the board
	CuredBy  []string    `yaml:"cured_by"` // absent is the usual repair for the kind
}

type byteSpec struct {
	At int `yaml:"at"`
	Is int `yaml:"is"`
}

// timingSpec names a published timing or gives one in full.
type timingSpec struct {
	VIC      int      `yaml:"vic"`
	DMT      int      `yaml:"dmt"`
	ClockKHz uint64   `yaml:"clock_khz"`
	H        []uint32 `yaml:"h"` // active, front porch, sync, back porch
	V        []uint32 `yaml:"v"`
	Positive []string `yaml:"positive"` // h, v
}

func (s *timingSpec) timing() (timing.Timing, error) {
	given := 0
	for _, is := range []bool{s.VIC != 0, s.DMT != 0, s.ClockKHz != 0} {
		if is {
			given++
		}
	}
	if given != 1 {
		return timing.Timing{}, fmt.Errorf("a timing is one of vic, dmt, or clock_khz with h and v")
	}
	if s.ClockKHz == 0 && (s.H != nil || s.V != nil || s.Positive != nil) {
		return timing.Timing{}, fmt.Errorf("h, v and positive belong to clock_khz")
	}
	switch {
	case s.VIC != 0:
		if s.VIC > 0 && s.VIC < 256 {
			if std, ok := timing.VIC(uint8(s.VIC)); ok {
				return std.Timing, nil
			}
		}
		return timing.Timing{}, fmt.Errorf("CTA-861 has no VIC %d", s.VIC)
	case s.DMT != 0:
		if s.DMT > 0 && s.DMT < 256 {
			if std, ok := timing.DMT(uint8(s.DMT)); ok {
				return std.Timing, nil
			}
		}
		return timing.Timing{}, fmt.Errorf("VESA DMT has no id 0x%02X", s.DMT)
	}
	if len(s.H) != 4 || len(s.V) != 4 {
		return timing.Timing{}, fmt.Errorf("h and v are four numbers each: active, front porch, sync, back porch")
	}
	t := timing.Timing{
		PixelClock: timing.KHz(s.ClockKHz), Repeat: 1,
		H: timing.Axis{Active: s.H[0], Front: s.H[1], Sync: s.H[2], Back: s.H[3]},
		V: timing.Axis{Active: s.V[0], Front: s.V[1], Sync: s.V[2], Back: s.V[3]},
	}
	for _, p := range s.Positive {
		switch p {
		case "h":
			t.H.Positive = true
		case "v":
			t.V.Positive = true
		default:
			return t, fmt.Errorf("positive lists h and v, not %q", p)
		}
	}
	if err := t.Validate(); err != nil {
		return t, err
	}
	return t, nil
}

// Load reads a simulated bench from YAML. name stands in errors, and EDID
// files are looked for beside it. Errors are *[yamlfile.Error] with line and
// column, or several of them joined.
func Load(name string, data []byte) (*Bench, error) {
	var s fileSpec
	f, err := yamlfile.Decode(name, data, &s)
	if err != nil {
		return nil, err
	}
	eq, err := s.build(name, f)
	if err != nil {
		return nil, err
	}
	b := &Bench{eq: eq, counts: map[string]uint64{}}
	b.presented = eq.bench.presents
	b.disturb()
	return b, nil
}

func (s *fileSpec) wireDelay() (time.Duration, error) {
	if s.WireDelay == "" {
		return 0, nil
	}
	d, err := time.ParseDuration(s.WireDelay)
	if err == nil && (d < 0 || d > time.Second) {
		err = fmt.Errorf("out of the range from 0s to 1s")
	}
	if err != nil {
		return 0, fmt.Errorf("wire_delay %q is no duration such as 25ms: %v", s.WireDelay, err)
	}
	return d, nil
}

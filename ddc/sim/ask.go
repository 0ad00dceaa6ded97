package sim

import (
	"fmt"
	"math"
)

// Question is something that a person finds out without the bench.
type Question string

// The questions, what they are about, and which field of the Answer counts.
const (
	IndicatorsLit Question = "indicators-lit"       // of a stage, or of any where none is named; Yes
	SupplyVolts   Question = "supply-volts"         // of a rail, "rail:main"; Volts, and Yes within 10 percent
	MenuVisible   Question = "menu-visible"         // the scaler's own menu on the screen; Yes, Screen
	BacklightOn   Question = "backlight-on"         // Yes
	FaintPicture  Question = "faint-picture"        // by torch, where there is no light; Yes, Screen
	OwnScreen     Question = "own-screen"           // what the equipment's screen shows; Screen
	OwnSound      Question = "own-sound"            // the equipment's loudspeaker; Yes
	GoodDisplay   Question = "good-display-picture" // a known-good display at a plug; Yes, Screen
	WiggleSpotted Question = "wiggle-reproduces"    // moving a plug or cable brings the fault; Yes
)

// Answer is what the person found.
type Answer struct {
	Yes    bool
	Volts  float64
	Screen Screen // what is seen, "" where nothing is looked at
}

// Ask lets a person look. Questions about the whole equipment are answered
// with the chain closed. A known-good display is brought to a plug with a
// proven cable and its input selected; target is that plug.
func (b *Bench) Ask(q Question, target string) (Answer, error) {
	b.mu.Lock()
	defer b.mu.Unlock()
	w := b.world
	switch q {
	case IndicatorsLit:
		return b.indicators(target)
	case SupplyVolts:
		p, err := b.eq.parsePart(target)
		if err != nil || p.kind != railPart {
			return Answer{}, fmt.Errorf("ask %s: %q is no rail", q, target)
		}
		v, want := w.volts(p.index), b.eq.rails[p.index].volts
		return Answer{Volts: v, Yes: math.Abs(v-want) <= 0.1*want}, nil
	case MenuVisible:
		seen, lit := w.ownScreen(true)
		return Answer{Yes: lit && seen == ScreenMessage, Screen: lightOr(seen, lit)}, nil
	case BacklightOn:
		_, lit := w.ownScreen(false)
		return Answer{Yes: lit}, nil
	case FaintPicture:
		seen, lit := w.ownScreen(false)
		return Answer{Yes: !lit && seen != ScreenBlack && seen != ScreenWhite && seen != ScreenDark, Screen: seen}, nil
	case OwnScreen:
		seen, lit := w.ownScreen(false)
		return Answer{Yes: lit && seen == ScreenPicture, Screen: lightOr(seen, lit)}, nil
	case OwnSound:
		return Answer{Yes: w.soundOut()}, nil
	case GoodDisplay:
		return b.goodDisplay(target)
	case WiggleSpotted:
		return b.loose(q, target)
	}
	return Answer{}, fmt.Errorf("ask: unknown question %q", q)
}

func lightOr(seen Screen, lit bool) Screen {
	if !lit {
		return ScreenDark
	}
	return seen
}

func (b *Bench) indicators(target string) (Answer, error) {
	if target == "" {
		var a Answer
		for i := range b.world.boards {
			a.Yes = a.Yes || b.world.powered(i)
		}
		return a, nil
	}
	i := b.eq.stage(target)
	if i < 0 {
		return Answer{}, fmt.Errorf("ask %s: there is no stage %q", IndicatorsLit, target)
	}
	return Answer{Yes: b.world.powered(i)}, nil
}

// goodDisplayEDID is the known-good display: 1080p with sound, which also
// takes all that its 165 MHz allow.
var goodDisplayEDID = builtEDID{Maker: "XQZ", Product: 1, Name: "GOOD DISPLAY", Timing: timingSpec{VIC: 16}, HDMI: true, Sound: true}

func (b *Bench) goodDisplay(target string) (Answer, error) {
	p, err := b.eq.parsePlug(target)
	if err != nil || b.eq.links[p.index].kind != "hdmi" {
		return Answer{}, fmt.Errorf("ask %s: %q is no HDMI plug; they are %v", GoodDisplay, target, b.Plugs())
	}
	edid, err := goodDisplayEDID.bytes()
	if err != nil {
		return Answer{}, err
	}
	// A proven cable: the bench's lead plays no part.
	w := *b.world
	w.lead = run{}
	a := w.upTo(p, &benchDisplay{store: newStore(edid)})
	_, r := a.watch((&limitSpec{MaxClockKHz: defaultMaxKHz}).fits)
	seen := shown(r)
	return Answer{Yes: seen == ScreenPicture, Screen: seen}, nil
}

// loose tells whether something on the target comes and goes when it is
// moved. No target asks for the whole equipment.
func (b *Bench) loose(q Question, target string) (Answer, error) {
	var at part
	if target != "" {
		var err error
		if at, err = b.eq.parsePart(target); err != nil {
			return Answer{}, fmt.Errorf("ask %s: %w", q, err)
		}
	}
	var a Answer
	for i, f := range b.eq.faults {
		moves := f.part.kind == plugPart || (f.part.kind == linkPart || f.part.kind == leadPart) && f.chance < 1
		if !b.cured[i] && moves && (target == "" || b.eq.reaches(at, Reseat, f.part)) {
			a.Yes = true
		}
	}
	return a, nil
}

package chain

// A rung is one thing that can fail in what is seen at a plug or checked by
// hand. The rungs of a direction form ladders: what fails above decides what
// can be seen below, so that one fault is counted once.
type rung uint8

const (
	// Looking up.
	upPower   rung = iota // no +5 V on pin 18
	upNone                // nothing on the TMDS lines
	upNoLock              // activity without a lock
	upRange               // locked, beyond the receiver
	upOutside             // timing breaks a limit
	upOther               // timing inside the limits, yet another one
	upBlack               // black picture
	upColour              // one colour
	upFrozen              // frozen
	upNoise               // sparkles
	upLane                // red, green or blue missing
	upSilent              // no sound
	downPower             // the bench's +5 V does not arrive (seen by its effects)
	downPlug              // hot-plug low
	downAck               // no acknowledge at the EDID address
	downBus               // repeated reads differ
	downSum               // a checksum is wrong, always in the same way
	downID                // another EDID than the expected one
	downSense             // no termination on the TMDS lines
	// By hand. Each is asked of one place or of the whole unit.
	handIndicator // a stage's indicators are dark
	handSupply    // a rail is outside its limits at the board
	handLight     // the backlight is dark
	handTorch     // a faint picture shows by torch
	handMenu      // the scaler's menu does not show
	handLines     // fixed or stationary lines on the unit's own screen
	handWhite     // the unit's own screen is white or grey
	handSilent    // no sound from the unit's own speaker
	handScreen    // the unit's own screen is bad for a reason that no other rung tells
	handWiggle    // moving it brings the trouble on
	handCold      // fails cold, works warm
	handWarm      // works cold, fails warm
	handMoved     // trouble began after the unit was moved
	rungCount
)

// rungNames are the catalogue's words, section by section.
var rungNames = [rungCount]struct{ section, key string }{
	upPower: {"up", "no_power_5v"}, upNone: {"up", "no_signal"}, upNoLock: {"up", "no_lock"},
	upRange: {"up", "out_of_range"}, upOutside: {"up", "timing_outside"}, upOther: {"up", "timing_other"},
	upBlack: {"up", "black"}, upColour: {"up", "one_colour"}, upFrozen: {"up", "frozen"},
	upNoise: {"up", "noise"}, upLane: {"up", "lane_missing"}, upSilent: {"up", "no_sound"},
	downPower: {"down", "power_5v_lost"}, downPlug: {"down", "hot_plug_low"}, downAck: {"down", "no_acknowledge"},
	downBus: {"down", "reads_differ"}, downSum: {"down", "checksum_wrong"}, downID: {"down", "identity_wrong"},
	downSense:     {"down", "no_termination"},
	handIndicator: {"hand", "indicators_dark"}, handSupply: {"hand", "supply_out"}, handLight: {"hand", "backlight_dark"},
	handTorch: {"hand", "faint_by_torch"}, handMenu: {"hand", "menu_missing"}, handLines: {"hand", "lines"},
	handWhite: {"hand", "white"}, handSilent: {"hand", "sound_missing"}, handScreen: {"hand", "screen_bad"}, handWiggle: {"hand", "wiggle"}, handCold: {"hand", "fails_cold"},
	handWarm: {"hand", "fails_warm"}, handMoved: {"hand", "moved"},
}

func rungByName(section, key string) (rung, bool) {
	for r, n := range rungNames {
		if n.section == section && n.key == key {
			return rung(r), true
		}
	}
	return 0, false
}

func (r rung) String() string { return rungNames[r].section + "." + rungNames[r].key }

// seen is what became of a rung in one observation.
type seen uint8

const (
	unseen seen = iota // not tried, could not measure, or hidden behind an upper rung
	passed
	failed
)

// observation is one look or check as the inference takes it.
type observation struct {
	rungs [rungCount]seen
	// picture alone was seen, by a receiver that tells no lock: anyGood and
	// anyBad then speak for the whole forward ladder.
	whole   seen
	upTo    int // looking up: parts before this place are in view; -1 for none
	downOf  int // looking down: parts after this place are in view; -1 for none
	at      int // place of the plug that was opened, or that a check was made at; -1 for the whole unit
	rail    int // rail that was measured; -1 for none
	lead    bool
	speaker seen // the unit's own speaker
	works   seen // the unit as a whole, on its own screen
	epoch   int
	leak    float64 // extra chance of a bad forward reading from conditions that were not met
	noPower bool    // looking down without +5 V on the bench's side
	ends    [3]int  // looking down: last place that hot-plug, DDC and termination reach
}

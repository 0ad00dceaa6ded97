package sim

// wire is one conductor or pair of an HDMI cable. HDMI 1.4b section 4.1.3.
type wire uint8

const (
	clockPair wire = iota
	bluePair       // data 0, carries the syncs too
	greenPair      // data 1
	redPair        // data 2
	scl
	sda
	ground // DDC and hot-plug ground, pin 17
	fiveVolts
	hotPlug
	wireCount
)

var wireNames = map[string]wire{
	"clock": clockPair, "blue": bluePair, "green": greenPair, "red": redPair,
	"scl": scl, "sda": sda, "ground": ground, "five-volts": fiveVolts, "hot-plug": hotPlug,
}

// run is a row of conductors from one socket to the next: plugs, cable and
// the bench's lead, taken together.
type run struct {
	open       [wireCount]bool
	ohms       [wireCount]float64
	aboveKHz   [wireCount]uint64 // a pair errs above this character rate; 0 is never
	picofarads float64
}

// then is this run followed by another one.
func (r run) then(s run) run {
	for w := range wireCount {
		r.open[w] = r.open[w] || s.open[w]
		r.ohms[w] += s.ohms[w]
		switch a, b := r.aboveKHz[w], s.aboveKHz[w]; {
		case a == 0:
			r.aboveKHz[w] = b
		case b != 0:
			r.aboveKHz[w] = min(a, b)
		}
	}
	r.picofarads += s.picofarads
	return r
}

// panelRun is a panel cable: LVDS lanes, the panel's supply, the wires to the
// backlight.
type panelRun struct {
	laneOpen  [4]bool
	clockOpen bool
	vddOpen   bool
	lightOpen bool
}

// riseTime is the time in ns in which a line rises from 30 to 70 percent
// through a pull-up: 0.8473 RC, the charging curve of NXP UM10204 section
// 7.1.
func riseTime(ohms, picofarads float64) float64 { return 0.8473 * ohms * picofarads / 1000 }

// parallel is the resistance of two resistors side by side.
func parallel(a, b float64) float64 { return a * b / (a + b) }

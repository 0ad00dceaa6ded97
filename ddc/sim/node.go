package sim

import "deadhop/edid/timing"

// An assembly is what is joined together at one moment: a row of boards with
// a run of conductors between each two. The bench, where it is put in, is
// one of the boards. Signals are worked out in three sweeps, in the order of
// cause: +5 V towards the panel, then hot-plug, termination and DDC back
// towards the source, then the video towards the panel.
type assembly struct {
	nodes []node
	runs  []run // runs[i] joins nodes[i] to nodes[i+1]
}

// node is a board as its neighbours see it.
type node interface {
	// feed is the voltage that the output socket puts on pin 18, when the
	// input socket has in volts on its own.
	feed(in float64) float64
	// draw is the current in A drawn from pin 18 of the input socket. A
	// short is math.Inf.
	draw() float64
	// reply is what the input socket shows to the board before it.
	reply(in float64, down reply) reply
	// video is what leaves the output socket.
	video(in video, down reply) video
}

// reply is what comes back along a cable.
type reply struct {
	hotPlug     float64 // volts on pin 19
	termination bool    // 50 ohm to 3.3 V on the clock pair
	ddc         ddcLine
}

// ddcLine is the DDC pair as a master at this place has it.
type ddcLine struct {
	store      *store
	sclLow     bool // held low, somewhere
	sdaLow     bool
	picofarads float64
	noisy      bool // its ground is broken: bits go wrong
}

// video is the TMDS signal at one place.
type video struct {
	timing   timing.Timing
	pairs    [4]pairState // by wire: clockPair to redPair
	hdmi     bool         // data islands, not DVI
	sound    bool
	content  content
	unsteady bool // the clock jumps
}

type pairState uint8

const (
	pairDead pairState = iota
	pairClean
	pairNoisy
)

type content uint8

const (
	contentPicture content = iota
	contentBlack
	contentFrozen
)

// The voltages and resistances that the boards share.
const (
	pin18Volts     = 5.0     // HDMI 1.4b section 4.2.7: 4.8 to 5.3 V at the source
	sinkNeeds      = 4.0     // below it a sink takes the source for absent; estimate, the standard grants it 4.7 V
	hotPlugHigh    = 2.0     // what a source takes for high, HDMI 1.4b section 4.2.9, from memory
	hotPlugOhms    = 1000.0  // from pin 18 to pin 19 in a sink, HDMI 1.4b section 4.2.9
	hotPlugPull    = 100e3   // pull-down in a source; common practice
	storeNeeds     = 2.5     // supply of an EEPROM, common practice
	idleDraw       = 0.010   // A from pin 18 by a powered sink, HDMI 1.4b section 4.2.7
	darkDraw       = 0.050   // A by an unpowered one, same clause
	sourcePullUp   = 1800.0  // ohms, 1.5 to 2.0 kilohm, HDMI 1.4b section 4.2.8
	sinkPullUp     = 47000.0 // ohms on SCL, same clause
	boardPicofarad = 50.0    // at each end, same clause
)

// state is everything that was worked out for an assembly.
type state struct {
	pin18 []float64 // volts at each node's input
	back  []reply   // what each node sees coming back at its output
	in    []video   // video at each node's input
	out   []video   // video at each node's output
}

func (a *assembly) solve() state {
	n := len(a.nodes)
	s := state{make([]float64, n), make([]reply, n), make([]video, n), make([]video, n)}
	for i := range a.nodes[1:] {
		s.pin18[i+1] = a.runs[i].carryFeed(a.nodes[i].feed(s.pin18[i]), a.nodes[i+1].draw())
	}
	for i := n - 1; i > 0; i-- {
		s.back[i-1] = a.runs[i-1].carryReply(a.nodes[i].reply(s.pin18[i], s.back[i]))
	}
	s.out[0] = a.nodes[0].video(video{}, s.back[0])
	for i := 1; i < n; i++ {
		s.in[i] = a.runs[i-1].carryVideo(s.out[i-1])
		s.out[i] = a.nodes[i].video(s.in[i], s.back[i])
	}
	return s
}

func (r run) carryFeed(volts, amperes float64) float64 {
	// A shorted load trips the source's limiter wherever the short is, if
	// the wire to it is whole.
	if r.open[fiveVolts] || r.open[ground] && amperes > 1 || amperes > 1 {
		return 0
	}
	return max(0, volts-amperes*r.ohms[fiveVolts])
}

func (r run) carryReply(b reply) reply {
	if r.open[hotPlug] {
		b.hotPlug = 0
	}
	// The wire's and the sink's resistance stand against the pull-down.
	b.hotPlug *= hotPlugPull / (hotPlugPull + r.ohms[hotPlug])
	b.termination = b.termination && !r.open[clockPair]
	if r.open[scl] || r.open[sda] {
		b.ddc.store = nil
	}
	if r.open[scl] {
		b.ddc.sclLow = false
	}
	if r.open[sda] {
		b.ddc.sdaLow = false
	}
	b.ddc.noisy = b.ddc.noisy || r.open[ground]
	b.ddc.picofarads += r.picofarads
	return b
}

func (r run) carryVideo(v video) video {
	rate := v.timing.PixelClock.Float() / 1000 // 8 bits a colour: one character a pixel, HDMI 1.4b section 6.5
	for w := clockPair; w <= redPair; w++ {
		switch {
		case r.open[w]:
			v.pairs[w] = pairDead
		case r.aboveKHz[w] != 0 && rate > float64(r.aboveKHz[w]) && v.pairs[w] == pairClean:
			v.pairs[w] = pairNoisy
		}
	}
	return v
}

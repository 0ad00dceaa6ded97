package sim

import (
	"math"

	"deadhop/ddc"
	"deadhop/edid/timing"
)

// outputStage is a driver of an HDMI output socket.
type outputStage struct {
	dead        [4]bool // pairs that the driver no longer drives
	limiterOpen bool    // pin 18 is not fed
	noPullUp    bool    // DDC lacks its source-side pull-ups
}

func (o *outputStage) drive(v video) video {
	for w := range v.pairs {
		if o.dead[w] {
			v.pairs[w] = pairDead
		}
	}
	return v
}

func (o *outputStage) pullUp() float64 {
	if o.noPullUp {
		return sinkPullUp
	}
	return parallel(sourcePullUp, sinkPullUp)
}

// sourceBoard makes the picture.
type sourceBoard struct {
	*board
	outputStage
	running bool
	content content
	luck    func() noise // of its one read after a touch, the same each time it is worked out
}

func (s *sourceBoard) feed(float64) float64 {
	if !s.running || s.limiterOpen {
		return 0
	}
	return pin18Volts
}

func (s *sourceBoard) draw() float64              { return 0 }
func (s *sourceBoard) reply(float64, reply) reply { return reply{} }

func (s *sourceBoard) video(_ video, down reply) video {
	if !s.running || down.hotPlug < hotPlugHigh && !s.ignoresHotPlug {
		return video{}
	}
	v := video{pairs: [4]pairState{pairClean, pairClean, pairClean, pairClean}, content: s.content, timing: s.fallback}
	// The limiter feeds the pull-ups as well, so without it the bus is dead.
	if e := s.readEDID(down.ddc); e != nil && !s.limiterOpen {
		sink := sinkView(e)
		v.hdmi, v.sound = sink.hdmi, sink.hdmi && sink.sound
		if sink.ok && sink.preferred.PixelClock.Cmp(s.maxClock) <= 0 {
			v.timing = sink.preferred
		}
	}
	if s.mode != nil {
		v.timing = *s.mode
	}
	return s.drive(v)
}

// repeater is a switch or an extender.
type repeater struct {
	*board
	outputStage
	powered     bool
	store       *store // its own EDID, where it answers
	shorted     bool   // pin 18 of its input to ground
	portDead    bool
	ddcDead     bool
	hotPlugDead bool
	sclLow      bool
	sdaLow      bool
	jumpy       bool
}

func (p *repeater) feed(in float64) float64 {
	switch {
	case p.limiterOpen || p.portDead:
		return 0
	case p.fiveVolts == "passes":
		return in
	case p.powered:
		return pin18Volts
	}
	return 0
}

func (p *repeater) draw() float64 { return pinDraw(p.shorted, p.powered) }

func pinDraw(shorted, powered bool) float64 {
	switch {
	case shorted:
		return math.Inf(1)
	case powered:
		return idleDraw
	}
	return darkDraw
}

func (p *repeater) reply(in float64, down reply) reply {
	if p.portDead {
		return reply{}
	}
	r := reply{termination: p.powered}
	switch {
	case p.hotPlugDead:
	case p.hotPlug == "wired":
		r.hotPlug = wiredHotPlug(in)
	case p.hotPlug == "driven" && p.powered && in >= sinkNeeds:
		r.hotPlug = wiredHotPlug(pin18Volts)
	case p.hotPlug == "passes" && p.powered && in >= sinkNeeds && down.hotPlug >= hotPlugHigh:
		r.hotPlug = wiredHotPlug(pin18Volts)
	}
	switch {
	case p.ddcDead:
	case p.store != nil:
		if in >= storeNeeds || p.edidFedByBoard && p.powered {
			r.ddc.store = p.store
		}
	case p.ddc == "passes" && p.powered:
		// An analog switch joins the wires, so the capacitance adds up.
		r.ddc = down.ddc
	case p.ddc == "buffers" && p.powered && in >= sinkNeeds && down.hotPlug >= hotPlugHigh:
		// A buffer has a bus of its own on each side. Some wake only with
		// +5 V and a hot-plug that is high.
		r.ddc = down.ddc
		r.ddc.picofarads = 0
		switch rise := riseTime(p.pullUp(), down.ddc.picofarads+boardPicofarad); {
		case rise > deafRise:
			r.ddc.store = nil // nothing beyond the buffer hears it
		case rise > slowRise:
			r.ddc.noisy = true
		}
	}
	r.ddc.picofarads += boardPicofarad
	r.ddc.sclLow = r.ddc.sclLow || p.sclLow
	r.ddc.sdaLow = r.ddc.sdaLow || p.sdaLow
	r.ddc.noisy = r.ddc.noisy || p.jumpy && !p.ddcDead
	return r
}

// wiredHotPlug is the voltage behind the sink's resistor from pin 18, loaded
// by the source's pull-down.
func wiredHotPlug(volts float64) float64 { return volts * hotPlugPull / (hotPlugPull + hotPlugOhms) }

func (p *repeater) video(in video, _ reply) video {
	if !p.powered || p.portDead || in.timing.PixelClock.Cmp(p.maxClock) > 0 {
		return video{}
	}
	in.unsteady = in.unsteady || p.jumpy
	return p.drive(in)
}

// scalerBoard takes HDMI and drives the panel; what the panel gets is worked
// out in screen.go.
type scalerBoard struct {
	*board
	powered     bool
	store       *store
	storeDead   bool
	shorted     bool
	inputDead   bool
	hotPlugDead bool
	sclLow      bool
	sdaLow      bool
	wrongTable  bool
	outputDead  bool
	muted       bool
}

func (s *scalerBoard) feed(float64) float64     { return 0 }
func (s *scalerBoard) draw() float64            { return pinDraw(s.shorted, s.powered) }
func (s *scalerBoard) video(video, reply) video { return video{} }
func (s *scalerBoard) reply(in float64, _ reply) reply {
	r := reply{termination: s.powered && !s.inputDead}
	switch {
	case s.hotPlugDead:
	case s.hotPlug == "wired":
		r.hotPlug = wiredHotPlug(in)
	case s.powered && in >= sinkNeeds:
		r.hotPlug = wiredHotPlug(pin18Volts)
	}
	if !s.storeDead && (in >= storeNeeds || s.edidFedByBoard && s.powered) {
		r.ddc.store = s.store
	}
	r.ddc.picofarads = boardPicofarad
	r.ddc.sclLow, r.ddc.sdaLow = s.sclLow, s.sdaLow
	return r
}

// benchDisplay is the bench's receiver, or a known-good display: it shows an
// EDID and raises hot-plug with it.
type benchDisplay struct {
	store *store // nil: withdrawn
}

func (d *benchDisplay) feed(float64) float64     { return 0 }
func (d *benchDisplay) draw() float64            { return idleDraw }
func (d *benchDisplay) video(video, reply) video { return video{} }
func (d *benchDisplay) reply(in float64, _ reply) reply {
	r := reply{termination: true, ddc: ddcLine{picofarads: boardPicofarad}}
	if d.store != nil {
		if in >= sinkNeeds {
			r.hotPlug = wiredHotPlug(in)
		}
		r.ddc.store = d.store
	}
	return r
}

// benchSource is the bench's output: it feeds pin 18 and asks over DDC.
type benchSource struct{}

func (benchSource) feed(float64) float64       { return pin18Volts }
func (benchSource) draw() float64              { return 0 }
func (benchSource) reply(float64, reply) reply { return reply{} }
func (benchSource) video(video, reply) video   { return video{} }

// reception is what a receiver makes of a TMDS signal.
type reception struct {
	signal  ddc.Signal
	timing  timing.Timing
	picture ddc.PictureKind
	sound   bool
}

// receive judges a signal by the three tasks of a receiver: find the clock,
// align the channels on the control characters of channel 0, and check the
// format against what it can take. Sound rides in data islands, whose
// payload needs channels 1 and 2. HDMI 1.4b sections 5.2.3 and 5.4.2.
func receive(v video, fits func(timing.Timing) bool) reception {
	switch {
	case v.pairs[clockPair] == pairDead:
		return reception{signal: ddc.NoSignal}
	case v.pairs[clockPair] == pairNoisy, v.pairs[bluePair] != pairClean, v.unsteady:
		return reception{signal: ddc.NoLock}
	case !fits(v.timing):
		return reception{signal: ddc.OutOfRange, timing: v.timing}
	}
	r := reception{signal: ddc.Locked, timing: v.timing, sound: v.sound, picture: ddc.PicturePlausible}
	switch v.content {
	case contentBlack:
		r.picture = ddc.PictureBlack
	case contentFrozen:
		r.picture = ddc.PictureFrozen
	}
	green, red := v.pairs[greenPair], v.pairs[redPair]
	switch {
	case green == pairDead || red == pairDead:
		r.sound = false
		if r.picture != ddc.PictureBlack { // what is black misses no colour
			r.picture = ddc.PictureLaneMissing
		}
	case green == pairNoisy || red == pairNoisy:
		r.sound, r.picture = false, ddc.PictureNoise
	}
	return r
}

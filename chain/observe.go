package chain

import "strings"

func newObservation(epoch int) *observation {
	return &observation{upTo: -1, downOf: -1, at: -1, rail: -1, epoch: epoch}
}

// set notes a measured rung: good passes it, bad fails it.
func (o *observation) set(r rung, good bool) {
	o.rungs[r] = failed
	if good {
		o.rungs[r] = passed
	}
}

// observeLook turns a look into rungs. Only what was measured counts, and
// what an upper rung hides stays unseen.
func (c *Chain) observeLook(l *Look) *observation {
	p, _ := c.Plug(l.Plug)
	o := newObservation(l.Epoch)
	o.at, o.lead = c.place(p), true
	if l.Facing == Up {
		c.observeUp(o, p, l)
	} else {
		c.observeDown(o, p, l)
	}
	return o
}

func (c *Chain) observeUp(o *observation, p Plug, l *Look) {
	u := l.Up
	o.upTo = o.at
	if u.Power5V.State == Measured {
		o.set(upPower, u.Power5V.Value)
	}
	switch {
	case u.Signal.State != Measured:
		// A video-class stick gives pictures and no lock.
		if u.Picture.State == Measured {
			o.whole = failed
			if u.Picture.Value == PictureGood {
				o.whole = passed
			}
		}
		return
	case u.Signal.Value == SignalNone:
		// A source that was shown no hot-plug may rightly send nothing.
		if !Is(l.Presented.HotPlug, false) {
			o.set(upNone, false)
		}
		return
	case u.Signal.Value == SignalNoLock:
		o.set(upNone, true)
		o.set(upNoLock, false)
		return
	}
	o.set(upNone, true)
	o.set(upNoLock, true)
	o.set(upRange, u.Signal.Value != SignalOutOfRange)
	if u.Signal.Value == SignalOutOfRange {
		return
	}
	if u.Timing.State == Measured {
		v, _ := c.Expected(p).judge(u.Timing.Value)
		// A source that read another EDID than the panel's may rightly
		// send another timing.
		free := v != timingRight && c.benchAnswers(p) && c.presentedOther(p, l)
		if v != timingUnknown && !free {
			o.set(upOutside, v != timingOutside)
			if v != timingOutside {
				o.set(upOther, v == timingRight)
			}
		}
	}
	if u.Picture.State == Measured {
		for _, k := range []struct {
			r rung
			p Picture
		}{{upBlack, PictureBlack}, {upColour, PictureOneColour}, {upFrozen, PictureFrozen}, {upNoise, PictureNoise}, {upLane, PictureLaneGone}} {
			o.set(k.r, u.Picture.Value != k.p)
			if u.Picture.Value == k.p {
				break
			}
		}
	}
	if u.Sound.State == Measured && c.soundExpected() {
		o.set(upSilent, u.Sound.Value)
	}
}

func (c *Chain) soundExpected() bool {
	for _, e := range c.Expect {
		if Is(e.Sound, true) {
			return true
		}
	}
	return false
}

// benchAnswers reports whether the source, looking for an EDID, reaches the
// bench at this plug: no stage before it answers.
func (c *Chain) benchAnswers(p Plug) bool {
	for i := 1; i <= c.linkIndex(p.Link); i++ {
		if c.Stages[i].DDC == Answers {
			return false
		}
	}
	return true
}

func (c *Chain) presentedOther(p Plug, l *Look) bool {
	want := c.ExpectedEDID(p)
	return l.Presented.EDIDSHA256.State == Measured && want != "" && l.Presented.EDIDSHA256.Value != want
}

func (c *Chain) observeDown(o *observation, p Plug, l *Look) {
	d := l.Down
	o.downOf = o.at
	link := c.linkIndex(p.Link)
	o.ends = [3]int{c.lineEnd(link, func(s Stage) Treats { return s.HotPlug }), c.lineEnd(link, func(s Stage) Treats { return s.DDC }), stagePlace(link + 1)}
	o.noPower = Is(l.Presented.Power5V, false)
	// Without +5 V from the bench a line that stays dead says nothing.
	if d.HotPlug.State == Measured && (d.HotPlug.Value || !o.noPower) {
		o.set(downPlug, d.HotPlug.Value)
	}
	if d.RxSense.State == Measured {
		o.set(downSense, d.RxSense.Value)
	}
	if d.Ack.State == Measured && (d.Ack.Value || !o.noPower) {
		o.set(downAck, d.Ack.Value)
	}
	if d.Ack.State == Measured && !d.Ack.Value {
		return
	}
	if Is(d.Stable, false) {
		o.set(downBus, false)
		return
	}
	if d.Stable.State == Measured {
		o.set(downBus, true)
	}
	if d.EDID.State != Measured {
		return
	}
	o.set(downAck, true)
	o.set(downSum, d.EDID.Value.ChecksumsGood)
	want := c.ExpectedEDID(p)
	if d.EDID.Value.ChecksumsGood && want != "" && d.EDID.Value.SHA256 != "" {
		o.set(downID, d.EDID.Value.SHA256 == want)
	}
}

// lineEnd is the place of the first stage after the link that answers a line.
func (c *Chain) lineEnd(link int, treats func(Stage) Treats) int {
	for i := link + 1; i < len(c.Stages); i++ {
		if treats(c.Stages[i]) == Answers {
			return stagePlace(i)
		}
	}
	return stagePlace(len(c.Stages) - 1)
}

// observeCheck turns a hand check into rungs.
func (c *Chain) observeCheck(h *HandCheck, cat *Catalogue) *observation {
	o := newObservation(h.Epoch)
	switch h.Kind {
	case CheckIndicators:
		o.at = stagePlace(c.stageIndex(h.At))
		o.set(handIndicator, h.Answer == "lit")
	case CheckSupply:
		o.rail = c.railIndex(strings.TrimPrefix(h.At, "rail:"))
		r := c.Rails[o.rail]
		o.set(handSupply, h.Volts >= r.Volts*(1-r.Tolerance) && h.Volts <= r.Volts*(1+r.Tolerance))
	case CheckBacklight:
		o.set(handLight, h.Answer == "lit")
	case CheckTorch:
		o.set(handTorch, h.Answer == "nothing")
	case CheckMenu:
		o.set(handMenu, h.Answer == "shows")
	case CheckScreen:
		o.set(handLines, h.Answer != "lines")
		if h.Answer != "lines" {
			o.set(handWhite, h.Answer != "white")
		}
		switch h.Answer {
		case "good":
			o.works = passed
		case "black":
			o.works = failed
		}
	case CheckSpeaker:
		if !c.soundExpected() {
			break // silence is as it should be
		}
		o.speaker = failed
		if h.Answer == "sound" {
			o.speaker = passed
		}
	case CheckDisplay:
		p, _ := c.Plug(h.At)
		o.at, o.upTo = c.place(p), c.place(p)
		o.whole = failed
		if h.Answer == "picture" {
			o.whole = passed
		}
		for _, sure := range []Reading[bool]{h.InputSelected, h.CableProven, h.TimingAccepted} {
			if !Is(sure, true) {
				o.leak += cat.FalseBlack.V
			}
		}
	case CheckWiggle:
		o.at = c.partPlace(h.At)
		o.set(handWiggle, h.Answer != "comes")
	case CheckTemperature:
		o.set(handCold, h.Answer != "cold")
		if h.Answer != "cold" {
			o.set(handWarm, h.Answer != "warm")
		}
	case CheckMoved:
		o.set(handMoved, h.Answer == "no")
	}
	return o
}

package chain

// outcome is one thing that a look or check may show: several exact
// observations that mean the same to a person.
type outcome struct {
	word string
	bad  bool
	obs  []*observation
}

// possible is a look or check that could be made next, with all it may show.
type possible struct {
	step     Step
	minutes  float64
	access   int // link or stage whose access it needs; see accessOf
	outcomes []outcome
}

// abilities says which readings the bench's ports turned out to have.
type abilities struct{ power, signal, timing, picture, plug, ack, sense bool }

// learnAbilities takes a reading for impossible once a port could not observe
// it.
func learnAbilities(ev Evidence) abilities {
	a := abilities{true, true, true, true, true, true, true}
	for i := range ev.Looks {
		if u := ev.Looks[i].Up; u != nil {
			a.power = a.power && u.Power5V.Failure != FailUnsupported
			a.signal = a.signal && u.Signal.Failure != FailUnsupported
			a.timing = a.timing && u.Timing.Failure != FailUnsupported
			a.picture = a.picture && u.Picture.Failure != FailUnsupported
		}
		if d := ev.Looks[i].Down; d != nil {
			a.plug = a.plug && d.HotPlug.Failure != FailUnsupported
			a.ack = a.ack && d.Ack.Failure != FailUnsupported
			a.sense = a.sense && d.RxSense.Failure != FailUnsupported
		}
	}
	return a
}

func (o *observation) clone() *observation { c := *o; return &c }

// split doubles observations over one more rung.
func split(in []*observation, r rung) (out []*observation) {
	for _, o := range in {
		good, bad := o.clone(), o.clone()
		good.set(r, true)
		bad.set(r, false)
		out = append(out, good, bad)
	}
	return out
}

// upOutcomes lists what a look up at a plug may show.
func (c *Chain) upOutcomes(p Plug, epoch int, can abilities) []outcome {
	base := newObservation(epoch)
	base.at, base.lead, base.upTo = c.place(p), true, c.place(p)
	if !can.signal {
		good, bad := base.clone(), base.clone()
		good.whole, bad.whole = passed, failed
		return []outcome{{"a good picture", false, []*observation{good}}, {"no good picture", true, []*observation{bad}}}
	}
	var rungs []rung
	words := map[rung]string{upNone: "no signal", upNoLock: "no lock", upRange: "out of range", upOutside: "a timing outside the limits",
		upOther: "another timing than expected", upBlack: "a black picture", upColour: "one colour", upFrozen: "a frozen picture", upNoise: "noise", upLane: "a colour missing"}
	rungs = append(rungs, upNone, upNoLock, upRange)
	if e := c.Expected(p); e != nil && can.timing {
		if e.HasLimits {
			rungs = append(rungs, upOutside)
		}
		if e.HasTiming {
			rungs = append(rungs, upOther)
		}
	}
	if can.picture {
		rungs = append(rungs, upBlack, upNoise, upLane)
	}
	with := func(o *observation) []*observation {
		if can.power {
			return split([]*observation{o}, upPower)
		}
		return []*observation{o}
	}
	var out []outcome
	above := base.clone()
	for _, r := range rungs {
		o := above.clone()
		o.set(r, false)
		out = append(out, outcome{words[r], true, with(o)})
		above.set(r, true)
	}
	if !can.power {
		return append(out, outcome{"all good", false, []*observation{above}})
	}
	good, low := above.clone(), above.clone()
	good.set(upPower, true)
	low.set(upPower, false)
	return append(out, outcome{"a signal without +5 V", true, []*observation{low}}, outcome{"all good", false, []*observation{good}})
}

// downOutcomes lists what a look down at a plug may show.
func (c *Chain) downOutcomes(p Plug, epoch int, can abilities) []outcome {
	link := c.linkIndex(p.Link)
	base := newObservation(epoch)
	base.at, base.lead, base.downOf = c.place(p), true, c.place(p)
	base.ends = [3]int{c.lineEnd(link, func(s Stage) Treats { return s.HotPlug }), c.lineEnd(link, func(s Stage) Treats { return s.DDC }), stagePlace(link + 1)}
	above := base.clone()
	rungs := []rung{downAck, downBus, downSum}
	if c.ExpectedEDID(p) != "" {
		rungs = append(rungs, downID)
	}
	words := map[rung]string{downAck: "no acknowledge", downBus: "reads that differ", downSum: "a wrong checksum", downID: "another EDID than expected"}
	with := func(o *observation) []*observation {
		set := []*observation{o}
		if can.plug {
			set = split(set, downPlug)
		}
		if can.sense {
			set = split(set, downSense)
		}
		return set
	}
	var out []outcome
	for _, r := range rungs {
		o := above.clone()
		o.set(r, false)
		out = append(out, outcome{words[r], true, with(o)})
		above.set(r, true)
	}
	var good outcome
	odd := map[rung]*outcome{downPlug: {"an EDID with hot-plug low", true, nil}, downSense: {"an EDID without termination", true, nil}}
	for _, o := range with(above) {
		switch {
		case o.rungs[downPlug] == failed:
			odd[downPlug].obs = append(odd[downPlug].obs, o)
		case o.rungs[downSense] == failed:
			odd[downSense].obs = append(odd[downSense].obs, o)
		default:
			good.obs = append(good.obs, o)
		}
	}
	for _, r := range []rung{downPlug, downSense} {
		if len(odd[r].obs) > 0 {
			out = append(out, *odd[r])
		}
	}
	good.word = "all good"
	return append(out, good)
}

// binary is a check with two answers.
func binary(base *observation, r rung, good, bad string) []outcome {
	g, b := base.clone(), base.clone()
	g.set(r, true)
	b.set(r, false)
	return []outcome{{good, false, []*observation{g}}, {bad, true, []*observation{b}}}
}

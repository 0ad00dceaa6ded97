package chain

import (
	"fmt"
	"slices"
)

// witness is one look or display check as the boundaries take it.
type witness struct {
	plug  Plug
	name  string
	place int
	bad   bool
	epoch int
}

// witnesses sorts the evidence of the newest epoch by direction. Earlier
// looks speak of the state before a repair and set no boundary.
func (c *Chain) witnesses(ev Evidence) (up, down []witness) {
	epoch := ev.lastEpoch()
	for i := range ev.Looks {
		l := &ev.Looks[i]
		found, any := c.judgeLook(l)
		if !any || l.Epoch != epoch {
			continue
		}
		p, _ := c.Plug(l.Plug)
		w := witness{p, l.Plug, c.place(p), len(found) > 0, l.Epoch}
		if l.Facing == Up {
			up = append(up, w)
		} else {
			down = append(down, w)
		}
	}
	for _, h := range ev.Checks {
		if h.Kind == CheckDisplay && h.Epoch == epoch {
			p, _ := c.Plug(h.At)
			up = append(up, witness{p, h.At, c.place(p), h.Answer != "picture", h.Epoch})
		}
	}
	return up, down
}

func (ev Evidence) lastEpoch() int {
	e := 0
	for i := range ev.Looks {
		e = max(e, ev.Looks[i].Epoch)
	}
	for _, h := range ev.Checks {
		e = max(e, h.Epoch)
	}
	for _, a := range ev.Actions {
		e = max(e, a.Epoch)
	}
	return e
}

// everBad reports whether a plug was also seen bad: a good look there clears
// nothing, the fault comes and goes.
func everBad(ws []witness, name string) bool {
	return slices.ContainsFunc(ws, func(w witness) bool { return w.bad && w.name == name })
}

func anyGood(ws []witness) bool {
	return slices.ContainsFunc(ws, func(w witness) bool { return !w.bad })
}

// span is a stretch of the path: what is after lo and before hi, with the
// opened plugs themselves, of which only one half was seen.
type span struct{ lo, hi int }

func (s span) has(p *Part) bool {
	if p.Kind == PartRail {
		for _, f := range p.Feeds {
			if f >= s.lo && f <= s.hi {
				return true
			}
		}
		return false
	}
	return p.At >= s.lo && p.At <= s.hi
}

func (c *Chain) end() int { return stagePlace(len(c.Stages) - 1) }

// forward finds the last good and the first bad look up the chain. bad is
// false where no look was bad; the span is then what no good look cleared.
func (c *Chain) forward(up []witness) (b Boundary, s span, bad bool) {
	s = span{0, c.end()}
	if len(up) == 0 {
		b.Sentence = "Nothing was looked at upwards: where the signal dies is unknown."
		return b, s, false
	}
	b.Known = true
	for _, w := range up {
		if w.bad && (b.FirstBad == "" || w.place < s.hi) {
			b.FirstBad, s.hi, bad = w.name, w.place, true
		}
	}
	for _, w := range up {
		if !w.bad && w.place <= s.hi && !everBad(up, w.name) && (b.LastGood == "" || w.place > s.lo) {
			b.LastGood, s.lo = w.name, w.place
		}
	}
	switch {
	case !bad:
		b.Sentence = fmt.Sprintf("Looking up, the signal is good as far as %s; beyond it nothing was seen.", c.whereName(b.LastGood))
	case b.LastGood == "":
		b.Sentence = fmt.Sprintf("Looking up, the signal is already bad at %s; nothing nearer the source was looked at, so everything up to there is unknown.", c.whereName(b.FirstBad))
	default:
		b.Sentence = fmt.Sprintf("Looking up, the signal is still good at %s and bad at %s.", c.whereName(b.LastGood), c.whereName(b.FirstBad))
	}
	return b, s, bad
}

// backward finds the return boundary: bad looks down see what lies beyond
// them, as far as the first stage that answers.
func (c *Chain) backward(down []witness) (b Boundary, s span, bad bool) {
	s = span{0, c.end()}
	if len(down) == 0 {
		b.Sentence = "Nothing was looked at downwards: the return path is unknown."
		return b, s, false
	}
	b.Known = true
	for _, w := range down {
		if w.bad && (b.FirstBad == "" || w.place > s.lo) {
			b.FirstBad, s.lo, bad = w.name, w.place, true
			s.hi = c.returnEnd(w.plug)
		}
	}
	for _, w := range down {
		if w.bad || everBad(down, w.name) {
			continue
		}
		switch {
		case bad && w.place >= s.lo && w.place <= s.hi && c.returnEnd(w.plug) >= s.hi && (b.LastGood == "" || w.place < s.hi):
			b.LastGood, s.hi = w.name, w.place
		case !bad && (b.LastGood == "" || w.place < c.place(mustPlug(c, b.LastGood))):
			b.LastGood = w.name
		}
	}
	switch {
	case !bad:
		b.Sentence = fmt.Sprintf("Looking down, the return path is good from %s on.", c.whereName(b.LastGood))
	case b.LastGood == "":
		b.Sentence = fmt.Sprintf("Looking down, the return path is bad at %s; nothing nearer the panel was looked at.", c.whereName(b.FirstBad))
	default:
		b.Sentence = fmt.Sprintf("Looking down, the return path is good at %s and bad at %s.", c.whereName(b.LastGood), c.whereName(b.FirstBad))
	}
	return b, s, bad
}

func mustPlug(c *Chain, name string) Plug { p, _ := c.Plug(name); return p }

func (c *Chain) whereName(plug string) string { return plug + ", " + c.Where(mustPlug(c, plug)) }

// returnEnd is the furthest place that a look down at the plug reaches.
func (c *Chain) returnEnd(p Plug) int {
	link := c.linkIndex(p.Link)
	return max(c.lineEnd(link, func(s Stage) Treats { return s.HotPlug }),
		c.lineEnd(link, func(s Stage) Treats { return s.DDC }))
}

// overlap names the parts that both boundaries leave. explains says which
// parts have a mode that goes with all that was seen.
func (c *Chain) overlap(parts []Part, fs, rs span, fbad, rbad bool, leadClear bool, explains func(int) bool) (names []string, sentence string, disjoint bool) {
	pick := func(in func(*Part) bool) []string {
		var out []string
		for i := range parts {
			p := &parts[i]
			if p.Kind == PartLead && !leadClear && explains(i) || p.Kind != PartLead && in(p) && explains(i) {
				out = append(out, p.ID)
			}
		}
		return out
	}
	shared := func(p *Part) bool { return p.Kind == PartRail && (fs.has(p) || rs.has(p)) }
	switch {
	case fbad && rbad:
		names = pick(func(p *Part) bool { return fs.has(p) && rs.has(p) || shared(p) })
		onPath := slices.ContainsFunc(names, func(n string) bool { return n != "lead" && c.partPlace(n) >= 0 })
		if onPath {
			return names, "Both directions point at the same stretch.", false
		}
		names = pick(func(p *Part) bool { return fs.has(p) || rs.has(p) })
		return names, "The two directions point at different places: a supply that feeds both, or two faults.", true
	case fbad:
		names = pick(fs.has)
		return names, "Only the forward direction is bad; it alone names the stretch.", false
	case rbad:
		names = pick(rs.has)
		return names, "Only the return direction is bad; it alone names the stretch.", false
	}
	return nil, "", false
}

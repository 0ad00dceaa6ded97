package chain

import "fmt"

// judgeLook lists what a look shows to be wrong, in ladder order, and whether
// it shows anything at all.
func (c *Chain) judgeLook(l *Look) (found []Finding, any bool) {
	o := c.observeLook(l)
	p, _ := c.Plug(l.Plug)
	for r := range rungCount {
		if o.rungs[r] == unseen {
			continue
		}
		any = true
		if o.rungs[r] == failed {
			found = append(found, Finding{Plug: l.Plug, Facing: l.Facing, Reading: r.String(), Epoch: l.Epoch,
				Sentence: fmt.Sprintf("Looking %s at %s: %s.", l.Facing, c.Where(p), c.say(r, p, l))})
		}
	}
	if o.whole == failed {
		found = append(found, Finding{Plug: l.Plug, Facing: l.Facing, Reading: "picture", Epoch: l.Epoch,
			Sentence: fmt.Sprintf("Looking %s at %s: no good picture (%s).", l.Facing, c.Where(p), l.Up.Picture.Value)})
	}
	return found, any || o.whole != unseen
}

// say puts one failed rung of a look into words.
func (c *Chain) say(r rung, p Plug, l *Look) string {
	switch r {
	case upPower:
		return "no +5 V comes from the source's side"
	case upNone:
		return "there is no signal"
	case upNoLock:
		return "there is activity, but no stable lock"
	case upRange:
		return "the signal locks but is out of the receiver's range"
	case upOutside, upOther:
		e := c.Expected(p)
		_, why := e.judge(l.Up.Timing.Value)
		return fmt.Sprintf("the timing does not suit %s: %s", e.At, why)
	case upBlack:
		return "the picture is black"
	case upColour:
		return "the picture is one colour"
	case upFrozen:
		return "the picture is frozen"
	case upNoise:
		return "the picture is noisy"
	case upLane:
		return "one of red, green and blue is missing"
	case upSilent:
		return "there is no sound"
	case downPlug:
		return "hot-plug is low"
	case downAck:
		return "nothing acknowledges at the EDID address"
	case downBus:
		return "repeated EDID reads differ, so the bus is at fault rather than the store"
	case downSum:
		return "the EDID has a wrong checksum in every read, so the store is at fault rather than the bus"
	case downID:
		return fmt.Sprintf("another EDID answers than the expected one (%s)", nonEmpty(l.Down.EDID.Value.Identity, "identity not decoded"))
	case downSense:
		return "no termination on the TMDS lines"
	}
	return r.String()
}

func nonEmpty(s, other string) string {
	if s == "" {
		return other
	}
	return s
}

package chain

import (
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"math"
	"strings"

	"deadhop/edid/timing"
)

// Range is a closed interval in Hz. The zero Range accepts everything.
type Range struct{ Min, Max float64 }

func (r Range) has(v float64) bool { return r == Range{} || v >= r.Min && v <= r.Max }

// Limits is what a stage accepts at its input, each range in Hz.
type Limits struct{ PixelClock, FH, FV Range }

// Expectation is what one stage needs at its input.
type Expectation struct {
	At     string // stage
	Timing timing.Timing
	Limits Limits
	// HasTiming and HasLimits say which of the two the chain file stated.
	HasTiming, HasLimits bool
	EDIDFile, EDIDSHA256 string
	// Sound is NotTried where the file does not say.
	Sound Reading[bool]
}

// clockTolerance is how far a measured pixel clock may be off and still be
// the expected timing: 0.5 % (VESA DMT 1.0 rev. 13, section 3.1, from memory).
const clockTolerance = 0.005

// Judgement of a timing against an expectation.
type timingVerdict uint8

const (
	timingUnknown timingVerdict = iota
	timingRight
	timingOther   // inside the limits, yet not the one that was asked for
	timingOutside // a limit is broken
)

// judge compares a timing with the expectation and says what differs.
func (e *Expectation) judge(t timing.Timing) (timingVerdict, string) {
	if e == nil {
		return timingUnknown, "nothing is expected here"
	}
	if e.HasTiming && sameTiming(e.Timing, t) {
		return timingRight, ""
	}
	if t.PixelClock.IsZero() || t.H.Total() == 0 || t.V.Total() == 0 {
		return timingUnknown, "the timing has no pixel clock"
	}
	if e.HasLimits {
		clock := t.PixelClock.Float()
		fh := clock / float64(t.H.Total())
		fv := t.FieldRate().Float()
		var broken []string
		for _, l := range []struct {
			name, unit string
			scale, v   float64
			r          Range
		}{{"pixel clock", "MHz", 1e6, clock, e.Limits.PixelClock}, {"line rate", "kHz", 1e3, fh, e.Limits.FH}, {"field rate", "Hz", 1, fv, e.Limits.FV}} {
			if !l.r.has(l.v) {
				broken = append(broken, fmt.Sprintf("%s %.2f %s outside %g to %g %s", l.name, l.v/l.scale, l.unit, l.r.Min/l.scale, l.r.Max/l.scale, l.unit))
			}
		}
		if len(broken) > 0 {
			return timingOutside, strings.Join(broken, "; ")
		}
		if !e.HasTiming {
			return timingRight, ""
		}
	}
	return timingOther, fmt.Sprintf("%s where %s is expected", describeTiming(t), describeTiming(e.Timing))
}

func describeTiming(t timing.Timing) string {
	return fmt.Sprintf("%s at %.2f Hz", t.Size(), t.FieldRate().Float())
}

// sameTiming ignores sync polarity, which receivers often cannot tell, and
// allows the clock its tolerance.
func sameTiming(a, b timing.Timing) bool {
	ca, cb := a.PixelClock.Float(), b.PixelClock.Float()
	return a.H.Active == b.H.Active && a.V.Active == b.V.Active && a.Interlaced == b.Interlaced &&
		a.H.Total() == b.H.Total() && a.V.Total() == b.V.Total() && math.Abs(ca-cb) <= clockTolerance*ca
}

// Expected is what should be seen looking up at the plug, with the stage that
// asks for it; nil where a stage on the way makes its own timing, or nothing
// is stated.
func (c *Chain) Expected(p Plug) *Expectation {
	return c.expectFrom(c.linkIndex(p.Link) + 1)
}

// expectFrom finds the first expectation at stage i or after it that the
// signal reaches unchanged.
func (c *Chain) expectFrom(i int) *Expectation {
	for ; i < len(c.Stages); i++ {
		for k := range c.Expect {
			if c.Expect[k].At == c.Stages[i].ID {
				return &c.Expect[k]
			}
		}
		if c.Stages[i].Retimes {
			return nil
		}
	}
	return nil
}

// ExpectedEDID is the hash of the EDID that should be read looking down at
// the plug, "" where none is stated: that of the first stage that answers,
// else the one it should have copied from further down.
func (c *Chain) ExpectedEDID(p Plug) string {
	for i := c.linkIndex(p.Link) + 1; i < len(c.Stages); i++ {
		for _, e := range c.Expect {
			if e.At == c.Stages[i].ID && e.EDIDSHA256 != "" {
				return e.EDIDSHA256
			}
		}
	}
	return ""
}

// ResolveEDIDs reads the EDID files that the expectations name, in the order
// of the chain file, and keeps their hashes.
func (c *Chain) ResolveEDIDs(read func(name string) ([]byte, error)) error {
	for i := range c.Expect {
		e := &c.Expect[i]
		if e.EDIDFile == "" {
			continue
		}
		b, err := read(e.EDIDFile)
		if err != nil {
			return fmt.Errorf("the EDID expected at %s: %w", e.At, err)
		}
		sum := sha256.Sum256(b)
		e.EDIDSHA256 = hex.EncodeToString(sum[:])
	}
	return nil
}

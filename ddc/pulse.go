package ddc

import (
	"fmt"
	"slices"
	"time"
)

// Edge is one change of a line, with the time that the kernel gave it.
type Edge struct {
	At   time.Time
	High bool
}

const (
	// leastPulse is how long a display must hold hot-plug low to say that
	// its EDID has changed (HDMI 1.4 clause 8.5: at least 100 ms). A source
	// may overlook a shorter one.
	leastPulse = 100 * time.Millisecond
	// bounceTime separates contact bounce from a pulse that something made:
	// mechanical contacts come to rest within a few milliseconds (common
	// practice, no source).
	bounceTime = 10 * time.Millisecond
)

// Pulse is one time that a line was low.
type Pulse struct {
	Start time.Time
	Width time.Duration
	// Short means low for less than 100 ms, and not bounce: a source may not
	// notice that the EDID has changed.
	Short bool
}

// PulseReport is what the edges of a hot-plug line say.
type PulseReport struct {
	Pulses  []Pulse // low pulses that are over, bounce left out
	Bounces int     // low or high times shorter than 10 ms: a plug that moves
	LowAt   time.Time
	// Low means that the line is low since LowAt.
	Low    bool
	Detail string
}

// JudgePulses measures the low pulses of a hot-plug line. Edges must be in
// order of time; a repeated level is a lost edge and starts anew from there.
func JudgePulses(edges []Edge) PulseReport {
	var r PulseReport
	var clean []Edge
	for _, e := range edges {
		n := len(clean)
		switch {
		case n > 0 && clean[n-1].High == e.High:
			// An edge between was lost: the earlier one still holds.
		case n > 0 && e.At.Sub(clean[n-1].At) < bounceTime && n > 1:
			r.Bounces++
			clean = clean[:n-1] // the short time between did not happen
		default:
			clean = append(clean, e)
		}
	}
	for i, e := range clean {
		if e.High {
			continue
		}
		if i+1 == len(clean) {
			r.Low, r.LowAt = true, e.At
			break
		}
		w := clean[i+1].At.Sub(e.At)
		r.Pulses = append(r.Pulses, Pulse{Start: e.At, Width: w, Short: w < leastPulse})
	}
	short := 0
	for _, p := range r.Pulses {
		if p.Short {
			short++
		}
	}
	r.Detail = fmt.Sprintf("%d low pulses, %d of them shorter than 100 ms, %d bounces", len(r.Pulses), short, r.Bounces)
	if len(r.Pulses) > 0 {
		w := slices.MinFunc(r.Pulses, func(a, b Pulse) int { return int(a.Width - b.Width) })
		r.Detail += fmt.Sprintf(", the shortest %s", w.Width.Round(100*time.Microsecond))
	}
	return r
}

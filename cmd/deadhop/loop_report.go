package main

import (
	"fmt"
	"slices"

	"deadhop/ddc"
)

// How a step of a loop ended.
const (
	loopSame      = "same"
	loopDifferent = "different"
	loopNoLock    = "no lock"
	loopUnable    = "could-not-read"
)

type loopReport struct {
	Version int        `json:"version"`
	From    string     `json:"from"`
	To      string     `json:"to"`
	Steps   []loopStep `json:"steps"`
}

type loopStep struct {
	Timing   string        `json:"timing"`
	ClockHz  float64       `json:"pixel_clock_hz"`
	State    string        `json:"state"`
	Why      string        `json:"why,omitempty"`
	Pictures []loopPicture `json:"pictures"`
}

type loopPicture struct {
	Picture  string  `json:"picture"`
	Frames   int     `json:"frames"`
	Pixels   int     `json:"pixels"`
	Wrong    int     `json:"wrong"`
	Bound    float64 `json:"rate_below"` // one-sided, 95 % confidence
	Lanes    [3]int  `json:"wrong_by_lane"`
	Worst    int     `json:"worst_difference"`
	SameSize bool    `json:"same_size"`
}

// add takes in the comparison of one picture. No frames are no comparison.
func (s *loopStep) add(p ddc.Pattern, want ddc.Frame, got []ddc.Frame, tolerance int) {
	c := ddc.Compare(want, got, tolerance)
	s.Pictures = append(s.Pictures, loopPicture{p.String(), c.Frames, c.Pixels, c.Wrong, c.Bound, c.Lanes, c.Worst, c.Size})
	switch {
	case c.Pixels == 0:
		s.unable("no frame came")
	case c.Wrong > 0:
		s.State = loopDifferent
	case s.State == "":
		s.State = loopSame
	}
}

// unable ends a step that could not be measured further. Wrong pixels that
// were seen before stand.
func (s *loopStep) unable(why string) {
	s.Why = why
	if s.State != loopDifferent {
		s.State = loopUnable
	}
}

// code judges the climb, in whatever order its steps came.
func (l *loopRun) code(r *loopReport) exitCode {
	var codes []exitCode
	locked := slices.ContainsFunc(r.Steps, func(s loopStep) bool { return s.State == loopSame || s.State == loopDifferent })
	for _, s := range r.Steps {
		switch s.State {
		case loopSame:
			codes = append(codes, exitPass)
		case loopDifferent:
			codes = append(codes, exitFault)
		case loopNoLock:
			if locked {
				codes = append(codes, exitFault)
			} else {
				codes = append(codes, exitCannotTest)
			}
		default:
			if l.asked {
				codes = append(codes, exitCannotTest)
			}
		}
	}
	if len(codes) == 0 && len(r.Steps) > 0 {
		return exitCannotTest // none of the steps could be made
	}
	return worst(codes...)
}

func (a *app) printLoop(r *loopReport) {
	fmt.Fprintf(a.out, "From %s to %s:\n", r.From, r.To)
	clean, locked := 0.0, false
	for _, s := range r.Steps {
		mhz := fmt.Sprintf("%8.2f MHz  ", s.ClockHz/1e6)
		switch s.State {
		case loopNoLock:
			a.paragraph(mhz, "no lock: "+s.Why)
		case loopUnable:
			a.paragraph(mhz, "could not measure: "+s.Why)
		default:
			locked = true
			for _, p := range s.Pictures {
				a.paragraph(mhz, p.words())
			}
			if s.Why != "" {
				a.paragraph(mhz, "then could not measure: "+s.Why)
			}
			if s.State == loopSame {
				clean = max(clean, s.ClockHz)
			}
		}
	}
	switch {
	case !locked:
		fmt.Fprintln(a.out, "Nothing was compared. Check that both plugs are in the ports named.")
	case clean > 0:
		fmt.Fprintf(a.out, "Clean at %.2f MHz.\n", clean/1e6)
	}
}

func (p loopPicture) words() string {
	switch {
	case !p.SameSize:
		return fmt.Sprintf("%s: frames of another size came than were sent", p.Picture)
	case p.Wrong == 0:
		return fmt.Sprintf("%s: all of %d pixels right in %d frames; the true rate of wrong ones is below %.2g (95 %%)", p.Picture, p.Pixels, p.Frames, p.Bound)
	}
	return fmt.Sprintf("%s: %d of %d pixels wrong in %d frames (red %d, green %d, blue %d; at most by %d levels); the true rate is below %.2g (95 %%)",
		p.Picture, p.Wrong, p.Pixels, p.Frames, p.Lanes[0], p.Lanes[1], p.Lanes[2], p.Worst, p.Bound)
}

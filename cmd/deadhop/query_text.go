package main

import "fmt"

// laneNames are the TMDS channels 0 to 2 (HDMI 1.4 clause 5.1.1).
var laneNames = [3]string{"blue", "green", "red"}

// powerWords are the values of the power mode (VESA MCCS 2.2a, control D6h;
// from memory).
var powerWords = map[uint16]string{1: "on", 2: "standby", 3: "suspended", 4: "off", 5: "off by its button"}

func (a *app) printQuery(r *queryReport) {
	if r.Display != "" {
		fmt.Fprintf(a.out, "%s: %s\n", r.Port, r.Display)
	}
	a.paragraph("link   ", linkWords(&r.Link))
	a.paragraph("keys   ", keyWords(&r.Keys))
	a.paragraph("input  ", controlWords(&r.Input, nil))
	a.paragraph("power  ", controlWords(&r.Power, powerWords))
}

func (s stated) unmeasured() string {
	if s.State == stateNotTried {
		return "not asked: " + s.Why
	}
	return "could not measure: " + s.Why
}

func linkWords(r *scdcReading) string {
	if r.State != stateMeasured {
		return r.unmeasured()
	}
	if !r.ClockDetected {
		return "no clock arrives at the display: nothing is being sent, or the clock lane is broken"
	}
	s := "clock present"
	for i, name := range laneNames {
		switch {
		case !r.Locked[i]:
			s += ", " + name + " not locked"
		case r.Errors[i] == nil:
			s += ", " + name + " locked, errors not counted"
		default:
			s += fmt.Sprintf(", %s locked, %d errors", name, *r.Errors[i])
		}
	}
	switch {
	case r.Scrambling && !r.Scrambled:
		s += "; scrambling was asked for and does not arrive"
	case r.Scrambled:
		s += "; scrambled"
	}
	return s + " (since the last read)"
}

func keyWords(r *hdcpReading) string {
	switch {
	case r.State != stateMeasured:
		return r.unmeasured()
	case !r.Present:
		return "no port for content protection: protected content stays dark here, other content does not"
	case !r.KeyValid:
		return "the port answers without a valid key: protected content stays dark here, other content does not"
	}
	s := "a valid key"
	if r.Version2 {
		s += ", version 2 as well"
	}
	if r.Repeater {
		s += ", of a repeater: a switch or splitter lies between"
	}
	return s
}

func controlWords(r *controlValue, words map[uint16]string) string {
	if r.State != stateMeasured {
		return r.unmeasured()
	}
	// The high byte is not defined for these two controls.
	now := r.Now & 0xff
	if w, ok := words[now]; ok {
		return w
	}
	return fmt.Sprintf("number %d, as the display counts", now)
}

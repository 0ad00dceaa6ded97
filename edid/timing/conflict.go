package timing

import (
	"fmt"
	"strings"
)

// conflict shrinks the limits to a set that contradicts itself and loses the
// contradiction with any one of them.
func (p Problem) conflict(atoms []atom) Solution {
	out := Solution{}
	if p.listed() {
		return p.listedConflict()
	}
	keep := append([]atom(nil), atoms...)
	for i := 0; i < len(keep); {
		without := append(append([]atom(nil), keep[:i]...), keep[i+1:]...)
		if newSpace(p.Width, p.Height, p.ClockStep, without).feasible() {
			i++
		} else {
			keep = without
		}
	}
	for _, a := range keep {
		out.Conflict = append(out.Conflict, a.String())
	}
	out.Sentence = fmt.Sprintf("No timing of %dx%d meets these together: %s.", p.Width, p.Height, strings.Join(out.Conflict, "; "))
	return out
}

// listedConflict explains why none of a scaler's listed modes serves: for each
// of the right size, the limits that it breaks.
func (p Problem) listedConflict() Solution {
	out := Solution{}
	for _, l := range p.Limits {
		for _, s := range l.Listed {
			if s.Timing.H.Active != p.Width || s.Timing.V.Active != p.Height {
				continue
			}
			for _, row := range Check(s.Timing, 0, p.Limits...).Broken() {
				out.Conflict = append(out.Conflict, fmt.Sprintf("%s breaks the %s of the %s by %s", s.Label(), row.What, row.Origin, row.Margin))
			}
		}
		if len(l.Listed) > 0 && len(out.Conflict) == 0 {
			out.Conflict = append(out.Conflict, fmt.Sprintf("%s: lists no progressive mode of %dx%d that the source's clock step allows", l.Origin, p.Width, p.Height))
		}
	}
	out.Sentence = fmt.Sprintf("No listed mode of %dx%d serves: %s.", p.Width, p.Height, strings.Join(out.Conflict, "; "))
	return out
}

package timing

import (
	"fmt"
	"strings"
)

// Modeline is the timing in the form of an X.Org mode line: clock in MHz, then
// the places where active, front porch and sync end and the total, for both
// axes, then the flags. Vertical numbers of an interlaced timing are those of
// the frame, both fields added. The name is quoted; a quote in it is dropped.
func (t Timing) Modeline(name string) string {
	v := t.V
	half := uint32(0)
	if t.Interlaced {
		v.Active, v.Front, v.Sync, v.Back = 2*v.Active, 2*v.Front, 2*v.Sync, 2*v.Back
		if t.HalfLine {
			half = 1
		}
	}
	sign := map[bool]string{true: "+", false: "-"}
	s := fmt.Sprintf("Modeline %q  %s  %d %d %d %d  %d %d %d %d  %shsync %svsync", strings.ReplaceAll(name, `"`, ""),
		t.PixelClock.InDecimals(1e6, 6),
		t.H.Active, t.H.Active+t.H.Front, t.H.Active+t.H.Front+t.H.Sync, t.H.Total(),
		v.Active, v.Active+v.Front, v.Active+v.Front+v.Sync, v.Total()+half, sign[t.H.Positive], sign[t.V.Positive])
	if t.Interlaced {
		s += " interlace"
	}
	return s
}

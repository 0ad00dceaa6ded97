// Package timing holds video timings in exact frequencies and the published
// tables and formulas that name them. It knows nothing of any operating
// system.
package timing

import (
	"fmt"
	"strconv"
	"strings"
)

// Axis is one direction of a raster: pixels of a line, or lines of a frame
// (of one field where the timing is interlaced). Front is the blanking before
// the sync pulse, Back the blanking after it; both contain any border.
type Axis struct {
	Active, Front, Sync, Back uint32
	Positive                  bool // polarity of the sync pulse
}

// Blank is the blanking in pixels or lines.
func (a Axis) Blank() uint32 { return a.Front + a.Sync + a.Back }

// Total is active plus blanking.
func (a Axis) Total() uint32 { return a.Active + a.Blank() }

// Timing is one video timing as it is on the link. It is comparable: two
// timings are the same timing exactly when they are ==.
//
// Vertical numbers of an interlaced timing are those of its first field. Its
// frame has 2×V.Total() lines, and one more where HalfLine is set (each field
// is then half a line longer than V says; all common interlaced formats but
// 1920x1080i with 1250 lines are so).
type Timing struct {
	PixelClock Freq
	H, V       Axis
	Interlaced bool
	HalfLine   bool
	// Repeat is how many times each pixel is sent, 1 for once. H and
	// PixelClock count the pixels as sent.
	Repeat uint8
}

// FrameActive is the number of active lines of a whole frame.
func (t Timing) FrameActive() uint32 {
	if t.Interlaced {
		return 2 * t.V.Active
	}
	return t.V.Active
}

// FrameLines is the number of lines of a whole frame, blanking included.
func (t Timing) FrameLines() uint32 {
	if !t.Interlaced {
		return t.V.Total()
	}
	n := 2 * t.V.Total()
	if t.HalfLine {
		n++
	}
	return n
}

// LineRate is the horizontal frequency fH: pixel clock over H total.
func (t Timing) LineRate() Freq { return t.PixelClock.Div(uint64(t.H.Total())) }

// FrameRate is the rate of whole frames.
func (t Timing) FrameRate() Freq {
	return t.PixelClock.Div(uint64(t.H.Total()) * uint64(t.FrameLines()))
}

// FieldRate is the vertical frequency fV: the rate of vertical syncs, which is
// the frame rate unless the timing is interlaced, where it is twice that.
func (t Timing) FieldRate() Freq {
	if t.Interlaced {
		return t.FrameRate().Mul(2)
	}
	return t.FrameRate()
}

// Unrepeated is the timing with each pixel counted once: H and PixelClock
// divided by Repeat. Some drivers and tables state formats such as
// 1440x480i that way (720x480i at 13.5 MHz).
func (t Timing) Unrepeated() Timing {
	r := uint32(max(t.Repeat, 1))
	t.H.Active /= r
	t.H.Front /= r
	t.H.Sync /= r
	t.H.Back /= r
	t.PixelClock = t.PixelClock.Div(uint64(r))
	t.Repeat = 1
	return t
}

// Size is the raster as people write it: "1920x1080", "1920x1080i".
func (t Timing) Size() string {
	s := strconv.Itoa(int(t.H.Active)) + "x" + strconv.Itoa(int(t.FrameActive()))
	if t.Interlaced {
		s += "i"
	}
	return s
}

// String is one line with everything: "1920x1080 60 Hz, 148.5 MHz, H 2200
// (88+44+148) +, V 1125 (4+5+36) +". The rate is the field rate.
func (t Timing) String() string {
	var b strings.Builder
	fmt.Fprintf(&b, "%s %s Hz, %s, H %s, V %s", t.Size(), t.FieldRate().InDecimals(1, 3), t.PixelClock, t.H, t.V)
	if t.HalfLine {
		b.WriteString(", half line a field")
	}
	if t.Repeat > 1 {
		fmt.Fprintf(&b, ", each pixel sent %d times", t.Repeat)
	}
	return b.String()
}

// String is the axis as "2200 (88+44+148) +": total, front porch, sync, back
// porch, polarity.
func (a Axis) String() string {
	sign := "-"
	if a.Positive {
		sign = "+"
	}
	return fmt.Sprintf("%d (%d+%d+%d) %s", a.Total(), a.Front, a.Sync, a.Back, sign)
}

// Validate reports the first thing that no raster can have: no clock, no
// active picture, no sync, or numbers beyond 65535.
func (t Timing) Validate() error {
	switch {
	case t.PixelClock.IsZero():
		return fmt.Errorf("the pixel clock is not known")
	case t.Repeat > 10:
		return fmt.Errorf("pixel repetition %d: CTA-861 knows 1 to 10", t.Repeat)
	case t.HalfLine && !t.Interlaced:
		return fmt.Errorf("half a line more a field, but not interlaced")
	}
	for _, a := range []struct {
		name string
		Axis
	}{{"horizontal", t.H}, {"vertical", t.V}} {
		switch {
		case a.Active == 0:
			return fmt.Errorf("%s active is 0", a.name)
		case max(a.Active, a.Front, a.Sync, a.Back) > 65535:
			return fmt.Errorf("%s numbers %s with active %d: more than 65535", a.name, a.Axis, a.Active)
		case a.Blank() == 0:
			return fmt.Errorf("%s blanking is 0", a.name)
		}
	}
	return nil
}

package ddc

import (
	"fmt"

	"deadhop/ddc/internal/uapi"
	"deadhop/edid/timing"
)

// minTMDSClock is the lowest clock that a TMDS link runs at (HDMI 1.4
// clause 4.2.2): slower formats send each pixel more than once.
const minTMDSClock = 25_000_000

// fromBT translates the kernel's timing (struct v4l2_bt_timings). The kernel
// counts the pixels of the picture and does not say how often each was sent;
// an interlaced format below the lowest TMDS clock (480i, 576i) must have been
// sent twice or more. A progressive one down there is more likely a source
// that drives a small panel against the rules, and stays as it is.
func fromBT(b uapi.BTTimings) (timing.Timing, error) {
	if b.Width == 0 || b.Height == 0 || b.PixelClock() == 0 {
		return timing.Timing{}, fmt.Errorf("the driver gives %d x %d pixels at %d Hz", b.Width, b.Height, b.PixelClock())
	}
	t := timing.Timing{
		PixelClock: timing.Hz(b.PixelClock()),
		H: timing.Axis{Active: b.Width, Front: b.HFrontPorch, Sync: b.HSync, Back: b.HBackPorch,
			Positive: b.Polarities&uapi.V4L2_DV_HSYNC_POS_POL != 0},
		V: timing.Axis{Active: b.Height, Front: b.VFrontPorch, Sync: b.VSync, Back: b.VBackPorch,
			Positive: b.Polarities&uapi.V4L2_DV_VSYNC_POS_POL != 0},
		Repeat: 1,
	}
	const reduced = uapi.V4L2_DV_FL_CAN_REDUCE_FPS | uapi.V4L2_DV_FL_REDUCED_FPS
	if b.Flags&reduced == reduced {
		t.PixelClock = timing.Ratio(b.PixelClock()*1000, 1001)
	}
	if b.Interlaced == uapi.V4L2_DV_INTERLACED {
		t.Interlaced = true
		t.V.Active = b.Height / 2
		second := b.ILVFrontPorch + b.ILVSync + b.ILVBackPorch
		t.HalfLine = second == t.V.Blank()+1
	}
	n := uint32(1)
	for t.Interlaced && b.PixelClock()*uint64(n) < minTMDSClock && n < 10 {
		n++
	}
	if n > 1 {
		t.Repeat = uint8(n)
		t.PixelClock = timing.Ratio(b.PixelClock()*uint64(n), 1)
		if b.Flags&reduced == reduced {
			t.PixelClock = timing.Ratio(b.PixelClock()*uint64(n)*1000, 1001)
		}
		t.H.Active, t.H.Front, t.H.Sync, t.H.Back = t.H.Active*n, t.H.Front*n, t.H.Sync*n, t.H.Back*n
	}
	return t, nil
}

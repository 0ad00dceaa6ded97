package ddc

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"deadhop/ddc/internal/uapi"
	"deadhop/edid/timing"
)

// The kernel's numbers are those of its linux/v4l2-dv-timings.h, the timings
// those of CTA-861-I table 1.
func TestKernelTimingsBecomeTheStandards(t *testing.T) {
	bt := func(hz uint64, b uapi.BTTimings) uapi.BTTimings { b.SetPixelClock(hz); return b }
	for _, c := range []struct {
		name string
		in   uapi.BTTimings
		want timing.Timing
	}{
		{"VIC 5, 1920x1080i at 60 Hz", bt(74_250_000, uapi.BTTimings{
			Width: 1920, Height: 1080, Interlaced: 1, Polarities: 3, HFrontPorch: 88, HSync: 44, HBackPorch: 148,
			VFrontPorch: 2, VSync: 5, VBackPorch: 15, ILVFrontPorch: 2, ILVSync: 5, ILVBackPorch: 16,
		}), timing.Timing{PixelClock: timing.Hz(74_250_000), Interlaced: true, HalfLine: true, Repeat: 1,
			H: timing.Axis{Active: 1920, Front: 88, Sync: 44, Back: 148, Positive: true},
			V: timing.Axis{Active: 540, Front: 2, Sync: 5, Back: 15, Positive: true}}},
		{"VIC 6, 720x480i sent twice a pixel", bt(13_500_000, uapi.BTTimings{
			Width: 720, Height: 480, Interlaced: 1, HFrontPorch: 19, HSync: 62, HBackPorch: 57,
			VFrontPorch: 4, VSync: 3, VBackPorch: 15, ILVFrontPorch: 4, ILVSync: 3, ILVBackPorch: 16,
		}), timing.Timing{PixelClock: timing.Hz(27_000_000), Interlaced: true, HalfLine: true, Repeat: 2,
			H: timing.Axis{Active: 1440, Front: 38, Sync: 124, Back: 114},
			V: timing.Axis{Active: 240, Front: 4, Sync: 3, Back: 15}}},
		{"VIC 16 at 1000/1001", bt(148_500_000, uapi.BTTimings{
			Width: 1920, Height: 1080, Polarities: 3, HFrontPorch: 88, HSync: 44, HBackPorch: 148,
			VFrontPorch: 4, VSync: 5, VBackPorch: 36, Flags: uapi.V4L2_DV_FL_CAN_REDUCE_FPS | uapi.V4L2_DV_FL_REDUCED_FPS,
		}), timing.Timing{PixelClock: timing.Ratio(148_500_000_000, 1001), Repeat: 1,
			H: timing.Axis{Active: 1920, Front: 88, Sync: 44, Back: 148, Positive: true},
			V: timing.Axis{Active: 1080, Front: 4, Sync: 5, Back: 36, Positive: true}}},
	} {
		got, err := fromBT(c.in)
		require.NoError(t, err, c.name)
		assert.Equal(t, c.want, got, c.name)
	}
	_, err := fromBT(uapi.BTTimings{})
	assert.Error(t, err)
}

package ddc

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"deadhop/ddc/internal/uapi"
	"deadhop/edid/timing"
)

// Modes as the kernel's own CTA-861 table has them (drivers/gpu/drm/drm_edid.c,
// edid_cea_modes_1): VIC 4, VIC 5 and VIC 6.
func TestTimingsBecomeTheKernelsModes(t *testing.T) {
	for _, c := range []struct {
		name string
		in   timing.Timing
		want [9]uint32 // clock; h display, start, end, total; v likewise
		flag uint32
	}{
		{"VIC 4", timing.Timing{PixelClock: timing.KHz(74250), Repeat: 1,
			H: timing.Axis{Active: 1280, Front: 110, Sync: 40, Back: 220, Positive: true},
			V: timing.Axis{Active: 720, Front: 5, Sync: 5, Back: 20, Positive: true}},
			[9]uint32{74250, 1280, 1390, 1430, 1650, 720, 725, 730, 750}, uapi.DRM_MODE_FLAG_PHSYNC | uapi.DRM_MODE_FLAG_PVSYNC},
		{"VIC 5", timing.Timing{PixelClock: timing.KHz(74250), Repeat: 1, Interlaced: true, HalfLine: true,
			H: timing.Axis{Active: 1920, Front: 88, Sync: 44, Back: 148, Positive: true},
			V: timing.Axis{Active: 540, Front: 2, Sync: 5, Back: 15, Positive: true}},
			[9]uint32{74250, 1920, 2008, 2052, 2200, 1080, 1084, 1094, 1125},
			uapi.DRM_MODE_FLAG_PHSYNC | uapi.DRM_MODE_FLAG_PVSYNC | uapi.DRM_MODE_FLAG_INTERLACE},
		{"VIC 6", timing.Timing{PixelClock: timing.KHz(27000), Repeat: 2, Interlaced: true, HalfLine: true,
			H: timing.Axis{Active: 1440, Front: 38, Sync: 124, Back: 114},
			V: timing.Axis{Active: 240, Front: 4, Sync: 3, Back: 15}},
			[9]uint32{13500, 720, 739, 801, 858, 480, 488, 494, 525},
			uapi.DRM_MODE_FLAG_NHSYNC | uapi.DRM_MODE_FLAG_NVSYNC | uapi.DRM_MODE_FLAG_INTERLACE | uapi.DRM_MODE_FLAG_DBLCLK},
	} {
		m, err := modeOf(c.in)
		require.NoError(t, err, c.name)
		got := [9]uint32{m.Clock, uint32(m.HDisplay), uint32(m.HSyncStart), uint32(m.HSyncEnd), uint32(m.HTotal),
			uint32(m.VDisplay), uint32(m.VSyncStart), uint32(m.VSyncEnd), uint32(m.VTotal)}
		assert.Equal(t, c.want, got, c.name)
		assert.Equal(t, c.flag, m.Flags, c.name)
	}
	_, err := modeOf(timing.Timing{})
	assert.Error(t, err)
}

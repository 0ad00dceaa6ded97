package ddc_test

import (
	"math"
	"math/rand/v2"
	"os"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"deadhop/ddc"
)

func stereo(n int, at func(i int) (l, r float64)) []int16 {
	var s []int16
	for i := range n {
		l, r := at(i)
		s = append(s, int16(math.Round(l*32767)), int16(math.Round(r*32767)))
	}
	return s
}

// A sine of amplitude A has the level 20·log10(A) relative to full scale
// (IEC 61606-3 and AES17 define 0 dB by the full-scale sine).
func TestTonesAreMeasured(t *testing.T) {
	for _, hz := range []float64{50, 440, 997, 1000, 1000.37, 12345.6, 19999} {
		for _, level := range []float64{0, -6.02, -20, -60} {
			a := math.Pow(10, level/20)
			s := stereo(48000, func(i int) (float64, float64) {
				return a * math.Sin(2*math.Pi*hz*float64(i)/48000), 0
			})
			r := ddc.JudgeSound(s, 2, 48000)
			require.Len(t, r.Channels, 2)
			l := r.Channels[0]
			require.True(t, l.Tone, "%v Hz %v dB", hz, level)
			assert.InDelta(t, hz, l.ToneHz, 0.05)
			assert.InDelta(t, level, l.ToneLevel, 0.05)
			assert.InDelta(t, level, l.Level, 0.05)
			assert.True(t, r.Channels[1].Silent)
			assert.True(t, r.Heard())
		}
	}
}

func TestNoiseAndSilenceAreNoTones(t *testing.T) {
	rng := rand.New(rand.NewPCG(3, 4))
	r := ddc.JudgeSound(stereo(48000, func(int) (float64, float64) { return rng.Float64() - 0.5, 0.1 }), 2, 48000)
	assert.False(t, r.Channels[0].Tone)
	assert.False(t, r.Channels[0].Silent)
	// Uniform noise of width 1 has the power 1/12: −7.8 dB.
	assert.InDelta(t, 10*math.Log10(2.0/12), r.Channels[0].Level, 0.1)
	assert.True(t, r.Channels[1].Silent, "a steady offset is no sound")
	assert.False(t, ddc.JudgeSound(stereo(48000, func(int) (float64, float64) { return 0, 0 }), 2, 48000).Heard())
	assert.Empty(t, ddc.JudgeSound(nil, 0, 0).Channels)
	ddc.JudgeSound([]int16{1}, 2, 48000)
}

func TestSoundDevicesOfABareMachine(t *testing.T) {
	all, err := ddc.SoundDevices(os.DirFS(t.TempDir()), "/dev")
	assert.NoError(t, err)
	assert.Empty(t, all)
}

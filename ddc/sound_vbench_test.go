//go:build vbench

package ddc

import (
	"context"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// loopback gives the two ends of the kernel's sound loop: what is played on
// device 0 is captured on device 1.
func loopback(t *testing.T) (play, capture SoundDevice) {
	t.Helper()
	needModules(t, "snd-aloop")
	all, err := SoundDevices(os.DirFS("/sys"), "/dev")
	require.NoError(t, err)
	for _, d := range all {
		switch {
		case d.Card == "Loopback" && !d.Capture && strings.HasSuffix(d.Node, "D0p"):
			play = d
		case d.Card == "Loopback" && d.Capture && strings.HasSuffix(d.Node, "D1c"):
			capture = d
		}
	}
	require.NotEmpty(t, play.Node)
	require.NotEmpty(t, capture.Node)
	return play, capture
}

func TestVBenchToneIsMeasuredByChannel(t *testing.T) {
	ctx := vbenchContext(t)
	play, capture := loopback(t)
	for channel, hz := range []float64{997, 1499.5} {
		playing, stop := context.WithCancel(ctx)
		done := make(chan error, 1)
		go func() { done <- play.Play(playing, channel, hz, -12, 20*time.Second) }()
		time.Sleep(300 * time.Millisecond)
		r, err := capture.Listen(ctx, time.Second)
		stop()
		require.NoError(t, err)
		require.NoError(t, <-done)
		c := r.Channels[channel]
		require.True(t, c.Tone, "%v", r)
		assert.InDelta(t, hz, c.ToneHz, 1)
		assert.InDelta(t, -12, c.ToneLevel, 0.5)
		assert.True(t, r.Channels[1-channel].Silent, "%v", r)
	}
}

func TestVBenchSilenceIsToldFromNoDevice(t *testing.T) {
	ctx := vbenchContext(t)
	_, capture := loopback(t)
	r, err := capture.Listen(ctx, 300*time.Millisecond)
	require.NoError(t, err)
	assert.False(t, r.Heard(), "the loop runs by its own clock while nothing is played")
	_, err = SoundDevice{Node: "/dev/snd/pcmC9D9c"}.Listen(ctx, time.Second)
	assert.ErrorIs(t, err, ErrNotThere)
}

// A look up hears the sound device that the bench file names for a receiver.
func TestVBenchSoundIsPartOfALookUp(t *testing.T) {
	ctx := vbenchContext(t)
	play, capture := loopback(t)
	r, _ := vividInput(t, ctx)
	assert.Equal(t, Unable, r.LookUp(ctx, UpOptions{}).Sound.State)
	bench, err := OpenBench(BenchOptions{Sound: map[string]string{r.id: filepath.Base(capture.Node)}})
	require.NoError(t, err)
	ports, err := bench.Ports(ctx)
	require.NoError(t, err)
	in := portNamed(t, ports, r.id).(In)
	assert.Contains(t, in.Info().Observes, Sound)
	assert.Equal(t, Got(false), in.LookUp(ctx, UpOptions{}).Sound)

	playing, stop := context.WithCancel(ctx)
	done := make(chan error, 1)
	go func() { done <- play.Play(playing, 1, 440, -20, 20*time.Second) }()
	time.Sleep(300 * time.Millisecond)
	u := in.LookUp(ctx, UpOptions{})
	stop()
	require.NoError(t, <-done)
	assert.Equal(t, Got(true), u.Sound)
	assert.InDelta(t, 440, u.SoundReport.Channels[1].ToneHz, 1)
}

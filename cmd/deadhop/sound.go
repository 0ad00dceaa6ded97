package main

import (
	"context"
	"errors"
	"fmt"
	"math"
	"os"
	"path"
	"slices"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"deadhop/ddc"
)

// The states of a channel, or of a whole device, in the JSON of listen.
const (
	heardTone    = "tone"
	heardSound   = "sound"
	heardSilence = "silence"
	heardNoClock = "no clock"
)

type soundReport struct {
	Version  int             `json:"version"`
	Device   string          `json:"device"`
	State    string          `json:"state"` // sound, silence or no clock
	Channels []channelReport `json:"channels"`
	Lost     int             `json:"lost"` // times that samples were lost
	Why      string          `json:"why,omitempty"`
}

type channelReport struct {
	Channel int      `json:"channel"`
	State   string   `json:"state"`              // tone, sound or silence
	Level   *float64 `json:"level_db,omitempty"` // of full scale; absent for digital zero
	Hz      *float64 `json:"tone_hz,omitempty"`
	Tone    *float64 `json:"tone_level_db,omitempty"`
}

func newListen(a *app) *cobra.Command {
	var span time.Duration
	cmd := &cobra.Command{
		Use:   "listen PORT|DEVICE",
		Short: "Measure the level and the tone of incoming sound, by channel",
		Long: `Captures sound and says for each channel whether it is silent, a tone and of what
pitch, or other sound, with levels in dB of full scale. PORT is a receiver that a
sound device belongs to (the bench file can name it); DEVICE is a capture device
such as pcmC1D0c.

Three things are kept apart: silence, a device that gives no samples because no
clock comes (the link carries no sound), and no device at all. The first two are
readings and end with code 0, the last with code 2 or 3.`,
		Example: "  deadhop listen in:video0\n  deadhop listen pcmC1D0c --for 2s --json",
		Args:    exactly("the receiver or the capture device"),
		RunE: func(cmd *cobra.Command, args []string) error {
			if span < 100*time.Millisecond || span > time.Minute {
				return &usageError{cmd.CommandPath(), fmt.Errorf("--for %s: 100ms to 1m are possible", span)}
			}
			return a.listen(cmd.Context(), args[0], span)
		},
	}
	cmd.Flags().DurationVar(&span, "for", time.Second, "how long to listen")
	jsonFlag(a, cmd.Flags())
	return cmd
}

func (a *app) listen(ctx context.Context, name string, span time.Duration) error {
	if isPortName(name) {
		var err error
		if name, err = a.soundOfPort(ctx, name); err != nil {
			return err
		}
	}
	d, err := soundDevice(name, true)
	if err != nil {
		return err
	}
	heard, err := d.Listen(ctx, span)
	r := soundReport{Version: 1, Device: d.Node, State: heardSilence, Channels: []channelReport{}, Lost: heard.Lost}
	switch {
	case ctx.Err() != nil:
		return ctx.Err()
	case errors.Is(err, ddc.ErrTimedOut):
		r.State, r.Why = heardNoClock, err.Error()
	case err != nil:
		return fmt.Errorf("no sound from %s: %w", path.Base(d.Node), err)
	case heard.Heard():
		r.State = heardSound
	}
	for i, c := range heard.Channels {
		r.Channels = append(r.Channels, reportChannel(i, c))
	}
	if a.json {
		return a.printJSON(r)
	}
	if r.State == heardNoClock {
		fmt.Fprintf(a.out, "%s: no clock. %s\n", path.Base(d.Node), r.Why)
		return nil
	}
	for i, c := range heard.Channels {
		fmt.Fprintf(a.out, "%-8s%s\n", channelName(i, len(heard.Channels)), channelWords(c))
	}
	if r.Lost > 0 {
		fmt.Fprintf(a.out, "Samples were lost %d times; this is what came after.\n", r.Lost)
	}
	return nil
}

func reportChannel(i int, c ddc.ChannelSound) channelReport {
	r := channelReport{Channel: i, State: heardSound}
	if !math.IsInf(c.Level, 0) {
		r.Level = &c.Level
	}
	switch {
	case c.Silent:
		r.State = heardSilence
	case c.Tone:
		r.State, r.Hz, r.Tone = heardTone, &c.ToneHz, &c.ToneLevel
	}
	return r
}

func channelWords(c ddc.ChannelSound) string {
	switch {
	case c.Silent:
		return "silent"
	case c.Tone:
		return fmt.Sprintf("a tone of %.1f Hz at %.1f dB", c.ToneHz, c.ToneLevel)
	}
	return fmt.Sprintf("sound at %.1f dB", c.Level)
}

func channelName(i, of int) string {
	if of == 2 {
		return [2]string{"left", "right"}[i]
	}
	return fmt.Sprintf("%d", i+1)
}

// soundOfPort is the sound device of a receiver.
func (a *app) soundOfPort(ctx context.Context, id string) (string, error) {
	bench, _, err := a.openBench(ctx)
	if err != nil {
		return "", err
	}
	defer bench.Close()
	port, err := findPort(ctx, bench, id, nil)
	if err != nil {
		return "", err
	}
	info := port.Info()
	if info.Kind != ddc.InPort {
		return "", badInputf("%s is no receiver: sound comes in at an in: port or a capture device", id)
	}
	for _, d := range info.Devices {
		if strings.Contains(d, "/snd/") {
			return path.Base(d), nil
		}
	}
	return "", cannotDo("listen", port, "no sound device belongs to it: name one in the bench file, or to this verb")
}

// soundDevice finds a sound device of this machine by its short name.
func soundDevice(name string, capture bool) (ddc.SoundDevice, error) {
	all, err := ddc.SoundDevices(os.DirFS("/sys"), "/dev")
	if err != nil {
		return ddc.SoundDevice{}, err
	}
	var names []string
	for _, d := range all {
		if d.Capture != capture {
			continue
		}
		if path.Base(d.Node) == path.Base(name) {
			return d, nil
		}
		names = append(names, fmt.Sprintf("%s (%s)", path.Base(d.Node), d.Card))
	}
	what := map[bool]string{true: "capture", false: "playback"}[capture]
	if len(names) == 0 {
		return ddc.SoundDevice{}, &ddc.OpError{Op: "find the " + what + " device " + path.Base(name), Kind: ddc.ErrNotThere,
			Do: "ALSA offers no " + what + " device on this machine"}
	}
	slices.Sort(names)
	return ddc.SoundDevice{}, badInputf("there is no %s device %q; ALSA offers %s", what, name, strings.Join(names, ", "))
}

type toneOptions struct {
	channel   string
	hz, level float64
	span      time.Duration
}

func newTone(a *app) *cobra.Command {
	var o toneOptions
	cmd := &cobra.Command{
		Use:   "tone DEVICE",
		Short: "Play a tone, left and then right",
		Long: `Plays a tone on one channel at a time of a playback device such as pcmC1D3p, the
other channel silent: left, then right, unless --channel names one.

Turn the amplifier down before: a tone can damage loudspeakers and hearing.`,
		Example: "  deadhop tone pcmC1D3p\n  deadhop tone pcmC1D3p --channel right --hz 440 --level -30 --for 5s",
		Args:    exactly("the playback device"),
		RunE: func(cmd *cobra.Command, args []string) error {
			if err := o.check(); err != nil {
				return &usageError{cmd.CommandPath(), err}
			}
			return a.tone(cmd.Context(), args[0], o)
		},
	}
	f := cmd.Flags()
	f.StringVar(&o.channel, "channel", "", "left or right; without it, one after the other")
	f.Float64Var(&o.hz, "hz", 997, "pitch in Hz")
	f.Float64Var(&o.level, "level", -20, "level in dB of full scale, 0 at most")
	f.DurationVar(&o.span, "for", 2*time.Second, "how long on each channel")
	return cmd
}

func (o toneOptions) check() error {
	switch {
	case o.channel != "" && o.channel != "left" && o.channel != "right":
		return fmt.Errorf("--channel %q: use left or right", o.channel)
	case !(o.hz >= 20 && o.hz <= 20000):
		return fmt.Errorf("--hz %g: 20 to 20000 are possible", o.hz)
	case !(o.level <= 0 && o.level >= -90):
		return fmt.Errorf("--level %g: -90 to 0 are possible", o.level)
	case o.span <= 0 || o.span > 10*time.Minute:
		return fmt.Errorf("--for %s: up to 10m are possible", o.span)
	}
	return nil
}

func (a *app) tone(ctx context.Context, name string, o toneOptions) error {
	d, err := soundDevice(name, false)
	if err != nil {
		return err
	}
	for channel, side := range []string{"left", "right"} {
		if o.channel != "" && o.channel != side {
			continue
		}
		fmt.Fprintf(a.out, "%s: %g Hz at %g dB, the other channel silent\n", side, o.hz, o.level)
		if err := d.Play(ctx, channel, o.hz, o.level, o.span); err != nil {
			return fmt.Errorf("no tone on %s: %w", path.Base(d.Node), err)
		}
		if ctx.Err() != nil {
			return nil // ended by hand, which is a usual way
		}
	}
	return nil
}

package ddc

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"math"
	"path"
	"regexp"
	"slices"
	"syscall"
	"time"

	"deadhop/ddc/internal/uapi"
)

// SoundDevice is one ALSA PCM device.
type SoundDevice struct {
	Node    string // "/dev/snd/pcmC1D0c"
	Card    string // the card's id
	Capture bool
	SysDir  string
}

var pcmName = regexp.MustCompile(`^pcmC(\d+)D(\d+)([cp])$`)

// SoundDevices lists the PCM devices by node.
func SoundDevices(sys fs.FS, dev string) ([]SoundDevice, error) {
	const dir = "class/sound"
	entries, err := fs.ReadDir(sys, dir)
	if notExist(err) {
		return nil, nil
	}
	if err != nil {
		return nil, &OpError{Op: "list the sound devices", Path: dir, Kind: deviceKind(err), Err: bareErrno(err)}
	}
	var all []SoundDevice
	for _, e := range entries {
		m := pcmName.FindStringSubmatch(e.Name())
		if m == nil {
			continue
		}
		id, _ := sysRead(sys, path.Join(dir, "card"+m[1], "id"))
		all = append(all, SoundDevice{Node: path.Join(dev, "snd", e.Name()), Card: id, Capture: m[3] == "c",
			SysDir: path.Join(dir, e.Name())})
	}
	return all, nil
}

const (
	soundRate     = 48000 // Hz, the rate that every HDMI source can send
	soundChannels = 2
	soundPatience = time.Second // without a sample, there is no clock
)

// Listen captures for about the given time and measures it. ErrTimedOut means
// that the device gives no samples: no clock, as where a receiver has no
// sound on its link. Silence is a reading, not an error.
func (d SoundDevice) Listen(ctx context.Context, span time.Duration) (SoundReport, error) {
	pcm, err := uapi.OpenPCM(d.Node, true, soundRate, soundChannels)
	if err != nil {
		return SoundReport{}, d.fail("open the sound device", err)
	}
	defer pcm.Close()
	want := int(span.Seconds()*soundRate) * soundChannels
	var all []int16
	lost := 0
	buf := make([]int16, 4096)
	last := time.Now()
	for len(all) < want {
		if err := ctx.Err(); err != nil {
			return SoundReport{}, d.fail("listen", err)
		}
		n, err := pcm.Read(buf)
		switch {
		case errors.Is(err, syscall.EPIPE):
			// Samples were lost: what came before no longer joins on.
			lost++
			all = all[:0]
			if err := pcm.Recover(true); err != nil || lost > 10 {
				return SoundReport{}, d.fail("listen", syscall.EPIPE)
			}
		case errors.Is(err, syscall.EAGAIN):
			if time.Since(last) > soundPatience {
				return SoundReport{}, d.fail("wait for samples", syscall.ETIMEDOUT)
			}
			poll := []uapi.PollFile{{File: pcm.File}}
			if err := uapi.Poll(poll, 50*time.Millisecond); err != nil {
				return SoundReport{}, d.fail("wait for samples", err)
			}
		case err != nil:
			return SoundReport{}, d.fail("listen", err)
		default:
			all = append(all, buf[:n]...)
			last = time.Now()
		}
	}
	r := JudgeSound(all[:want], soundChannels, soundRate)
	r.Lost = lost
	return r, nil
}

// Play sends a tone to one channel of the device, the other silent, until the
// time is over or ctx ends. Level is in dB below full scale.
func (d SoundDevice) Play(ctx context.Context, channel int, hz, level float64, span time.Duration) error {
	pcm, err := uapi.OpenPCM(d.Node, false, soundRate, soundChannels)
	if err != nil {
		return d.fail("open the sound device", err)
	}
	defer pcm.Close()
	peak := 32767 * math.Pow(10, -math.Abs(level)/20)
	total := int(span.Seconds() * soundRate)
	buf := make([]int16, 1024*soundChannels)
	for at := 0; at < total; {
		clear(buf)
		for i := range 1024 {
			buf[i*soundChannels+channel] = int16(math.Round(peak * math.Sin(2*math.Pi*hz*float64(at+i)/soundRate)))
		}
		for rest := buf; len(rest) > 0; {
			if ctx.Err() != nil {
				return nil
			}
			n, err := pcm.Write(rest)
			switch {
			case errors.Is(err, syscall.EPIPE):
				if err := pcm.Recover(false); err != nil {
					return d.fail("play", err)
				}
			case errors.Is(err, syscall.EAGAIN):
				// A full buffer empties by its own clock.
				if !sleep(ctx, 10*time.Millisecond) {
					return nil
				}
			case err != nil:
				return d.fail("play", err)
			}
			rest = rest[n:]
		}
		at += 1024
	}
	return nil
}

func (d SoundDevice) fail(op string, err error) error {
	e := &OpError{Op: op, Path: d.Node, Kind: deviceKind(err), Err: bareErrno(err)}
	switch {
	case errors.Is(err, syscall.ETIMEDOUT), errors.Is(err, syscall.EIO):
		e.Kind, e.Do = ErrTimedOut, "no samples come: the link carries no sound, or its clock is missing"
	case errors.Is(err, syscall.EACCES):
		e.Do = permissionAdvice(d.Node)
	case errors.Is(err, syscall.EBUSY), errors.Is(err, syscall.EAGAIN):
		e.Kind = ErrBusy
		if who := holders(d.Node); who != "" {
			e.Do = "held by " + who + ": end it first"
		}
	}
	return e
}

// SoundReport is what was heard, by channel.
type SoundReport struct {
	Channels []ChannelSound
	Lost     int // times that samples were lost; the measurement began anew
}

// ChannelSound is one channel. Levels are in dB relative to full scale: a sine
// that just reaches it has 0 dB.
type ChannelSound struct {
	Level  float64 // of everything heard
	Silent bool    // below −80 dB
	// Tone is whether one frequency holds nearly all the power; ToneHz and
	// ToneLevel are its own.
	Tone      bool
	ToneHz    float64
	ToneLevel float64
}

const (
	silence  = -80.0 // dB: below the dither of 16 bits a source may add (common practice, no source)
	toneHold = 0.9   // share of the power that makes a tone
)

// Heard reports whether any channel was not silent.
func (r SoundReport) Heard() bool {
	return slices.ContainsFunc(r.Channels, func(c ChannelSound) bool { return !c.Silent })
}

// String gives the channels in a line.
func (r SoundReport) String() string {
	s := ""
	for i, c := range r.Channels {
		if i > 0 {
			s += "; "
		}
		switch {
		case c.Silent:
			s += fmt.Sprintf("channel %d silent", i)
		case c.Tone:
			s += fmt.Sprintf("channel %d a tone of %.1f Hz at %.1f dB", i, c.ToneHz, c.ToneLevel)
		default:
			s += fmt.Sprintf("channel %d sound at %.1f dB", i, c.Level)
		}
	}
	return s
}

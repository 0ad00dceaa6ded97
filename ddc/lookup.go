package ddc

import (
	"context"
	"errors"
	"os"
	"syscall"
	"time"

	"deadhop/ddc/internal/uapi"
	"deadhop/edid/timing"
)

var errNoMeasure = &OpError{Op: "measure the incoming video", Kind: ErrUnsupported,
	Do: "a USB video-class device gives pictures only"}

// LookUp implements In.
func (r *Receiver) LookUp(ctx context.Context, o UpOptions) Upstream {
	u := Upstream{Port: r.id}
	f, err := r.open(ctx)
	if err != nil {
		u.Power5V = CannotMeasure[bool](err)
		u.Signal = CannotMeasure[Signal](err)
		u.Timing = CannotMeasure[timing.Timing](err)
		u.Picture = CannotMeasure[PictureKind](err)
		u.Sound = CannotMeasure[bool](err)
		u.Presented = CannotMeasure[[]byte](err)
		return u
	}
	defer f.Close()
	if r.uvc {
		u.Power5V = CannotMeasure[bool](errNoMeasure)
		u.Signal = CannotMeasure[Signal](errNoMeasure)
		u.Timing = CannotMeasure[timing.Timing](errNoMeasure)
		u.Presented = CannotMeasure[[]byte](errNoMeasure)
		r.lookAtPicture(ctx, f, o, &u)
		r.lookAtSound(ctx, &u)
		return u
	}
	u.Presented = r.presented(ctx, f)
	u.Signal, u.Timing = r.signal(ctx, f, o.Settle)
	// Read last: while the receiver settled, the source may have come up.
	u.Power5V = r.power5V(ctx, f)
	if u.Signal.State == Known && u.Signal.V == Locked {
		r.lookAtPicture(ctx, f, o, &u)
		r.lookAtSound(ctx, &u)
	} else {
		u.Picture = CannotMeasure[PictureKind](u.Timing.Err)
		u.Sound = CannotMeasure[bool](u.Timing.Err)
	}
	return u
}

// lookAtPicture grabs some frames and judges them.
func (r *Receiver) lookAtPicture(ctx context.Context, f *os.File, o UpOptions, u *Upstream) {
	n := o.Frames
	if n < 0 {
		return
	}
	if n == 0 {
		n = 4
	}
	frames, err := r.grab(ctx, f, n)
	if err != nil {
		u.Picture = CannotMeasure[PictureKind](err)
		return
	}
	u.Report = JudgePicture(frames, o.Moves)
	u.Picture = Got(u.Report.Kind)
	u.Shot, _ = Evidence(frames[len(frames)-1]) // no picture of it is no fault of the look
}

// listenFor is long enough for a tone or a melody and short enough for a look.
const listenFor = 500 * time.Millisecond

// lookAtSound listens to the receiver's sound device. No clock is a reading:
// the link carries no sound; so is silence.
func (r *Receiver) lookAtSound(ctx context.Context, u *Upstream) {
	if r.sound == nil {
		u.Sound = CannotMeasure[bool](&OpError{Op: "listen to the incoming sound", Path: r.node, Kind: ErrUnsupported,
			Do: "no sound device belongs to this receiver: name one in the bench file"})
		return
	}
	report, err := r.sound.Listen(ctx, listenFor)
	switch {
	case errors.Is(err, ErrTimedOut):
		u.Sound = Value[bool]{State: Known, V: false, Err: err}
	case err != nil:
		u.Sound = CannotMeasure[bool](err)
	default:
		u.SoundReport = report
		u.Sound = Got(report.Heard())
	}
}

func (r *Receiver) power5V(ctx context.Context, f *os.File) Value[bool] {
	if !r.power {
		return CannotMeasure[bool](&OpError{Op: "read whether +5 V is present", Path: r.node, Kind: ErrUnsupported,
			Err: syscall.EINVAL, Do: "the driver has no control for it: measure pin 18"})
	}
	v, err := within(ctx, func() (int32, error) { return uapi.V4L2GCtrl(f, uapi.V4L2_CID_DV_RX_POWER_PRESENT) })
	if err != nil {
		return CannotMeasure[bool](r.fail("read whether +5 V is present", err))
	}
	return Got(v&(1<<r.powerAt) != 0)
}

// settleStep is how often a receiver that has no lock yet is asked again:
// about the length of two frames at 50 Hz, within which none can settle.
const settleStep = 40 * time.Millisecond

func (r *Receiver) signal(ctx context.Context, f *os.File, settle time.Duration) (Value[Signal], Value[timing.Timing]) {
	until := time.Now().Add(settle)
	for {
		bt, err := within(ctx, func() (uapi.BTTimings, error) { return uapi.V4L2QueryDVTimings(f) })
		if err == nil {
			t, err := fromBT(bt)
			if err != nil {
				return Got(Locked), CannotMeasure[timing.Timing](r.fail("read the timing", err))
			}
			return Got(Locked), Got(t)
		}
		why := r.fail("measure the incoming video", err)
		if time.Now().Before(until) && (errors.Is(why, ErrNoSignal) || errors.Is(why, ErrNoLock)) && sleep(ctx, settleStep) {
			continue
		}
		none := CannotMeasure[timing.Timing](why)
		switch {
		case errors.Is(why, ErrNoSignal):
			return Got(NoSignal), none
		case errors.Is(why, ErrNoLock):
			return Got(NoLock), none
		case errors.Is(why, ErrOutOfRange):
			return Got(OutOfRange), none
		default:
			return CannotMeasure[Signal](why), none
		}
	}
}

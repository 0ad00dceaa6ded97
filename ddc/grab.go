package ddc

import (
	"context"
	"errors"
	"fmt"
	"os"
	"slices"
	"syscall"
	"time"

	"deadhop/ddc/internal/uapi"
)

const (
	// grabBuffers is how many buffers are queued: drivers want two or three
	// before they start.
	grabBuffers = 4
	// grabPatience is the longest wait for the next frame: several frames of
	// the slowest common rate, 24 Hz, and the start of a slow stick.
	grabPatience = 2 * time.Second
)

// Grab captures n frames of the incoming picture. On a receiver it takes over
// the timing that it measures, so that the frames have the size of the signal.
// The errors are *OpError: ErrTimedOut where no frame comes, ErrBusy where
// another program captures.
func (r *Receiver) Grab(ctx context.Context, n int) ([]Frame, error) {
	f, err := r.open(ctx)
	if err != nil {
		return nil, err
	}
	defer f.Close()
	return r.grab(ctx, f, n)
}

func (r *Receiver) grab(ctx context.Context, f *os.File, n int) ([]Frame, error) {
	if r.subdev {
		return nil, &OpError{Op: "grab a frame", Path: r.node, Kind: ErrUnsupported, Err: syscall.ENOTTY,
			Do: "a sub-device has no pictures: they come from the video node of its capture pipeline"}
	}
	width, height, err := r.takeTiming(ctx, f)
	if err != nil {
		return nil, err
	}
	format, err := r.setFormat(f, width, height)
	if err != nil {
		return nil, err
	}
	stream, err := within(ctx, func() (*uapi.V4L2Stream, error) { return uapi.V4L2Capture(f, grabBuffers) })
	if err != nil {
		return nil, r.fail("start the capture", err)
	}
	defer stream.Close()
	var all []Frame
	for len(all) < n {
		raw, err := nextFrame(ctx, f, stream)
		if err != nil {
			return all, r.fail(fmt.Sprintf("wait for frame %d", len(all)+1), err)
		}
		frame, err := toFrame(format, raw)
		if err != nil {
			return all, &OpError{Op: "read a frame", Path: r.node, Kind: ErrBroken, Err: err}
		}
		all = append(all, frame)
	}
	return all, nil
}

// takeTiming makes the receiver capture what comes in. A stick has no timing
// and captures what it likes.
func (r *Receiver) takeTiming(ctx context.Context, f *os.File) (width, height uint32, err error) {
	if r.uvc {
		return 1920, 1080, nil // the driver takes the nearest it has
	}
	bt, err := within(ctx, func() (uapi.BTTimings, error) { return uapi.V4L2QueryDVTimings(f) })
	if err != nil {
		return 0, 0, r.fail("measure the incoming video", err)
	}
	if err := uapi.V4L2SDVTimings(f, bt); err != nil {
		return 0, 0, r.fail("take over the incoming timing", err)
	}
	return bt.Width, bt.Height, nil
}

func (r *Receiver) setFormat(f *os.File, width, height uint32) (uapi.V4L2PixFormat, error) {
	have, err := uapi.V4L2PixFormats(f)
	if err != nil {
		return uapi.V4L2PixFormat{}, r.fail("list the pixel formats", err)
	}
	for _, want := range frameFormats {
		code := fourCC(want.code)
		if !slices.Contains(have, code) {
			continue
		}
		got, err := uapi.V4L2SFmt(f, width, height, code)
		if err != nil {
			return got, r.fail("set the pixel format", err)
		}
		if got.FourCC == code {
			return got, nil
		}
	}
	var names []string
	for _, c := range have {
		names = append(names, fourCCText(c))
	}
	return uapi.V4L2PixFormat{}, &OpError{Op: "grab a frame", Path: r.node, Kind: ErrUnsupported, Err: syscall.EINVAL,
		Do: fmt.Sprintf("none of its pixel formats can be read: %v", names)}
}

// nextFrame waits for a frame in short steps, so that the end of ctx is seen.
func nextFrame(ctx context.Context, f *os.File, s *uapi.V4L2Stream) (uapi.V4L2Frame, error) {
	until := time.Now().Add(grabPatience)
	for {
		if err := ctx.Err(); err != nil {
			return uapi.V4L2Frame{}, err
		}
		poll := []uapi.PollFile{{File: f}}
		if err := uapi.Poll(poll, 50*time.Millisecond); err != nil {
			return uapi.V4L2Frame{}, err
		}
		switch {
		case poll[0].Ready:
			fr, err := s.Next()
			if errors.Is(err, syscall.EAGAIN) {
				continue
			}
			return fr, err
		case poll[0].Failed:
			return uapi.V4L2Frame{}, syscall.EIO
		case time.Now().After(until):
			return uapi.V4L2Frame{}, syscall.ETIMEDOUT
		}
	}
}

package ddc

import (
	"context"
	"errors"
	"fmt"
	"os"
	"path"
	"strconv"
	"syscall"

	"deadhop/ddc/internal/uapi"
	"deadhop/edid/timing"
)

// Screen is a video output that the bench drives. What was shown before comes
// back with Close. After a crash the kernel itself takes the output back: a
// frame buffer lives no longer than the process that made it, and the console
// is put up again when the last one has gone.
type Screen struct {
	file   *os.File
	buffer *uapi.DRMBuffer
	before uapi.DRMCRTCState
	conn   uint32
	node   string
	W, H   int
}

// Drive shows a picture on an output at a timing, whether or not the display
// asks for it; the driver alone decides what it can generate. A process that
// holds the display, such as a desktop, is named in the error.
func (p *Output) Drive(ctx context.Context, t timing.Timing) (*Screen, error) {
	node := path.Join(p.dev, "dri", "card"+strconv.Itoa(p.connector.Card))
	f, err := uapi.Open(node)
	if err != nil {
		return nil, openError("open the video output", node, err)
	}
	s := &Screen{file: f, node: node, conn: p.connector.ID}
	if err := lockPort(ctx, f, node); err != nil {
		f.Close()
		return nil, err
	}
	if _, err := within(ctx, func() (struct{}, error) { return struct{}{}, s.start(p.connector.Name, t) }); err != nil {
		s.buffer = nil // goes with the file
		f.Close()
		return nil, err
	}
	return s, nil
}

func (s *Screen) start(name string, t timing.Timing) error {
	if s.conn == 0 { // kernels before 6.7 do not tell it in sysfs
		if err := s.findConnector(name); err != nil {
			return err
		}
	}
	if err := uapi.DRMTakeMaster(s.file); err != nil {
		return s.fail("take the display over", err, "")
	}
	mode, err := modeOf(t)
	if err != nil {
		return err
	}
	crtc, err := s.crtc()
	if err != nil {
		return err
	}
	if s.before, err = uapi.DRMGetCRTC(s.file, crtc); err != nil {
		return s.fail("read what is shown", err, "")
	}
	s.W, s.H = int(mode.HDisplay), int(mode.VDisplay)
	if s.buffer, err = uapi.DRMNewBuffer(s.file, uint32(s.W), uint32(s.H)); err != nil {
		return s.fail("make a frame buffer", err, "")
	}
	err = uapi.DRMSetCRTC(s.file, uapi.DRMCRTCState{ID: crtc, FB: s.buffer.FB, On: true, Mode: mode}, s.conn)
	if err != nil {
		return s.fail(fmt.Sprintf("set %dx%d at %d kHz", s.W, s.H, mode.Clock), err, "")
	}
	return nil
}

func (s *Screen) findConnector(name string) error {
	ids, err := uapi.DRMConnectorIDs(s.file)
	if err != nil {
		return s.fail("list the card's connectors", err, "")
	}
	for _, id := range ids {
		if c, err := uapi.DRMGetConnector(s.file, id); err == nil && c.Name == name {
			s.conn = id
			return nil
		}
	}
	return s.fail("find the connector "+name, syscall.ENODEV, "")
}

// crtc finds the CRTC that drives the connector, or one that can.
func (s *Screen) crtc() (uint32, error) {
	c, err := uapi.DRMGetConnector(s.file, s.conn)
	if err != nil {
		return 0, s.fail("ask about the connector", err, "")
	}
	all, err := uapi.DRMCRTCs(s.file)
	if err != nil {
		return 0, s.fail("list the CRTCs", err, "")
	}
	if c.Encoder != 0 {
		if id, _, err := uapi.DRMGetEncoder(s.file, c.Encoder); err == nil && id != 0 {
			return id, nil
		}
	}
	for _, e := range c.Encoders {
		_, possible, err := uapi.DRMGetEncoder(s.file, e)
		if err != nil {
			continue
		}
		for i, id := range all {
			if possible&(1<<i) == 0 {
				continue
			}
			if st, err := uapi.DRMGetCRTC(s.file, id); err == nil && !st.On {
				return id, nil
			}
		}
	}
	return 0, s.fail("find a CRTC", syscall.EBUSY, "all of the card's are driving other outputs")
}

func (s *Screen) fail(op string, err error, do string) error {
	e := &OpError{Op: op, Path: s.node, Kind: deviceKind(err), Err: err, Do: do}
	switch {
	case errors.Is(err, syscall.EACCES), errors.Is(err, syscall.EBUSY), errors.Is(err, syscall.EPERM):
		if who := holders(s.node); who != "" && do == "" {
			e.Kind = ErrBusy
			e.Do = "the display belongs to " + who + ": end it, or work on a text console"
		}
	case errors.Is(err, syscall.EINVAL), errors.Is(err, syscall.ERANGE):
		e.Kind, e.Do = ErrUnsupported, "the driver refuses this timing: its limits are narrower"
	}
	return e
}

// Draw shows a frame, which must have the screen's size.
func (s *Screen) Draw(f Frame) error {
	if f.W != s.W || f.H != s.H || len(f.RGB) != 3*f.W*f.H {
		return fmt.Errorf("a frame of %d x %d does not fit a screen of %d x %d", f.W, f.H, s.W, s.H)
	}
	for y := range f.H {
		row := s.buffer.Pix[y*int(s.buffer.Pitch):]
		for x := range f.W {
			p := f.RGB[3*(y*f.W+x):]
			row[4*x], row[4*x+1], row[4*x+2], row[4*x+3] = p[2], p[1], p[0], 0
		}
	}
	if err := s.buffer.Flush(s.file); err != nil {
		return s.fail("show the picture", err, "")
	}
	return nil
}

// Close puts back what was shown and gives the output free. It is safe to
// call twice.
func (s *Screen) Close() error {
	if s.buffer == nil {
		return nil
	}
	err := uapi.DRMSetCRTC(s.file, s.before, s.conn)
	s.buffer.Free(s.file)
	s.buffer = nil
	return errors.Join(err, s.file.Close())
}

// modeOf is the kernel's form of a timing (struct drm_mode_modeinfo). The
// kernel counts in kHz, so that clocks are rounded to the nearest.
func modeOf(t timing.Timing) (uapi.DRMMode, error) {
	v, vscale := t.V, uint32(1)
	if t.Interlaced {
		vscale = 2
	}
	half := uint32(0)
	if t.HalfLine {
		half = 1
	}
	for _, n := range []uint32{t.H.Total(), v.Total()*vscale + half} {
		if n == 0 || n > 0xffff {
			return uapi.DRMMode{}, fmt.Errorf("a total of %d is beyond what the kernel's modes can say", n)
		}
	}
	m := uapi.DRMMode{
		Clock:      uint32(t.PixelClock.Float()/1000 + 0.5),
		HDisplay:   uint16(t.H.Active),
		HSyncStart: uint16(t.H.Active + t.H.Front),
		HSyncEnd:   uint16(t.H.Active + t.H.Front + t.H.Sync),
		HTotal:     uint16(t.H.Total()),
		VDisplay:   uint16(v.Active * vscale),
		VSyncStart: uint16((v.Active + v.Front) * vscale),
		VSyncEnd:   uint16((v.Active + v.Front + v.Sync) * vscale),
		VTotal:     uint16(v.Total()*vscale + half),
	}
	m.Flags = uapi.DRM_MODE_FLAG_NHSYNC
	if t.H.Positive {
		m.Flags = uapi.DRM_MODE_FLAG_PHSYNC
	}
	if v.Positive {
		m.Flags |= uapi.DRM_MODE_FLAG_PVSYNC
	} else {
		m.Flags |= uapi.DRM_MODE_FLAG_NVSYNC
	}
	if t.Interlaced {
		m.Flags |= uapi.DRM_MODE_FLAG_INTERLACE
	}
	if t.Repeat == 2 {
		// The kernel counts the pixels of the picture and doubles them itself.
		m.Flags |= uapi.DRM_MODE_FLAG_DBLCLK
		m.Clock /= 2
		m.HDisplay, m.HSyncStart, m.HSyncEnd, m.HTotal = m.HDisplay/2, m.HSyncStart/2, m.HSyncEnd/2, m.HTotal/2
	}
	copy(m.Name[:31], fmt.Sprintf("%dx%d", m.HDisplay, m.VDisplay))
	return m, nil
}

package ddc

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path"
	"strconv"
	"strings"
	"syscall"

	"deadhop/ddc/internal/uapi"
)

// Receiver is one socket of a video receiver: an input of a V4L2 video node,
// a pad of a sub-device node, or a USB video-class device, which gives
// pictures only. Its node is opened for each use, so that a receiver that
// comes back after unplugging is simply found again.
type Receiver struct {
	id      string
	node    string // "/dev/video0"
	label   string
	driver  string
	sysDir  string
	input   uint32 // input index, or pad of a sub-device
	powerAt int    // this input's bit in the "power present" mask
	inputs  int    // digital inputs of the node
	subdev  bool
	uvc     bool
	hasEDID bool
	power   bool // the driver has the "power present" control
	trouble error
	sound   *SoundDevice // of the same hardware, nil where there is none
}

var _ In = (*Receiver)(nil)

// receivers finds the receivers below class/video4linux. A node that cannot
// be opened is listed with its trouble, since it may well be one.
func receivers(sys fs.FS, dev string) ([]*Receiver, error) {
	const dir = "class/video4linux"
	entries, err := fs.ReadDir(sys, dir)
	if notExist(err) {
		return nil, nil
	}
	if err != nil {
		return nil, &OpError{Op: "list the video receivers", Path: dir, Kind: deviceKind(err), Err: bareErrno(err)}
	}
	var all []*Receiver
	for _, e := range sortedByNumber(entries) {
		name := e.Name()
		subdev := strings.HasPrefix(name, "v4l-subdev")
		if !subdev && !strings.HasPrefix(name, "video") {
			continue // radio, VBI and touch nodes
		}
		base := Receiver{node: path.Join(dev, name), sysDir: path.Join(dir, name), subdev: subdev}
		base.label, _ = sysRead(sys, path.Join(base.sysDir, "name"))
		base.driver = sysDriver(sys, path.Join(base.sysDir))
		all = append(all, base.probe(name)...)
	}
	return all, nil
}

// sortedByNumber orders video2 before video10.
func sortedByNumber(entries []fs.DirEntry) []fs.DirEntry {
	out := append([]fs.DirEntry(nil), entries...)
	key := func(e fs.DirEntry) (string, int) {
		stem := strings.TrimRight(e.Name(), "0123456789")
		n, _ := strconv.Atoi(e.Name()[len(stem):])
		return stem, n
	}
	for i := 1; i < len(out); i++ {
		for j := i; j > 0; j-- {
			as, an := key(out[j-1])
			bs, bn := key(out[j])
			if as < bs || as == bs && an <= bn {
				break
			}
			out[j-1], out[j] = out[j], out[j-1]
		}
	}
	return out
}

// probe opens a node and returns the receivers on it, none for a node of
// another kind.
func (r Receiver) probe(name string) []*Receiver {
	r.id = "in:" + name
	f, err := uapi.Open(r.node)
	if err != nil {
		r.trouble = openError("open the video node", r.node, err)
		if errors.Is(err, syscall.ENOENT) || errors.Is(err, syscall.ENXIO) || errors.Is(err, syscall.ENODEV) {
			return nil // a node without a device file: nothing to plug into
		}
		return []*Receiver{&r}
	}
	defer f.Close()
	_, ctrlErr := uapi.V4L2Queryctrl(f, uapi.V4L2_CID_DV_RX_POWER_PRESENT)
	r.power = ctrlErr == nil
	if r.subdev {
		return r.probeSubdev(f)
	}
	c, err := uapi.V4L2Querycap(f)
	if err != nil || c.Caps&(uapi.V4L2_CAP_VIDEO_CAPTURE|uapi.V4L2_CAP_VIDEO_CAPTURE_MPLANE) == 0 {
		return nil
	}
	r.driver, r.label = c.Driver, c.Card
	var all []*Receiver
	for i := uint32(0); i < 64; i++ {
		in, err := uapi.V4L2EnumInput(f, i)
		if err != nil {
			break
		}
		if in.Caps&uapi.V4L2_IN_CAP_DV_TIMINGS == 0 {
			continue
		}
		p := r
		p.input, p.powerAt = i, len(all)
		p.label = c.Card + ", " + in.Name
		_, edidErr := uapi.V4L2GEDID(f, i)
		p.hasEDID = edidErr == nil || errors.Is(edidErr, syscall.ENODATA)
		all = append(all, &p)
	}
	if len(all) == 0 {
		if c.Driver != "uvcvideo" {
			return nil
		}
		r.uvc = true
		return []*Receiver{&r}
	}
	for i, p := range all {
		p.inputs = len(all)
		if len(all) > 1 {
			p.id = fmt.Sprintf("in:%s.%d", name, i)
		}
	}
	return all
}

// probeSubdev takes a sub-device for a receiver where it can measure a
// timing: transmitters know timings and EDIDs too, but have nothing to
// measure and say ENOTTY.
func (r Receiver) probeSubdev(f *os.File) []*Receiver {
	if uapi.V4L2DVTimingsCap(f, 0) != nil {
		return nil
	}
	if _, err := uapi.V4L2QueryDVTimings(f); errors.Is(err, syscall.ENOTTY) {
		return nil
	}
	_, err := uapi.V4L2GEDID(f, 0)
	r.hasEDID = err == nil || errors.Is(err, syscall.ENODATA)
	r.inputs = 1
	return []*Receiver{&r}
}

// Info implements Port.
func (r *Receiver) Info() PortInfo {
	p := PortInfo{ID: r.id, Kind: InPort, Label: r.label, Driver: r.driver,
		Devices: []string{r.node, path.Join("/sys", r.sysDir)}, Trouble: r.trouble}
	switch {
	case r.uvc:
		p.Observes = []Quantity{Picture}
	default:
		if r.power {
			p.Observes = append(p.Observes, Power5V)
		}
		p.Observes = append(p.Observes, SignalLock, InTiming)
		if !r.subdev {
			p.Observes = append(p.Observes, Picture)
		}
	}
	if r.sound != nil {
		p.Observes = append(p.Observes, Sound)
		p.Devices = append(p.Devices, r.sound.Node)
	}
	return p
}

// open takes the receiver for one use: it locks the node against other
// benches and selects the input.
func (r *Receiver) open(ctx context.Context) (*os.File, error) {
	if r.trouble != nil {
		return nil, r.trouble
	}
	f, err := uapi.Open(r.node)
	if err != nil {
		return nil, openError("open the video node", r.node, err)
	}
	if err := lockPort(ctx, f, r.node); err != nil {
		f.Close()
		return nil, err
	}
	if r.inputs > 1 {
		if at, err := uapi.V4L2GInput(f); err != nil || at != r.input {
			if err := uapi.V4L2SInput(f, r.input); err != nil {
				f.Close()
				return nil, r.fail("select the input", err)
			}
		}
	}
	return f, nil
}

func (r *Receiver) fail(op string, err error) error {
	e := &OpError{Op: op, Path: r.node, Kind: deviceKind(err), Err: err}
	switch {
	case errors.Is(err, syscall.ENOLINK):
		e.Kind = ErrNoSignal
	case errors.Is(err, syscall.ENOLCK):
		e.Kind = ErrNoLock
	case errors.Is(err, syscall.ERANGE):
		e.Kind = ErrOutOfRange
	case errors.Is(err, syscall.ENODATA):
		e.Kind = ErrUnsupported
	case errors.Is(err, syscall.EBUSY):
		if who := holders(r.node); who != "" {
			e.Do = "held by " + who + ": end it first"
		}
	}
	return e
}

func (r *Receiver) presented(ctx context.Context, f *os.File) Value[[]byte] {
	b, err := within(ctx, func() ([]byte, error) { return uapi.V4L2GEDID(f, r.input) })
	switch {
	case err == nil:
		return Got(b)
	case errors.Is(err, syscall.ENODATA):
		return Got([]byte{}) // known: none is shown
	default:
		return CannotMeasure[[]byte](r.fail("read the EDID that the receiver shows", err))
	}
}

// PresentEDID implements In. What the receiver shows afterwards is read back
// and compared: some recompute the checksums, so that a bad one cannot be
// shown.
func (r *Receiver) PresentEDID(ctx context.Context, edid []byte) error {
	if len(edid)%blockLen != 0 {
		return &OpError{Op: "show an EDID", Path: r.node, Kind: ErrUnsupported, Err: syscall.EINVAL,
			Do: fmt.Sprintf("%d bytes are not whole blocks of 128", len(edid))}
	}
	f, err := r.open(ctx)
	if err != nil {
		return err
	}
	defer f.Close()
	if r.uvc || !r.hasEDID {
		return &OpError{Op: "show an EDID", Path: r.node, Kind: ErrUnsupported, Err: syscall.ENOTTY,
			Do: "this receiver cannot be given one: put an EDID emulator in its lead"}
	}
	own := append([]byte(nil), edid...)
	most, err := within(ctx, func() (int, error) { return uapi.V4L2SEDID(f, r.input, own) })
	if err != nil {
		e := r.fail("show an EDID", err)
		var oe *OpError
		if errors.Is(err, syscall.E2BIG) && errors.As(e, &oe) {
			oe.Kind = ErrUnsupported
			oe.Do = fmt.Sprintf("the receiver takes at most %d blocks, this EDID has %d", most, len(edid)/blockLen)
		}
		return e
	}
	back := r.presented(ctx, f)
	if back.State != Known {
		return back.Err
	}
	if string(back.V) != string(edid) {
		return &OpError{Op: "show an EDID", Path: r.node, Kind: ErrUnsupported,
			Do: "the receiver changed it on the way: it may have recomputed a checksum; what it shows now can be read back"}
	}
	return nil
}

// PresentedEDID implements In. No bytes and no error mean that none is shown.
func (r *Receiver) PresentedEDID(ctx context.Context) ([]byte, error) {
	f, err := r.open(ctx)
	if err != nil {
		return nil, err
	}
	defer f.Close()
	if r.uvc {
		return nil, errNoMeasure
	}
	v := r.presented(ctx, f)
	return v.V, v.Err
}

// within runs one call to the kernel under a deadline. The call itself cannot
// be cancelled: it ends by itself, on a file that stays open until then.
func within[T any](ctx context.Context, call func() (T, error)) (T, error) {
	type answer struct {
		v   T
		err error
	}
	done := make(chan answer, 1)
	go func() {
		v, err := call()
		done <- answer{v, err}
	}()
	select {
	case a := <-done:
		return a.v, a.err
	case <-ctx.Done():
		var zero T
		return zero, ctx.Err()
	}
}

package sim

import (
	"context"
	"fmt"
	"slices"
	"syscall"
	"time"

	"deadhop/ddc"
	"deadhop/edid/timing"
)

// The names of the bench's two ports.
const (
	inPort  = "in:sim"
	outPort = "out:sim"
)

const driverName = "simulated"

// cannot is the error of a reading that the file takes from the bench.
func cannot(what, port string) error {
	return &ddc.OpError{Op: "measure " + what, Path: port, Kind: ddc.ErrUnsupported, Err: syscall.EOPNOTSUPP}
}

func (b *Bench) observes(all ...ddc.Quantity) []ddc.Quantity {
	return slices.DeleteFunc(all, func(q ddc.Quantity) bool { return slices.Contains(b.eq.bench.cannot, q) })
}

// take is the value where the bench can measure the quantity.
func take[T any](b *Bench, q ddc.Quantity, port string, v T) ddc.Value[T] {
	if slices.Contains(b.eq.bench.cannot, q) {
		for name, known := range canMeasure {
			if known == q {
				return ddc.CannotMeasure[T](cannot(name, port))
			}
		}
	}
	return ddc.Got(v)
}

// receiver is the in port: the bench as a display.
type receiver struct{ b *Bench }

var _ ddc.In = (*receiver)(nil)

func (r *receiver) Info() ddc.PortInfo {
	return ddc.PortInfo{ID: inPort, Kind: ddc.InPort, Label: "simulated receiver", Driver: driverName,
		Observes: r.b.observes(ddc.Power5V, ddc.SignalLock, ddc.InTiming, ddc.Picture, ddc.Sound)}
}

// PresentEDID shows the source this EDID; a changed one pulses hot-plug, so
// the source reads it at once.
func (r *receiver) PresentEDID(_ context.Context, edid []byte) error {
	r.b.mu.Lock()
	defer r.b.mu.Unlock()
	if len(edid)%128 != 0 || len(edid) > 256*128 {
		return &ddc.OpError{Op: fmt.Sprintf("present an EDID of %d bytes", len(edid)), Path: inPort, Err: syscall.EINVAL,
			Do: "an EDID is whole blocks of 128 bytes, at most 256 of them"}
	}
	r.b.presented = nil
	if len(edid) > 0 {
		r.b.presented = slices.Clone(edid)
	}
	if r.b.at != nil && !r.b.down {
		r.b.send(ddc.SignalChanged, inPort)
	}
	return nil
}

func (r *receiver) PresentedEDID(context.Context) ([]byte, error) {
	r.b.mu.Lock()
	defer r.b.mu.Unlock()
	return slices.Clone(r.b.presented), nil
}

func (r *receiver) LookUp(ctx context.Context, _ ddc.UpOptions) ddc.Upstream {
	r.b.mu.Lock()
	defer r.b.mu.Unlock()
	b := r.b
	u := ddc.Upstream{Port: inPort, Presented: ddc.Got(slices.Clone(b.presented))}
	var volts float64
	var got reception
	switch {
	case b.at == nil || b.down:
		got.signal = ddc.NoSignal // nothing is plugged in
	default:
		a := b.world.upTo(*b.at, &benchDisplay{store: newStore(b.presented)})
		var s state
		s, got = a.watch(upTo(b.eq.bench.maxClock))
		volts = s.pin18[len(a.nodes)-1]
	}
	u.Power5V = take(b, ddc.Power5V, inPort, volts >= sinkNeeds)
	u.Signal = take(b, ddc.SignalLock, inPort, got.signal)
	if got.signal != ddc.Locked {
		err := notLocked(got.signal)
		u.Timing = ddc.CannotMeasure[timing.Timing](err)
		u.Picture = ddc.CannotMeasure[ddc.PictureKind](err)
		u.Sound = ddc.CannotMeasure[bool](err)
		return u
	}
	u.Timing = take(b, ddc.InTiming, inPort, got.timing)
	u.Picture = take(b, ddc.Picture, inPort, got.picture)
	u.Sound = take(b, ddc.Sound, inPort, got.sound)
	return u
}

// notLocked is what the kernel's timing query would return.
func notLocked(s ddc.Signal) error {
	e := &ddc.OpError{Op: "query the timing", Path: inPort}
	switch s {
	case ddc.NoLock:
		e.Kind, e.Err = ddc.ErrNoLock, syscall.ENOLCK
	case ddc.OutOfRange:
		e.Kind, e.Err = ddc.ErrOutOfRange, syscall.ERANGE
	default:
		e.Kind, e.Err = ddc.ErrNoSignal, syscall.ENOLINK
	}
	return e
}

// output is the out port: the bench as a source.
type output struct{ b *Bench }

var (
	_ ddc.Out     = (*output)(nil)
	_ ddc.BusPort = (*output)(nil)
)

func (o *output) Info() ddc.PortInfo {
	i := ddc.PortInfo{ID: outPort, Kind: ddc.OutPort, Label: "simulated output", Driver: driverName,
		Observes: o.b.observes(ddc.Connector, ddc.HotPlug, ddc.RxSense, ddc.Ack, ddc.RawEDID)}
	if o.b.eq.bench.denied {
		i.Trouble = denied("open the DDC bus")
	}
	return i
}

func denied(op string) error {
	return &ddc.OpError{Op: op, Path: outPort, Kind: ddc.ErrPermission, Err: syscall.EACCES,
		Do: "this bench file denies it: take out \"denied\""}
}

// Bus is the DDC wire as the out port has it.
func (o *output) Bus() (ddc.Bus, error) {
	if o.b.eq.bench.denied {
		return nil, denied("open the DDC bus")
	}
	return &bus{o.b}, nil
}

// bus is the DDC wire behind the out port.
type bus struct{ b *Bench }

func (w *bus) Transfer(ctx context.Context, msgs []ddc.Msg) error {
	if err := pause(ctx, w.b.eq.delay); err != nil {
		return &ddc.OpError{Op: "transfer", Path: outPort, Kind: ddc.ErrDeadline, Err: err}
	}
	w.b.mu.Lock()
	defer w.b.mu.Unlock()
	return w.b.transfer(msgs)
}

func (b *Bench) transfer(msgs []ddc.Msg) error {
	if len(msgs) == 0 {
		return &ddc.OpError{Op: "transfer no messages", Path: outPort, Err: syscall.EINVAL}
	}
	n := b.counts[outPort]
	b.counts[outPort]++
	if after := b.eq.bench.vanishAfter; b.gone || after > 0 && n >= uint64(after) {
		if !b.gone {
			b.gone = true
			b.send(ddc.PortsChanged, "")
		}
		return &ddc.OpError{Op: "transfer", Path: outPort, Addr: msgs[0].Addr, Kind: ddc.ErrGone, Err: syscall.ENODEV}
	}
	luck := noise{random(b.eq.seed, b.touch<<32|n, "bench reading DDC")}
	done, err := b.seen().ddc.transfer(msgs, parallel(sourcePullUp, sinkPullUp), luck)
	if err == nil {
		return nil
	}
	e := &ddc.OpError{Op: "transfer", Path: outPort, Addr: msgs[done].Addr, Err: errnoOf(err)}
	switch e.Err {
	case syscall.ETIMEDOUT:
		e.Kind = ddc.ErrTimedOut
	case syscall.ENXIO:
		e.Kind = ddc.ErrNoAck
	}
	return e
}

// seen is what the out port's socket sees; the bench is locked.
func (b *Bench) seen() reply {
	if b.at == nil || !b.down {
		return reply{}
	}
	a := b.world.downFrom(*b.at)
	return a.solve().back[0]
}

func (o *output) LookDown(ctx context.Context, opt ddc.DownOptions) ddc.Downstream {
	b := o.b
	b.mu.Lock()
	seen, gone := b.seen(), b.gone
	b.mu.Unlock()
	d := ddc.Downstream{Port: outPort, Supplies5V: ddc.Got(true), KernelEDID: ddc.CannotMeasure[[]byte](cannot("the kernel's EDID", outPort))}
	if gone {
		return goneDown(d)
	}
	status := ddc.Disconnected
	if seen.hotPlug >= hotPlugHigh {
		status = ddc.Connected
	}
	d.Connector = take(b, ddc.Connector, outPort, status)
	d.HotPlug = take(b, ddc.HotPlug, outPort, seen.hotPlug >= hotPlugHigh)
	d.RxSense = take(b, ddc.RxSense, outPort, seen.termination)
	w, err := o.Bus()
	if err == nil && !slices.Contains(b.eq.bench.cannot, ddc.RawEDID) {
		readEDID(ctx, w, opt, b.eq.delay, &d)
		return d
	}
	if err == nil {
		err = cannot("the EDID", outPort)
	}
	d.Ack, d.EDID, d.Stable = ddc.CannotMeasure[bool](err), ddc.CannotMeasure[[]byte](err), ddc.CannotMeasure[bool](err)
	return d
}

// pause waits for the wire, where the file asks for it.
func pause(ctx context.Context, d time.Duration) error {
	if d == 0 {
		return ctx.Err()
	}
	t := time.NewTimer(d)
	defer t.Stop()
	select {
	case <-t.C:
		return nil
	case <-ctx.Done():
		return ctx.Err()
	}
}

package ddc

import (
	"context"
	"errors"
	"path"
	"time"

	"deadhop/ddc/internal/uapi"
)

const (
	// pollEvery is how often what sends no events is asked. Two seconds is
	// quick enough for hands at a plug, and one short transfer in that time
	// is no load on a bus.
	pollEvery = 2 * time.Second
	// pollPatience bounds one poll of one port.
	pollPatience = time.Second
)

// poll asks what sends no events until ctx ends. The first round comes after
// two seconds, out of the way of a look just begun, and only learns what is
// there.
func (w *watcher) poll(ctx context.Context) {
	present := map[string]bool{}
	signals := map[string]Signal{}
	for sleep(ctx, pollEvery) {
		// The kernel answers this from memory; nothing is probed.
		w.compareConnectors(time.Now())
		w.mu.Lock()
		buses, quiet := w.buses, w.quiet
		w.mu.Unlock()
		for _, p := range buses {
			is, ok := answers(ctx, p)
			if !ok {
				continue
			}
			was, known := present[p.id]
			present[p.id] = is
			if !known || was == is {
				continue
			}
			kind := Unplugged
			if is {
				kind = Plugged
			}
			w.send(Event{Kind: kind, Port: p.id, At: time.Now()})
		}
		for _, r := range quiet {
			is, ok := signalNow(ctx, r)
			if !ok {
				continue
			}
			was, known := signals[r.id]
			signals[r.id] = is
			if known && was != is {
				w.send(Event{Kind: SignalChanged, Port: r.id, At: time.Now()})
			}
		}
	}
}

// signalNow asks a receiver how far it is, unless a look holds it.
func signalNow(ctx context.Context, r *Receiver) (Signal, bool) {
	ctx, cancel := context.WithTimeout(ctx, pollPatience)
	defer cancel()
	f, err := uapi.Open(r.node)
	if err != nil {
		return 0, false
	}
	defer f.Close()
	s, _ := r.signal(ctx, f, 0)
	return s.V, s.State == Known
}

// answers reports whether something acknowledges at 0x50; ok is false where
// that could not be found out, as when a look holds the bus.
func answers(ctx context.Context, p *AdapterPort) (is, ok bool) {
	ctx, cancel := context.WithTimeout(ctx, pollPatience)
	defer cancel()
	node := path.Join(p.dev, p.adapter.Node())
	bus, err := openI2CDev(node, matchRule(p.adapter.Driver, p.adapter.Name))
	if err != nil {
		return false, false
	}
	defer bus.Close()
	if uapi.TryLock(bus.file) != nil {
		return false, false
	}
	err = bus.Transfer(ctx, []Msg{{Addr: EDIDAddr, Data: []byte{0}}, {Addr: EDIDAddr, Read: true, Data: make([]byte, 1)}})
	switch {
	case err == nil:
		return true, true
	case errors.Is(err, ErrNoAck):
		return false, true
	default:
		return false, false
	}
}

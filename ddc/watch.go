package ddc

import (
	"context"
	"errors"
	"maps"
	"os"
	"slices"
	"sync"
	"syscall"
	"time"

	"deadhop/ddc/internal/uapi"
)

// regroup is how long the end of a burst of uevents is waited for before the
// ports are listed again: a new receiver brings a dozen of them, and its
// device node comes a little after.
const regroup = 200 * time.Millisecond

// Watch implements Bench. Outputs are watched by uevents, receivers by V4L2
// events; bare buses, receivers without events and connector states that
// change without a uevent by a gentle poll. The channel holds 64 events; a
// reader that lets it fill is told by EventsLost.
func (b *SystemBench) Watch(ctx context.Context) (<-chan Event, error) {
	netlink, err := uapi.OpenUevents()
	if err != nil {
		return nil, &OpError{Op: "listen to the kernel's uevents", Kind: deviceKind(err), Err: err}
	}
	waker, err := uapi.NewWaker()
	if err != nil {
		netlink.Close()
		return nil, &OpError{Op: "listen to the kernel's uevents", Kind: deviceKind(err), Err: err}
	}
	w := &watcher{bench: b, netlink: netlink, waker: waker, out: make(chan Event, 64),
		buf: make([]byte, 16<<10), nodes: map[string]*watchedNode{}}
	w.regroup(ctx)
	stop := context.AfterFunc(ctx, waker.Wake)
	var both sync.WaitGroup
	both.Go(func() { w.run(ctx) })
	both.Go(func() { w.poll(ctx) })
	go func() {
		both.Wait()
		stop()
		close(w.out)
	}()
	return w.out, nil
}

// watcher is one running Watch: one goroutine hears events, one polls what
// sends none, so that a slow bus cannot hold up an event.
type watcher struct {
	bench     *SystemBench
	netlink   *os.File
	waker     *uapi.Waker
	buf       []byte
	seq       seqGap
	nodes     map[string]*watchedNode // by device node
	regroupAt time.Time               // when to list the ports again, zero for not

	mu         sync.Mutex
	out        chan Event
	overflow   bool // an event did not fit: say so as soon as one fits
	outs       []*Output
	connectors map[string]ConnectorStatus
	buses      []*AdapterPort
	quiet      []*Receiver // receivers without events
}

// watchedNode is an open V4L2 node with its subscriptions, or an open CEC
// adapter.
type watchedNode struct {
	file   *os.File
	inputs []*Receiver
	power  int32
	seq    uint32
	seen   bool
	cec    bool
	port   string // of a CEC adapter
}

func (w *watcher) run(ctx context.Context) {
	defer w.netlink.Close()
	defer w.waker.Close()
	defer func() {
		for _, n := range w.nodes {
			n.file.Close()
		}
	}()
	for ctx.Err() == nil {
		files := []uapi.PollFile{{File: w.waker.File()}, {File: w.netlink}}
		keys := slices.Sorted(maps.Keys(w.nodes))
		for _, k := range keys {
			files = append(files, uapi.PollFile{File: w.nodes[k].file, Urgent: true})
		}
		if err := uapi.Poll(files, w.patience()); err != nil {
			w.send(Event{Kind: EventsLost, At: time.Now()})
			if !sleep(ctx, pollEvery) {
				return
			}
			continue
		}
		if ctx.Err() != nil {
			return
		}
		if files[1].Ready || files[1].Failed {
			w.uevents()
		}
		for i, k := range keys {
			switch f := files[2+i]; {
			case f.Ready && w.nodes[k].cec:
				w.cec(k)
			case f.Ready:
				w.v4l2(k)
			case f.Failed:
				w.drop(k)
			}
		}
		now := time.Now()
		if !w.regroupAt.IsZero() && now.After(w.regroupAt) {
			w.regroupAt = time.Time{}
			w.regroup(ctx)
			w.send(Event{Kind: PortsChanged, At: now})
		}
	}
}

// patience is how long the wait for events may last: for ever, unless the
// ports are to be listed again.
func (w *watcher) patience() time.Duration {
	if w.regroupAt.IsZero() {
		return -1
	}
	return max(0, time.Until(w.regroupAt))
}

// send never blocks: a reader that does not keep up must not stop the kernel's
// events from being drained.
func (w *watcher) send(e Event) {
	w.mu.Lock()
	defer w.mu.Unlock()
	if w.overflow {
		select {
		case w.out <- Event{Kind: EventsLost, At: e.At}:
			w.overflow = false
		default:
			return
		}
	}
	select {
	case w.out <- e:
	default:
		w.overflow = true
	}
}

func (w *watcher) uevents() {
	for {
		msg, err := uapi.ReadUevent(w.netlink, w.buf)
		now := time.Now()
		switch {
		case errors.Is(err, syscall.ENOBUFS):
			w.lost(now)
			continue
		case errors.Is(err, syscall.EINTR):
			continue
		case err != nil:
			return // EAGAIN: drained
		}
		u, ok := parseUevent(msg)
		if !ok {
			continue
		}
		if w.seq.next(u.seq) {
			w.lost(now)
		}
		ports, connectors := u.concerns()
		if connectors {
			w.compareConnectors(now)
		}
		if ports && w.regroupAt.IsZero() {
			w.regroupAt = now.Add(regroup)
		}
	}
}

// lost reports a loss and looks for what it may have hidden.
func (w *watcher) lost(now time.Time) {
	w.send(Event{Kind: EventsLost, At: now})
	w.compareConnectors(now)
	w.regroupAt = now.Add(regroup)
}

// statuses reads the status of every known connector by port id. A connector
// that comes is made known by regroup.
func (w *watcher) statuses() map[string]ConnectorStatus {
	w.mu.Lock()
	outs := w.outs
	w.mu.Unlock()
	all := make(map[string]ConnectorStatus, len(outs))
	for _, p := range outs {
		if s, err := p.connector.Status(w.bench.sys); err == nil {
			all[p.id] = s
		}
	}
	return all
}

func (w *watcher) compareConnectors(now time.Time) {
	fresh := w.statuses()
	w.mu.Lock()
	was := w.connectors
	w.connectors = fresh
	w.mu.Unlock()
	for _, id := range slices.Sorted(maps.Keys(fresh)) {
		before, known := was[id]
		is := fresh[id]
		switch {
		case !known || before == is:
		case is == Connected:
			w.send(Event{Kind: Plugged, Port: id, At: now})
		case is == Disconnected:
			w.send(Event{Kind: Unplugged, Port: id, At: now})
		}
	}
}

// regroup opens what there is to watch, and lets go of what has gone.
func (w *watcher) regroup(ctx context.Context) {
	ins, _ := within(ctx, func() ([]*Receiver, error) { return receivers(w.bench.sys, w.bench.dev) })
	byNode := map[string][]*Receiver{}
	for _, r := range ins {
		if r.trouble == nil && !r.uvc {
			byNode[r.node] = append(byNode[r.node], r)
		}
	}
	for _, k := range slices.Collect(maps.Keys(w.nodes)) {
		w.nodes[k].file.Close()
		delete(w.nodes, k)
	}
	var quiet []*Receiver
	for node, inputs := range byNode {
		if n := subscribe(node, inputs); n != nil {
			w.nodes[node] = n
		} else {
			quiet = append(quiet, inputs...)
		}
	}
	w.watchCEC()
	adapters, _ := Adapters(w.bench.sys)
	outs, taken, _ := w.bench.outputs(adapters)
	buses, _ := w.bench.buses(adapters, taken)
	w.mu.Lock()
	w.outs, w.buses, w.quiet = outs, buses, quiet
	w.mu.Unlock()
	w.compareConnectors(time.Now())
}

// drop lets go of a node that failed; its uevent lists the ports again.
func (w *watcher) drop(key string) {
	w.nodes[key].file.Close()
	delete(w.nodes, key)
	if w.regroupAt.IsZero() {
		w.regroupAt = time.Now().Add(regroup)
	}
}

// sinceBoot turns a time of CLOCK_MONOTONIC into the wall clock's.
func sinceBoot(at time.Duration) time.Time {
	mono, err := uapi.MonotonicNow()
	if err != nil || at == 0 || at > mono {
		return time.Now()
	}
	return time.Now().Add(at - mono)
}

package sim

import (
	"context"
	"sync"

	"deadhop/ddc"
)

// watcher queues events for one reader. A reader that does not keep up gets
// EventsLost in their place, as the kernel's queue behaves.
type watcher struct {
	events chan ddc.Event
	lost   bool
	once   sync.Once
	done   chan struct{}
}

const watchQueue = 64

func (w *watcher) stop() {
	w.once.Do(func() { close(w.done); close(w.events) })
}

// Watch sends events until ctx ends or the bench is closed.
func (b *Bench) Watch(ctx context.Context) (<-chan ddc.Event, error) {
	b.mu.Lock()
	defer b.mu.Unlock()
	if b.closed {
		return nil, errClosed
	}
	w := &watcher{events: make(chan ddc.Event, watchQueue), done: make(chan struct{})}
	b.watchers = append(b.watchers, w)
	go func() {
		select {
		case <-w.done:
			return
		case <-ctx.Done():
		}
		b.mu.Lock()
		defer b.mu.Unlock()
		for i, x := range b.watchers {
			if x == w {
				b.watchers = append(b.watchers[:i:i], b.watchers[i+1:]...)
				break
			}
		}
		w.stop()
	}()
	return w.events, nil
}

// send tells every watcher; the bench is locked.
func (b *Bench) send(kind ddc.EventKind, port string) {
	e := ddc.Event{Kind: kind, Port: port, At: b.eventTime()}
	for _, w := range b.watchers {
		if w.lost {
			select {
			case w.events <- ddc.Event{Kind: ddc.EventsLost, At: e.At}:
				w.lost = false
			default:
				continue
			}
		}
		select {
		case w.events <- e:
		default:
			w.lost = true
		}
	}
}

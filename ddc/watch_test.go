package ddc

import (
	"context"
	"fmt"
	"runtime"
	"testing"
	"testing/fstest"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"deadhop/ddc/internal/uapi"
)

func TestAReaderThatFallsBehindIsToldOnce(t *testing.T) {
	w := &watcher{out: make(chan Event, 4)}
	for range 10 {
		w.send(Event{Kind: SignalChanged})
	}
	for range 4 {
		assert.Equal(t, SignalChanged, (<-w.out).Kind)
	}
	w.send(Event{Kind: Plugged})
	assert.Equal(t, EventsLost, (<-w.out).Kind)
	assert.Equal(t, Plugged, (<-w.out).Kind)
}

func TestConnectorChangesBecomeEvents(t *testing.T) {
	sys := fstest.MapFS{"class/drm/card0-HDMI-A-1/status": {Data: []byte("disconnected\n")}}
	b, err := OpenBench(BenchOptions{Sys: sys, Dev: t.TempDir()})
	require.NoError(t, err)
	w := &watcher{bench: b, out: make(chan Event, 4)}
	w.outs, _, err = b.outputs(nil)
	require.NoError(t, err)
	w.connectors = w.statuses()
	for _, c := range []struct {
		status string
		want   EventKind
	}{{"connected\n", Plugged}, {"disconnected\n", Unplugged}} {
		sys["class/drm/card0-HDMI-A-1/status"].Data = []byte(c.status)
		w.compareConnectors(time.Now())
		e := <-w.out
		assert.Equal(t, c.want, e.Kind)
		assert.Equal(t, "out:HDMI-A-1", e.Port)
	}
	w.compareConnectors(time.Now())
	assert.Empty(t, w.out)
}

func TestWatchEndsWithItsContext(t *testing.T) {
	b, err := OpenBench(BenchOptions{Sys: fstest.MapFS{}, Dev: t.TempDir()})
	require.NoError(t, err)
	ctx, cancel := context.WithCancel(context.Background())
	events, err := b.Watch(ctx)
	if err != nil {
		t.Skipf("this machine gives no uevents: %v", err)
	}
	cancel()
	select {
	case _, open := <-events:
		assert.False(t, open)
	case <-time.After(5 * time.Second):
		t.Fatal("the channel stays open")
	}
}

func TestLineEvents(t *testing.T) {
	e, ok := lineEvent(uapi.CECEvent{Event: uapi.CEC_EVENT_PIN_HPD_HIGH})
	assert.True(t, ok)
	assert.Equal(t, Event{Kind: LineChanged, Line: HotPlug, High: true}, e)
	e, _ = lineEvent(uapi.CECEvent{Event: uapi.CEC_EVENT_PIN_5V_LOW})
	assert.Equal(t, Event{Kind: LineChanged, Line: Power5V}, e)
	_, ok = lineEvent(uapi.CECEvent{Event: 3})
	assert.False(t, ok)
	assert.Equal(t, "1.2.0.f", AddressText(0x120f))
	all := []Event{{Kind: LineChanged, Port: "a", Line: HotPlug, High: true}, {Kind: Plugged, Port: "a"}, {Kind: LineChanged, Port: "b", Line: HotPlug}}
	assert.Len(t, Edges(all, "a", HotPlug), 1)
}

// A million events leave nothing behind.
func TestMemoryDoesNotGrowWithEvents(t *testing.T) {
	w := &watcher{out: make(chan Event, 64)}
	heap := func() uint64 {
		runtime.GC()
		var m runtime.MemStats
		runtime.ReadMemStats(&m)
		return m.HeapAlloc
	}
	before := heap()
	for i := range 1_000_000 {
		u, ok := parseUevent(fmt.Appendf(nil, "change@/devices/x/drm/card0\x00SUBSYSTEM=drm\x00HOTPLUG=1\x00SEQNUM=%d\x00", i))
		if !ok || w.seq.next(u.seq) {
			t.Fatal(i)
		}
		w.send(Event{Kind: Plugged, Port: "out:HDMI-A-1"})
		if i%2 == 0 && len(w.out) > 0 {
			<-w.out
		}
	}
	assert.Less(t, int64(heap())-int64(before), int64(1<<20))
}

package ddc

import (
	"fmt"
	"io/fs"
	"path"
	"slices"
	"strings"

	"deadhop/ddc/internal/uapi"
)

// cecNodes lists the nodes of the CEC adapters. Their events are the one
// place in the kernel that tells the hot-plug and +5 V lines themselves, with
// a time stamp, on the adapters that see them.
func cecNodes(sys fs.FS, dev string) []string {
	entries, err := fs.ReadDir(sys, "bus/cec/devices")
	if err != nil {
		return nil
	}
	var all []string
	for _, e := range entries {
		if strings.HasPrefix(e.Name(), "cec") {
			all = append(all, path.Join(dev, e.Name()))
		}
	}
	slices.Sort(all)
	return all
}

// cecPort names the output that a CEC adapter belongs to, or the adapter
// where it belongs to none.
func (w *watcher) cecPort(n *watchedNode, node string) string {
	card, id, ok := uapi.CECConnector(n.file)
	if ok {
		adapters, _ := Adapters(w.bench.sys)
		outs, _, _ := w.bench.outputs(adapters)
		for _, p := range outs {
			if p.connector.ID == id && p.connector.Card == int(card) {
				return p.id
			}
		}
	}
	return "cec:" + path.Base(node)
}

// cec takes one event of a CEC adapter.
func (w *watcher) cec(key string) {
	n := w.nodes[key]
	e, err := uapi.CECDqevent(n.file)
	if err != nil {
		w.drop(key)
		return
	}
	at := sinceBoot(e.At)
	if e.Flags&uapi.CEC_EVENT_FL_DROPPED_EVENTS != 0 {
		w.send(Event{Kind: EventsLost, Port: n.port, At: at})
	}
	if out, ok := lineEvent(e); ok {
		out.Port, out.At = n.port, at
		w.send(out)
	}
}

// lineEvent translates a CEC event. The first ones after opening tell the
// state at that time, which is a reading too.
func lineEvent(e uapi.CECEvent) (Event, bool) {
	switch e.Event {
	case uapi.CEC_EVENT_PIN_HPD_LOW, uapi.CEC_EVENT_PIN_HPD_HIGH:
		return Event{Kind: LineChanged, Line: HotPlug, High: e.Event == uapi.CEC_EVENT_PIN_HPD_HIGH}, true
	case uapi.CEC_EVENT_PIN_5V_LOW, uapi.CEC_EVENT_PIN_5V_HIGH:
		return Event{Kind: LineChanged, Line: Power5V, High: e.Event == uapi.CEC_EVENT_PIN_5V_HIGH}, true
	case uapi.CEC_EVENT_STATE_CHANGE:
		return Event{Kind: AddressChanged, Address: e.PhysAddr}, true
	default:
		return Event{}, false
	}
}

// Edges takes the edges of one line at one port out of a list of events, for
// JudgePulses.
func Edges(events []Event, port string, line Quantity) []Edge {
	var all []Edge
	for _, e := range events {
		if e.Kind == LineChanged && e.Port == port && e.Line == line {
			all = append(all, Edge{At: e.At, High: e.High})
		}
	}
	return all
}

// AddressText is a CEC physical address as people write it: "1.0.0.0".
// "f.f.f.f" means none: no hot-plug, or an EDID that gives no address.
func AddressText(a uint16) string {
	return fmt.Sprintf("%x.%x.%x.%x", a>>12, a>>8&0xf, a>>4&0xf, a&0xf)
}

// watchCEC opens the CEC adapters that there are.
func (w *watcher) watchCEC() {
	for _, node := range cecNodes(w.bench.sys, w.bench.dev) {
		f, err := uapi.Open(node)
		if err != nil {
			continue // seen by fewer eyes, but the rest goes on
		}
		n := &watchedNode{file: f, cec: true}
		n.port = w.cecPort(n, node)
		w.nodes[node] = n
	}
}

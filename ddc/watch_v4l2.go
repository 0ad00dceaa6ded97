package ddc

import (
	"time"

	"deadhop/ddc/internal/uapi"
)

// subscribe opens a receiver's node for its events; nil where it has none.
func subscribe(node string, inputs []*Receiver) *watchedNode {
	f, err := uapi.Open(node)
	if err != nil {
		return nil
	}
	any := false
	for _, r := range inputs {
		any = uapi.V4L2Subscribe(f, uapi.V4L2_EVENT_SOURCE_CHANGE, r.input) == nil || any
	}
	n := &watchedNode{file: f, inputs: inputs}
	if inputs[0].power {
		n.power, _ = uapi.V4L2GCtrl(f, uapi.V4L2_CID_DV_RX_POWER_PRESENT)
		any = uapi.V4L2Subscribe(f, uapi.V4L2_EVENT_CTRL, uapi.V4L2_CID_DV_RX_POWER_PRESENT) == nil || any
	}
	if !any {
		f.Close()
		return nil
	}
	return n
}

// v4l2 takes the events that wait at a node.
func (w *watcher) v4l2(key string) {
	n := w.nodes[key]
	for {
		e, err := uapi.V4L2Dqevent(n.file)
		if err != nil {
			w.drop(key)
			return
		}
		at := sinceBoot(e.At)
		if n.seen && e.Sequence != n.seq+1 {
			w.send(Event{Kind: EventsLost, At: at})
		}
		n.seen, n.seq = true, e.Sequence
		w.judge(n, e, at)
		if e.Pending == 0 {
			return
		}
	}
}

func (w *watcher) judge(n *watchedNode, e uapi.V4L2Event, at time.Time) {
	for _, r := range n.inputs {
		switch {
		case e.Type == uapi.V4L2_EVENT_SOURCE_CHANGE && e.ID == r.input:
			w.send(Event{Kind: SignalChanged, Port: r.id, At: at})
		case e.Type == uapi.V4L2_EVENT_CTRL && e.ID == uapi.V4L2_CID_DV_RX_POWER_PRESENT:
			bit := int32(1) << r.powerAt
			if (n.power^e.Value)&bit == 0 {
				continue
			}
			kind := Unplugged
			if e.Value&bit != 0 {
				kind = Plugged
			}
			w.send(Event{Kind: kind, Port: r.id, At: at})
		}
	}
	if e.Type == uapi.V4L2_EVENT_CTRL {
		n.power = e.Value
	}
}

// Package sim is a simulated bench with one piece of equipment on it, behind
// the interfaces of package ddc. The equipment and its faults are read from
// YAML; what the bench sees follows from voltages, wires and the behaviour of
// each board, worked out from cause to effect. It knows nothing of how a
// diagnosis is made.
//
// All of it is deterministic: chance comes from the file's seed, and no clock
// is read. Nothing sleeps unless the file sets wire_delay.
package sim

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"sync"
	"time"

	"deadhop/ddc"
)

// Bench is a simulated bench with the equipment on it. It is safe for use by
// several goroutines.
type Bench struct {
	mu        sync.Mutex
	eq        *equipment
	world     *world
	cured     []bool // by fault
	presented []byte // what the in port shows, nil for withdrawn
	at        *part  // where the bench is put in
	plug      string
	down      bool              // it faces the panel
	touch     uint64            // touches so far: connects, repairs
	counts    map[string]uint64 // transactions by port
	gone      bool              // the out port vanished
	watchers  []*watcher
	events    int // sent so far, for their times
	closed    bool
}

var _ ddc.Bench = (*Bench)(nil)

// Name is the equipment's name as the file gives it.
func (b *Bench) Name() string { return b.eq.name }

// Plugs lists the plugs of the HDMI links, from the source on.
func (b *Bench) Plugs() []string {
	var ps []string
	for _, l := range b.eq.links {
		if l.kind == "hdmi" {
			ps = append(ps, l.id+".source", l.id+".display")
		}
	}
	return ps
}

// Hidden names the faults that are still there, as "PART: KIND", for an
// exercise's last page.
func (b *Bench) Hidden() []string {
	b.mu.Lock()
	defer b.mu.Unlock()
	var names []string
	for i, f := range b.eq.faults {
		if !b.cured[i] {
			names = append(names, f.name+": "+f.kind)
		}
	}
	return names
}

// disturb draws anew which intermittent faults show, and builds the equipment
// as it then stands.
func (b *Bench) disturb() {
	if b.cured == nil {
		b.cured = make([]bool, len(b.eq.faults))
	}
	b.touch++
	chance := random(b.eq.seed, b.touch, "faults")
	var shown []fault
	for i, f := range b.eq.faults {
		draw := chance.Float64() // drawn for each, so that a cure moves no other fault's luck
		if !b.cured[i] && draw < f.chance {
			shown = append(shown, f)
		}
	}
	touch := b.touch
	b.world = newWorld(b.eq, shown, func() noise { return noise{random(b.eq.seed, touch, "source reading DDC")} })
}

// Connect opens the chain at a plug, such as "c2.display", and puts the bench
// in there: facing "up" with its in port, which stands for the display, or
// facing "down" with its out port, which stands for the source. Where the
// bench was before is closed again. Each call is a touch: it decides anew
// whether intermittent faults show. A plug that had come out is in again
// afterwards, since the bench's visit puts it right.
func (b *Bench) Connect(plug, facing string) error {
	b.mu.Lock()
	defer b.mu.Unlock()
	p, err := b.eq.parsePlug(plug)
	switch {
	case err != nil:
		return fmt.Errorf("connect: there is no plug %q; the plugs are %v", plug, b.Plugs())
	case b.eq.links[p.index].kind != "hdmi":
		return fmt.Errorf("connect: %s is a panel link, and the bench has HDMI only", plug)
	case facing != "up" && facing != "down":
		return fmt.Errorf("connect: the bench faces up or down, not %q", facing)
	}
	b.unplug()
	for i, f := range b.eq.faults {
		if f.part == p && f.kind == "unplugged" {
			b.cured[i] = true
		}
	}
	b.at, b.plug, b.down = &p, plug, facing == "down"
	b.disturb()
	b.send(ddc.Plugged, b.portAt())
	if !b.down {
		b.send(ddc.SignalChanged, inPort)
	}
	return nil
}

// Disconnect takes the bench out and closes the chain. It does nothing where
// the bench is not put in.
func (b *Bench) Disconnect() {
	b.mu.Lock()
	defer b.mu.Unlock()
	if b.at != nil {
		b.unplug()
		b.disturb()
	}
}

func (b *Bench) unplug() {
	if b.at == nil {
		return
	}
	port := b.portAt()
	b.at, b.plug = nil, ""
	b.send(ddc.Unplugged, port)
}

// Connected is where the bench is put in: the plug and "up" or "down", or two
// empty strings.
func (b *Bench) Connected() (plug, facing string) {
	b.mu.Lock()
	defer b.mu.Unlock()
	switch {
	case b.at == nil:
		return "", ""
	case b.down:
		return b.plug, "down"
	}
	return b.plug, "up"
}

func (b *Bench) portAt() string {
	if b.down {
		return outPort
	}
	return inPort
}

// Repair carries out a repair: reseat, swap, reset, set-mode or rewrite-edid
// on a part named as in a fault. A repair does not say whether it helped. A
// swapped stage comes with a good EDID, a swapped cable with good plugs. It
// is a touch, as Connect is.
func (b *Bench) Repair(partName, action string) error {
	b.mu.Lock()
	defer b.mu.Unlock()
	p, err := b.eq.parsePart(partName)
	if err != nil {
		return fmt.Errorf("repair: %w", err)
	}
	if !slices.Contains(actions, Action(action)) {
		return fmt.Errorf("repair: unknown action %q; known are %v", action, actions)
	}
	for i, f := range b.eq.faults {
		if slices.Contains(f.curedBy, Action(action)) && b.eq.reaches(p, Action(action), f.part) {
			b.cured[i] = true
		}
	}
	b.disturb()
	if b.at != nil && !b.down {
		b.send(ddc.SignalChanged, inPort)
	}
	return nil
}

// reaches reports whether an action on the part done also acts on the part p.
func (eq *equipment) reaches(done part, a Action, p part) bool {
	if done == p {
		return true
	}
	switch {
	case done.kind == linkPart && p.kind == plugPart: // a cable is reseated or swapped with its plugs
		return done.index == p.index && (a == Reseat || a == Swap)
	case done.kind == stagePart && p.kind == edidPart: // the memory sits on the board
		return done.index == p.index
	case done.kind == stagePart && p.kind == modePart:
		return done.index == p.index && a != Swap
	case done.kind == edidPart && p.kind == stagePart: // a power cycle for the EDID is one for the board
		return done.index == p.index && a == Reset
	case done.kind == railPart && a == Reset:
		stage := eq.stages[p.index].id
		return (p.kind == stagePart || p.kind == edidPart || p.kind == modePart) &&
			slices.Contains(eq.rails[done.index].feeds, stage)
	}
	return false
}

// Ports lists the in port and the out port.
func (b *Bench) Ports(context.Context) ([]ddc.Port, error) {
	b.mu.Lock()
	defer b.mu.Unlock()
	if b.closed {
		return nil, errClosed
	}
	ports := []ddc.Port{&receiver{b}}
	if !b.gone {
		ports = append(ports, &output{b})
	}
	return ports, nil
}

var errClosed = errors.New("the simulated bench is closed")

// Close ends all watching. It may be called again.
func (b *Bench) Close() error {
	b.mu.Lock()
	defer b.mu.Unlock()
	b.closed = true
	for _, w := range b.watchers {
		w.stop()
	}
	b.watchers = nil
	return nil
}

// eventTime is a made-up clock that ticks once an event, so that runs are
// alike.
func (b *Bench) eventTime() time.Time {
	b.events++
	return time.Unix(1_700_000_000+int64(b.events), 0).UTC()
}

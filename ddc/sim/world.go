package sim

import (
	"hash/fnv"
	"math/rand/v2"
	"slices"

	"deadhop/edid/timing"
)

// world is the equipment as it stands between two touches: the faults that
// show are put in, the rest is whole. It is made anew at each touch, because
// a touch is what decides whether an intermittent fault shows.
type world struct {
	eq      *equipment
	boards  []node   // without panels
	cables  []run    // by link
	plugs   [][2]run // the cable's half of each contact: source end, display end
	sockets [][2]run // the board's half
	lead    run
	panel   panelRun
	screen  panelState
	short   []bool // stages whose supply input is shorted
	off     []bool // stages whose own supply part is dead
	supply  []supplyState
}

type supplyState uint8

const (
	supplyGood supplyState = iota
	supplySagging
	supplyDead
)

// random is a stream of chance of its own for each purpose and touch.
func random(seed, touch uint64, purpose string) *rand.Rand {
	h := fnv.New64a()
	h.Write([]byte(purpose))
	return rand.New(rand.NewPCG(seed^h.Sum64(), touch))
}

// newWorld puts the shown faults into the equipment.
func newWorld(eq *equipment, shown []fault, luck func() noise) *world {
	w := &world{eq: eq, short: make([]bool, len(eq.stages)), off: make([]bool, len(eq.stages)),
		supply: make([]supplyState, len(eq.rails))}
	for _, l := range eq.links {
		w.cables = append(w.cables, run{picofarads: l.picofarads})
		w.plugs, w.sockets = append(w.plugs, [2]run{}), append(w.sockets, [2]run{})
	}
	// Supplies first: a board is built as powered or not.
	for _, f := range shown {
		w.injectSupply(f)
	}
	for i := range eq.stages {
		w.addBoard(i, luck)
	}
	for _, f := range shown {
		w.inject(f)
	}
	return w
}

func (w *world) addBoard(i int, luck func() noise) {
	b := &w.eq.stages[i]
	powered := w.powered(i)
	switch b.kind {
	case "source":
		w.boards = append(w.boards, &sourceBoard{board: b, running: powered, luck: luck})
	case "switch", "extender":
		p := &repeater{board: b, powered: powered}
		if b.ddc == "answers" {
			p.store = newStore(slices.Clone(b.edid))
		}
		w.boards = append(w.boards, p)
	case "scaler":
		w.boards = append(w.boards, &scalerBoard{board: b, powered: powered, store: newStore(slices.Clone(b.edid))})
	}
}

// volts is what a rail delivers.
func (w *world) volts(r int) float64 {
	for _, id := range w.eq.rails[r].feeds {
		if w.short[w.eq.stage(id)] {
			return 0 // the brick's protection holds it down
		}
	}
	switch v := w.eq.rails[r].volts; w.supply[r] {
	case supplyDead:
		return 0
	case supplySagging:
		return 0.75 * v
	default:
		return v
	}
}

// supplied reports whether the rails that feed a stage are within 0.85 of
// their volts. A stage that no rail feeds has a supply of its own.
func (w *world) supplied(stage int) bool {
	for i, r := range w.eq.rails {
		if slices.Contains(r.feeds, w.eq.stages[stage].id) && w.volts(i) < 0.85*r.volts {
			return false
		}
	}
	return true
}

func (w *world) powered(stage int) bool { return w.supplied(stage) && !w.off[stage] }

// cord is a cable with its own half of the contacts at both ends.
func (w *world) cord(i int) run { return w.plugs[i][0].then(w.cables[i]).then(w.plugs[i][1]) }

// links are the links from one on, up to another, with every contact made.
func (w *world) links(from, to int) []run {
	var runs []run
	for i := from; i < to; i++ {
		runs = append(runs, w.sockets[i][0].then(w.cord(i)).then(w.sockets[i][1]))
	}
	return runs
}

// closed is the whole chain with every plug in.
func (w *world) closed() assembly {
	return assembly{w.boards, w.links(0, len(w.boards)-1)}
}

// upTo is the chain up to a plug, with a display on the bench's lead there:
// at the cable's end, or in the socket of the board before it.
func (w *world) upTo(p part, d node) assembly {
	last := w.sockets[p.index][0]
	if p.display {
		last = last.then(w.cord(p.index))
	}
	return assembly{
		nodes: append(slices.Clone(w.boards[:p.index+1]), d),
		runs:  append(w.links(0, p.index), last.then(w.lead)),
	}
}

// downFrom is the chain from a plug on, with the bench as its source: at the
// cable's end, or in the socket of the board after it.
func (w *world) downFrom(p part) assembly {
	first := w.lead
	if !p.display {
		first = first.then(w.cord(p.index))
	}
	return assembly{
		nodes: append([]node{benchSource{}}, w.boards[p.index+1:]...),
		runs:  append([]run{first.then(w.sockets[p.index][1])}, w.links(p.index+1, len(w.boards)-1)...),
	}
}

// watch is what a receiver at the end of an assembly makes of it.
func (a assembly) watch(fits func(timing.Timing) bool) (state, reception) {
	s := a.solve()
	return s, receive(s.in[len(a.nodes)-1], fits)
}

func upTo(limit timing.Freq) func(timing.Timing) bool {
	return func(t timing.Timing) bool { return t.PixelClock.Cmp(limit) <= 0 }
}

func (l *limitSpec) fits(t timing.Timing) bool {
	if l == nil {
		return true
	}
	within := func(limit []float64, v float64) bool { return limit == nil || v >= limit[0] && v <= limit[1] }
	return within(l.LineKHz, t.LineRate().Float()/1000) && within(l.FieldHz, t.FieldRate().Float()) &&
		(l.MaxClockKHz == 0 || t.PixelClock.Float()/1000 <= float64(l.MaxClockKHz))
}

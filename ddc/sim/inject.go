package sim

import "slices"

// injectSupply puts in what decides whether boards are powered.
func (w *world) injectSupply(f fault) {
	switch f.kind {
	case "no-output":
		w.supply[f.part.index] = supplyDead
	case "capacitors":
		w.supply[f.part.index] = supplySagging
	case "supply-short":
		w.short[f.part.index] = true
	case "regulator":
		w.off[f.part.index] = true
	}
}

// inject puts every other fault where it sits.
func (w *world) inject(f fault) {
	switch p := f.part; p.kind {
	case linkPart:
		if w.eq.links[p.index].kind == "panel" {
			w.panel.inject(f)
		} else {
			w.cables[p.index].inject(f)
		}
	case plugPart:
		end := 0
		if p.display {
			end = 1
		}
		if w.eq.links[p.index].kind == "panel" {
			w.panel.inject(f)
		} else if f.socket {
			w.sockets[p.index][end].inject(f)
		} else {
			w.plugs[p.index][end].inject(f)
		}
	case leadPart:
		w.lead.inject(f)
	case modePart, edidPart:
		w.misconfigure(f)
	case stagePart:
		if w.eq.stages[p.index].kind == "panel" {
			w.screen.inject(f)
			return
		}
		switch b := w.boards[p.index].(type) {
		case *sourceBoard:
			b.inject(f)
		case *repeater:
			b.inject(f)
		case *scalerBoard:
			b.inject(f)
		}
	}
}

func (r *run) inject(f fault) {
	switch f.kind {
	case "loose", "unplugged":
		wires := f.wires
		if wires == nil {
			for x := range wireCount {
				wires = append(wires, x)
			}
		}
		for _, x := range wires {
			r.open[x] = true
		}
	case "wire-open":
		for _, x := range f.wires {
			r.open[x] = true
		}
	case "wire-resistive":
		for _, x := range f.wires {
			r.ohms[x] += f.ohms
		}
	case "pair-open":
		for _, x := range f.pairs {
			r.open[x] = true
		}
	case "pair-lossy":
		for _, x := range f.pairs {
			r.aboveKHz[x] = f.above
		}
	}
}

func (r *panelRun) inject(f fault) {
	switch f.kind {
	case "lane-open":
		r.laneOpen[f.lane] = true
	case "vdd-open":
		r.vddOpen = true
	case "light-wire-open":
		r.lightOpen = true
	case "loose", "unplugged":
		*r = panelRun{laneOpen: [4]bool{true, true, true, true}, clockOpen: true, vddOpen: true, lightOpen: true}
	}
}

// misconfigure changes a setting: the mode that a source is fixed to, or the
// bytes of an EDID.
func (w *world) misconfigure(f fault) {
	switch b := w.boards[f.part.index].(type) {
	case *sourceBoard:
		if f.kind == "wrong-mode" {
			changed := *b.board
			changed.mode = &f.mode
			b.board = &changed
		}
	case *repeater:
		b.store = f.edited(b.store)
	case *scalerBoard:
		b.store = f.edited(b.store)
	}
}

func (f fault) edited(s *store) *store {
	switch {
	case f.edid != nil:
		return newStore(slices.Clone(f.edid))
	case s == nil:
		return nil
	}
	for _, c := range f.bytes {
		if c.At < len(s.data) {
			s.data[c.At] = byte(c.Is)
		}
	}
	return s
}

func (o *outputStage) inject(f fault) {
	switch f.kind {
	case "output-driver":
		for _, x := range f.pairs {
			o.dead[x] = true
		}
	case "five-volts-open":
		o.limiterOpen = true
	case "pull-up-missing":
		o.noPullUp = true
	}
}

func (s *sourceBoard) inject(f fault) {
	s.outputStage.inject(f)
	switch f.kind {
	case "no-boot", "hung":
		s.running = false
	case "black-output":
		s.content = contentBlack
	case "frozen-output":
		s.content = contentFrozen
	}
}

func (p *repeater) inject(f fault) {
	p.outputStage.inject(f)
	switch f.kind {
	case "port-dead":
		p.portDead = true
	case "ddc-buffer-dead":
		p.ddcDead = true
	case "hot-plug-dead":
		p.hotPlugDead = true
	case "hung": // the board's controller enables neither path
		p.ddcDead, p.hotPlugDead = true, true
		p.dead = [4]bool{true, true, true, true}
	case "unsteady":
		p.jumpy = true
	case "sda-stuck":
		p.sdaLow = true
	case "scl-stuck":
		p.sclLow = true
	case "five-volts-short":
		p.shorted = true
	}
}

func (s *scalerBoard) inject(f fault) {
	switch f.kind {
	case "hung": // lit and deaf: the input is never switched on
		s.inputDead, s.outputDead = true, true
	case "input-dead":
		s.inputDead = true
	case "edid-store-dead":
		s.storeDead = true
	case "hot-plug-dead":
		s.hotPlugDead = true
	case "sda-stuck":
		s.sdaLow = true
	case "scl-stuck":
		s.sclLow = true
	case "five-volts-short":
		s.shorted = true
	case "panel-table":
		s.wrongTable = true
	case "panel-output":
		s.outputDead = true
	case "sound-stage":
		s.muted = true
	}
}

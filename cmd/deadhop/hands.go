package main

import (
	"bufio"
	"context"
	"errors"
	"fmt"
	"strings"
	"time"

	"deadhop/chain"
	"deadhop/ddc"
	"deadhop/ddc/sim"
)

// hands are what a guided run needs of a person: to plug the bench in, to
// answer a question, to carry out a repair.
type hands interface {
	plugIn(ctx context.Context, port ddc.Port, plug chain.Plug, facing chain.Facing) error
	answer(ctx context.Context, h *chain.HandCheck) error
	repair(ctx context.Context, step *chain.Step) (chain.Outcome, error)
}

var (
	errQuit = errors.New("stopped by the technician")
	errSkip = errors.New("left out")
)

func now() string { return time.Now().UTC().Format(time.RFC3339) }

// present shows the EDID on a receiver unless it shows that one already.
// Withdrawing and showing it anew would make every source blank for nothing.
func (a *app) present(ctx context.Context, in ddc.In, edid []byte) error {
	if edid == nil {
		return nil
	}
	if has, err := in.PresentedEDID(ctx); err == nil && string(has) == string(edid) {
		return nil
	}
	return in.PresentEDID(ctx, edid)
}

// personHands is the technician: he presses a key and Enter, and his plugs
// are seen to arrive by the bench's events.
type personHands struct {
	a         *app
	lines     <-chan string
	events    <-chan ddc.Event
	simulated *sim.Bench
}

func newPersonHands(ctx context.Context, a *app, bench ddc.Bench) (*personHands, error) {
	events, err := bench.Watch(ctx)
	if err != nil {
		a.log.Warn().Err(err).Msg("no events from the bench: plugs are confirmed with Enter")
		events = nil
	}
	lines := make(chan string)
	go func() {
		defer close(lines)
		s := bufio.NewScanner(a.in)
		for s.Scan() {
			select {
			case lines <- strings.TrimSpace(s.Text()):
			case <-ctx.Done():
				return
			}
		}
	}()
	return &personHands{a: a, lines: lines, events: events}, nil
}

func (p *personHands) sayf(format string, args ...any) {
	w := p.a.out
	if p.a.json {
		w = p.a.err
	}
	fmt.Fprintf(w, format, args...)
}

// settleAfterPlug lets the contacts of a plug that was just pushed in come to
// rest, and a source wake up.
const settleAfterPlug = 700 * time.Millisecond

func (p *personHands) plugIn(ctx context.Context, port ddc.Port, plug chain.Plug, facing chain.Facing) error {
	if p.simulated != nil {
		if err := connectSim(p.simulated, plug, facing); err != nil {
			return err
		}
	}
	p.drain()
	p.sayf("   Put it into %s. I go on when I see it; press Enter if nothing happens,\n   - to leave it out, q to stop.\n", port.Info().ID)
	for {
		select {
		case <-ctx.Done():
			return ctx.Err()
		case line, ok := <-p.lines:
			if err := command(line, ok); err != nil {
				return err
			}
			if line == "" {
				return nil
			}
			p.sayf("   Enter, - or q?\n")
		case ev, ok := <-p.events:
			if !ok {
				p.events = nil
				continue
			}
			if ev.Port != port.Info().ID || ev.Kind == ddc.Unplugged {
				continue
			}
			p.sayf("   %s: something arrived\n", ev.Port)
			return pause(ctx, settleAfterPlug)
		}
	}
}

// drain throws away events of before the question.
func (p *personHands) drain() {
	for {
		select {
		case _, ok := <-p.events:
			if !ok {
				p.events = nil
				return
			}
		default:
			return
		}
	}
}

func (p *personHands) line(ctx context.Context) (string, error) {
	select {
	case <-ctx.Done():
		return "", ctx.Err()
	case line, ok := <-p.lines:
		return line, command(line, ok)
	}
}

// command knows the two keys that are always there. A closed input stops the
// run: nobody is there any more.
func command(line string, ok bool) error {
	switch {
	case !ok, line == "q":
		return errQuit
	case line == "-":
		return errSkip
	}
	return nil
}

func (p *personHands) answer(ctx context.Context, h *chain.HandCheck) error {
	words := h.Kind.Answers()
	keys := keysFor(words)
	if h.Kind == chain.CheckDisplay {
		yes := chain.Reading[bool]{State: chain.Measured, Value: true}
		p.sayf("   Its input is selected, its cable is proven, and it takes what the source sends.\n")
		h.InputSelected, h.CableProven, h.TimingAccepted = yes, yes, yes
	}
	for {
		if len(words) == 0 {
			p.sayf("   volts (- to leave it out, q to stop): ")
		} else {
			var offers []string
			for i, w := range words {
				offers = append(offers, keys[i]+" "+w)
			}
			p.sayf("   %s (- to leave it out, q to stop): ", strings.Join(offers, ", "))
		}
		line, err := p.line(ctx)
		if err != nil {
			return err
		}
		if len(words) == 0 {
			if err := answerCheck(h, line); err != nil {
				p.sayf("   %v\n", err)
				continue
			}
			return nil
		}
		for i, w := range words {
			if line == keys[i] || line == w {
				h.Answer = w
				return nil
			}
		}
	}
}

// keysFor gives each word a key of its own: its first letter that is free.
func keysFor(words []string) []string {
	keys, taken := make([]string, len(words)), map[string]bool{"q": true, "-": true}
	for i, w := range words {
		for _, r := range w {
			if k := string(r); !taken[k] {
				keys[i], taken[k] = k, true
				break
			}
		}
	}
	return keys
}

func (p *personHands) repair(ctx context.Context, step *chain.Step) (chain.Outcome, error) {
	for {
		p.sayf("   Done, and does the unit work now? y yes, n no, u done but not checked (- to leave it out, q to stop): ")
		line, err := p.line(ctx)
		if err != nil {
			return chain.NotChecked, err
		}
		switch line {
		case "y":
			return chain.Works, nil
		case "n":
			return chain.StillBad, nil
		case "u":
			return chain.NotChecked, nil
		}
	}
}

func pause(ctx context.Context, d time.Duration) error {
	t := time.NewTimer(d)
	defer t.Stop()
	select {
	case <-ctx.Done():
		return ctx.Err()
	case <-t.C:
		return nil
	}
}

// simHands does what a technician would do, on a simulated bench.
type simHands struct {
	bench *sim.Bench
	say   func(format string, args ...any)
}

func (s *simHands) plugIn(_ context.Context, port ddc.Port, plug chain.Plug, facing chain.Facing) error {
	s.say("   (simulated: plugged into %s)", port.Info().ID)
	return connectSim(s.bench, plug, facing)
}

func (s *simHands) answer(_ context.Context, h *chain.HandCheck) error {
	q, target, ok := simQuestion(h)
	if !ok {
		return errSkip
	}
	got, err := s.bench.Ask(q, target)
	if err != nil {
		return badInput(err)
	}
	simAnswer(h, got)
	if h.Kind != chain.CheckSupply && h.Answer == "" {
		return errSkip
	}
	if h.Kind == chain.CheckSupply {
		s.say("   (simulated) %.2f V", h.Volts)
	} else {
		s.say("   (simulated) %s", h.Answer)
	}
	return nil
}

// simQuestion is the simulated bench's name for a check; ok is false for what
// it does not know.
func simQuestion(h *chain.HandCheck) (q sim.Question, target string, ok bool) {
	switch h.Kind {
	case chain.CheckIndicators:
		return sim.IndicatorsLit, h.At, true
	case chain.CheckSupply:
		return sim.SupplyVolts, "rail:" + strings.TrimPrefix(h.At, "rail:"), true
	case chain.CheckBacklight:
		return sim.BacklightOn, "", true
	case chain.CheckTorch:
		return sim.FaintPicture, "", true
	case chain.CheckMenu:
		return sim.MenuVisible, "", true
	case chain.CheckScreen:
		return sim.OwnScreen, "", true
	case chain.CheckSpeaker:
		return sim.OwnSound, "", true
	case chain.CheckDisplay:
		return sim.GoodDisplay, h.At, true
	case chain.CheckWiggle:
		return sim.WiggleSpotted, h.At, true
	}
	return "", "", false
}

func simAnswer(h *chain.HandCheck, got sim.Answer) {
	pick := func(yes, no string) {
		h.Answer = no
		if got.Yes {
			h.Answer = yes
		}
	}
	switch h.Kind {
	case chain.CheckSupply:
		h.Volts = got.Volts
	case chain.CheckIndicators, chain.CheckBacklight:
		pick("lit", "dark")
	case chain.CheckTorch:
		pick("picture", "nothing")
	case chain.CheckMenu:
		pick("shows", "missing")
	case chain.CheckSpeaker:
		pick("sound", "silent")
	case chain.CheckWiggle:
		pick("comes", "no-change")
	case chain.CheckDisplay:
		pick("picture", "nothing")
		yes := chain.Reading[bool]{State: chain.Measured, Value: true}
		h.InputSelected, h.CableProven, h.TimingAccepted = yes, yes, yes
	case chain.CheckScreen:
		h.Answer = screenWord(got.Screen)
	}
}

// screenWord is what a person would call it; "" for what none of the words
// fits, which is then left out. A message of the display's own is no picture.
func screenWord(s sim.Screen) string {
	switch s {
	case sim.ScreenPicture:
		return "good"
	case sim.ScreenWhite:
		return "white"
	case sim.ScreenLines, sim.ScreenBand, sim.ScreenGarbled:
		return "lines"
	case sim.ScreenBlack, sim.ScreenDark, sim.ScreenMessage:
		return "black"
	}
	return ""
}

func (s *simHands) repair(_ context.Context, step *chain.Step) (chain.Outcome, error) {
	if err := s.bench.Repair(step.Part, string(simAction(step.Repair))); err != nil {
		return chain.NotChecked, badInput(err)
	}
	got, err := s.bench.Ask(sim.OwnScreen, "")
	if err != nil {
		return chain.NotChecked, badInput(err)
	}
	if got.Yes {
		s.say("   (simulated) done; the unit works now")
		return chain.Works, nil
	}
	s.say("   (simulated) done; the unit still does not work")
	return chain.StillBad, nil
}

// simAction is the simulated bench's word for a repair of the catalogue.
func simAction(repair string) sim.Action {
	switch {
	case repair == "reseat":
		return sim.Reseat
	case repair == "set-mode":
		return sim.SetMode
	case repair == "rewrite-edid":
		return sim.RewriteEDID
	case repair == "power-cycle":
		return sim.Reset
	}
	return sim.Swap
}

package chain

import (
	"fmt"
	"math"
	"slices"
	"sort"
	"strings"
)

// Thresholds of the words in a report. Estimates.
const (
	sureHealthy  = 0.9 // nothing wrong at least this likely: healthy
	sureFault    = 0.9 // a fault at least this likely: fault found
	nameHop      = 0.6 // this share of the fault at one hop names it
	leastSuspect = 0.005
)

// Diagnose draws every conclusion from the evidence. It is pure: the same
// evidence gives the same report. Evidence that does not fit the chain is set
// aside and named; Evidence.Validate reports it beforehand.
func Diagnose(c *Chain, cat *Catalogue, ev Evidence) Report {
	r := Report{Version: ReportVersion, Equipment: c.Equipment, Findings: []Finding{}, Overlap: []string{},
		Suspects: []Suspect{}, Next: []Step{}, Contradictions: []Contradiction{}}
	ev = r.setAside(c, cat, ev)
	b := newBelief(c, cat)
	b.take(ev)
	any := len(ev.Checks)+len(ev.Actions) > 0
	epoch := ev.lastEpoch()
	for i := range ev.Looks {
		found, seen := c.judgeLook(&ev.Looks[i])
		any = any || seen
		if ev.Looks[i].Epoch == epoch {
			r.Findings = append(r.Findings, found...)
		}
	}
	r.Findings = append(r.Findings, c.judgeChecks(ev, epoch)...)
	r.boundaries(c, b, ev)
	r.suspects(b)
	r.name(c, b, any)
	r.Next = nextSteps(b, ev)
	r.contradictions(c, b, ev)
	return r
}

// setAside drops evidence that cannot be of this chain and says so.
func (r *Report) setAside(c *Chain, cat *Catalogue, ev Evidence) Evidence {
	keep := func(one Evidence, what string) bool {
		err := one.Validate(c, cat)
		if err != nil {
			r.Contradictions = append(r.Contradictions, Contradiction{Sentence: fmt.Sprintf("Set aside: %v.", err), Looks: []string{what}})
		}
		return err == nil
	}
	var out Evidence
	for _, l := range ev.Looks {
		if keep(Evidence{Looks: []Look{l}}, l.Plug) {
			out.Looks = append(out.Looks, l)
		}
	}
	for _, h := range ev.Checks {
		if keep(Evidence{Checks: []HandCheck{h}}, string(h.Kind)) {
			out.Checks = append(out.Checks, h)
		}
	}
	for _, a := range ev.Actions {
		if keep(Evidence{Actions: []Action{a}}, a.Part) {
			out.Actions = append(out.Actions, a)
		}
	}
	return out
}

// take updates the belief epoch by epoch: the repair that opens it, then its
// looks, then its checks.
func (b *belief) take(ev Evidence) {
	for e := 0; e <= ev.lastEpoch(); e++ {
		for _, a := range ev.Actions {
			if a.Epoch == e {
				b.act(a)
			}
		}
		for i := range ev.Looks {
			if ev.Looks[i].Epoch == e {
				b.update(b.c.observeLook(&ev.Looks[i]))
			}
		}
		for i := range ev.Checks {
			if ev.Checks[i].Epoch == e {
				b.update(b.c.observeCheck(&ev.Checks[i], b.cat))
			}
		}
	}
}

func (c *Chain) judgeChecks(ev Evidence, epoch int) (found []Finding) {
	for _, h := range ev.Checks {
		if h.Epoch != epoch {
			continue
		}
		say := ""
		switch {
		case h.Kind == CheckIndicators && h.Answer == "dark":
			say = "the indicators of " + h.At + " are dark"
		case h.Kind == CheckSupply && c.observeCheck(&h, &Catalogue{}).rungs[handSupply] == failed:
			say = fmt.Sprintf("supply %s measures %.2f V, outside its limits", strings.TrimPrefix(h.At, "rail:"), h.Volts)
		case h.Kind == CheckBacklight && h.Answer == "dark":
			say = "the backlight is dark"
		case h.Kind == CheckTorch && h.Answer == "picture":
			say = "a faint picture shows by torch"
		case h.Kind == CheckMenu && h.Answer == "missing":
			say = "the scaler's menu does not show"
		case h.Kind == CheckScreen && h.Answer != "good":
			say = "the unit's own screen: " + h.Answer
		case h.Kind == CheckSpeaker && h.Answer == "silent":
			say = "the unit's own speaker is silent"
		case h.Kind == CheckDisplay && h.Answer != "picture":
			say = "a known-good display shows nothing at " + c.whereName(h.At)
		case h.Kind == CheckWiggle && h.Answer == "comes":
			say = "moving " + h.At + " brings the trouble on"
		case h.Kind == CheckTemperature && h.Answer != "no-difference":
			say = "it fails when " + h.Answer
		default:
			continue
		}
		found = append(found, Finding{Plug: h.At, Reading: string(h.Kind), Epoch: h.Epoch, Sentence: "By hand: " + say + "."})
	}
	return found
}

func (r *Report) boundaries(c *Chain, b *belief, ev Evidence) {
	up, down := c.witnesses(ev)
	var fs, rs span
	var fbad, rbad bool
	r.Forward, fs, fbad = c.forward(up)
	r.Return, rs, rbad = c.backward(down)
	complaint := slices.ContainsFunc(ev.Checks, func(h HandCheck) bool {
		return h.Epoch == ev.lastEpoch() && (h.Kind == CheckScreen && h.Answer != "good" || h.Kind == CheckMenu && h.Answer == "missing" || h.Kind == CheckBacklight && h.Answer == "dark")
	})
	handBad := !fbad && !rbad && complaint
	if handBad {
		// The unit's own screen is the far end of the forward direction.
		r.Forward.FirstBad, fbad = "", true
		r.Forward.Sentence += " The unit's own screen is bad, so the trouble is beyond."
		fs.hi = c.end()
	}
	// The lead is cleared by a good look in each direction that is bad.
	leadClear := len(ev.Looks) == 0 || (!fbad || anyGood(up)) && (!rbad || anyGood(down))
	explains := b.explainers()
	names := func(s span) []string {
		out := []string{}
		for i := range b.parts {
			if p := &b.parts[i]; p.Kind != PartLead && s.has(p) {
				out = append(out, p.ID)
			}
		}
		return out
	}
	r.Forward.Parts, r.Return.Parts = []string{}, []string{}
	if fbad {
		r.Forward.Parts = names(fs)
	}
	if rbad {
		r.Return.Parts = names(rs)
	}
	if over, sentence, disjoint := c.overlap(b.parts, fs, rs, fbad, rbad, leadClear || handBad, explains); over != nil {
		r.Overlap, r.OverlapSentence = over, sentence
		if disjoint {
			r.Contradictions = append(r.Contradictions, Contradiction{Sentence: sentence, Looks: []string{r.Forward.FirstBad, r.Return.FirstBad}})
		}
	}
	switch {
	case len(up)+len(down) == 0 && !handBad:
		r.OverlapSentence = "Nothing was looked at, so no part is named."
	case !fbad && !rbad:
		r.OverlapSentence = "Nothing bad was seen."
	}
}

// explainers says which parts can go with everything that was seen: the
// likelihood of their best mode is not negligible beside the best of all.
func (b *belief) explainers() func(part int) bool {
	const negligible = 1e-3
	best := make([]float64, len(b.parts))
	for i := range best {
		best[i] = math.Inf(-1)
	}
	top := math.Inf(-1)
	for h, y := range b.hyp {
		if y.a < 0 || y.b >= 0 {
			continue
		}
		w := b.logw[h] - math.Log(b.inst[y.a].weight)
		best[b.inst[y.a].part] = max(best[b.inst[y.a].part], w)
		top = max(top, w)
	}
	return func(part int) bool { return best[part] > top+math.Log(negligible) }
}

func (r *Report) suspects(b *belief) {
	p := make([]float64, len(b.inst))
	alone := make([]float64, len(b.inst))
	for h, y := range b.hyp {
		w := math.Exp(b.logw[h])
		if y.a < 0 {
			r.NothingWrong += w
			continue
		}
		gone := 0.0 // the part of the hypothesis in which nothing is left
		st := &b.state[h]
		if y.b < 0 {
			gone = st[0] + st[1] + st[2]
			still := st[states] + st[states+1] + st[states+2] + st[2*states] + st[2*states+1] + st[2*states+2]
			p[y.a] += w * still
			alone[y.a] += w * still
			r.NothingWrong += w * gone
			continue
		}
		for i := range states {
			for k := range states {
				m := w * st[i*states+k]
				switch {
				case i == cured && k == cured:
					r.NothingWrong += m
				case i == cured:
					p[y.b] += m
					alone[y.b] += m
				case k == cured:
					p[y.a] += m
					alone[y.a] += m
				default:
					p[y.a] += m
					p[y.b] += m
				}
			}
		}
	}
	for i := range b.inst {
		if p[i] < leastSuspect {
			continue
		}
		part, m := b.partOf(int32(i)), b.modeOf(int32(i))
		r.Suspects = append(r.Suspects, Suspect{Part: part.ID, Name: part.Name, Mode: m.ID, ModeName: m.Name, P: p[i], Alone: alone[i],
			Confirm: m.Confirm, Sentence: fmt.Sprintf("%s: %s (%.0f %%).", upperFirst(part.Name), m.Name, 100*p[i])})
	}
	sort.SliceStable(r.Suspects, func(i, k int) bool { return r.Suspects[i].P > r.Suspects[k].P })
}

func upperFirst(s string) string {
	if s == "" {
		return s
	}
	return strings.ToUpper(s[:1]) + s[1:]
}

// name gives the verdict and, where it can, the hop.
func (r *Report) name(c *Chain, b *belief, any bool) {
	switch {
	case !any:
		r.Verdict, r.Summary = NothingSeen, "Nothing was looked at yet: nothing can be said."
		return
	case len(r.Findings) > 0 && r.NothingWrong < 1-sureFault:
		r.Verdict = FaultFound
	case len(r.Findings) == 0 && r.NothingWrong >= sureHealthy:
		r.Verdict, r.Summary = Healthy, "Everything that was looked at is as it should be."
		return
	default:
		r.Verdict = Inconclusive
	}
	r.hop(c, b)
	switch {
	case r.Hop != nil:
		r.Summary = r.Hop.Sentence
	case len(r.Suspects) > 0:
		r.Summary = "The hop is not named yet. First suspect: " + r.Suspects[0].Sentence
	default:
		r.Summary = "No part stands out."
	}
}

// hop names the link round which most of the fault lies: its cable and
// plugs, and the stage that it enters. Supplies and settings count where
// they reach it.
func (r *Report) hop(c *Chain, b *belief) {
	if r.Verdict != FaultFound || len(r.Suspects) == 0 {
		return
	}
	mass := make([]float64, len(c.Links))
	total := 0.0
	for _, s := range r.Suspects {
		total += s.P
		for i := range c.Links {
			for k := range b.parts {
				p := &b.parts[k]
				if p.ID == s.Part && (p.At >= linkPlace(i)-1 && p.At <= stagePlace(i+1) || i == 0 && p.At == 0) {
					mass[i] += s.P
				}
			}
		}
	}
	best := 0
	for i := range mass {
		if mass[i] > mass[best] {
			best = i
		}
	}
	if total <= 0 || mass[best]/total < nameHop {
		return
	}
	// Odds alone name no hop: the looks must have closed in on it.
	for _, id := range r.Overlap {
		at := c.partPlace(id)
		if at >= 0 && !strings.HasPrefix(id, "setting:") && (at < stagePlace(best)-1 || at > stagePlace(best+1)+1) {
			return
		}
	}
	l := c.Links[best]
	from, to := c.Stages[best], c.Stages[best+1]
	r.Hop = &Hop{Link: l.ID, From: from.ID, To: to.ID}
	r.Hop.Sentence = fmt.Sprintf("The signal dies at the hop %s, from %s to %s; first suspect: %s", l.ID, from.title(), to.title(), r.Suspects[0].Sentence)
}

// contradictions names looks that do not go together: a good one beyond a bad
// one in the same epoch, or the same plug seen in two ways untouched.
func (r *Report) contradictions(c *Chain, b *belief, ev Evidence) {
	up, down := c.witnesses(ev)
	check := func(ws []witness, word string, beyond func(good, bad witness) bool) {
		for _, g := range ws {
			if g.bad {
				continue
			}
			for _, w := range ws {
				if !w.bad {
					continue
				}
				switch {
				case g.name == w.name:
					r.Contradictions = append(r.Contradictions, Contradiction{Looks: []string{g.name, w.name},
						Sentence: fmt.Sprintf("Looking %s at %s was once good and once bad with nothing repaired between: an intermittent fault, or a stale look.", word, g.name)})
				case beyond(g, w):
					r.Contradictions = append(r.Contradictions, Contradiction{Looks: []string{g.name, w.name},
						Sentence: fmt.Sprintf("Looking %s, %s is good although %s, which lies on its way, is bad: an intermittent fault, a stale look, or two faults.", word, g.name, w.name)})
				}
			}
		}
	}
	check(up, "up", func(g, w witness) bool { return g.place > w.place })
	check(down, "down", func(g, w witness) bool { return g.place < w.place && c.returnEnd(g.plug) >= c.returnEnd(w.plug) })
}

package main

import (
	"fmt"
	"strings"

	"deadhop/chain"
)

// mostSuspects is how many suspects the text shows; JSON has them all.
const mostSuspects = 5

// printDiagnosis says where it dies first, then who is suspect, what to do,
// and at last what it rests on.
func (a *app) printDiagnosis(r *chain.Report) {
	a.paragraph("", r.Summary)
	if len(r.Suspects) > 0 {
		fmt.Fprintln(a.out, "\nSuspects")
		for i, s := range r.Suspects {
			if i == mostSuspects {
				fmt.Fprintf(a.out, "        and %d less likely ones (see --json)\n", len(r.Suspects)-i)
				break
			}
			a.paragraph(fmt.Sprintf("%5s   ", percent(s.P)), s.Name+": "+s.ModeName)
		}
		if r.NothingWrong >= 0.005 {
			a.paragraph(fmt.Sprintf("%5s   ", percent(r.NothingWrong)), "nothing is wrong now")
		}
	}
	if len(r.Next) > 0 {
		fmt.Fprintln(a.out, "\nNext step")
		a.printStep(&r.Next[0])
	}
	fmt.Fprintln(a.out, "\nWhy")
	a.paragraph("    up      ", r.Forward.Sentence)
	a.paragraph("    down    ", r.Return.Sentence)
	if r.OverlapSentence != "" {
		a.paragraph("    both    ", r.OverlapSentence)
	}
	for _, f := range r.Findings {
		a.paragraph("    - ", f.Sentence)
	}
	for _, c := range r.Contradictions {
		a.paragraph("    ! ", c.Sentence)
	}
}

func (a *app) printStep(s *chain.Step) {
	a.paragraph("    ", s.Do)
	if s.Why != "" {
		a.paragraph("    ", s.Why)
	}
	for _, b := range s.If {
		// What a look would tell stands in its reason already.
		if b.Then != "" && s.Kind == chain.StepRepair {
			a.paragraph("    ", fmt.Sprintf("if %s (%s): %s", b.Outcome, percent(b.P), b.Then))
		}
	}
	for _, c := range s.Cautions {
		a.paragraph("    CAUTION ", c)
	}
	if s.Minutes > 0 {
		fmt.Fprintf(a.out, "    takes about %.0f min\n", max(1, s.Minutes))
	}
}

// paragraph prints text wrapped, its first line after lead and the others
// under it.
func (a *app) paragraph(lead, text string) {
	for i, line := range wrap(text, max(40, 78-len(lead))) {
		if i == 1 {
			lead = strings.Repeat(" ", len(lead))
		}
		fmt.Fprintln(a.out, lead+line)
	}
}

// percent never rounds doubt away.
func percent(p float64) string {
	switch {
	case p > 0.99 && p < 1:
		return ">99 %"
	case p > 0 && p < 0.01:
		return "<1 %"
	}
	return fmt.Sprintf("%.0f %%", 100*p)
}

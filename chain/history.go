package chain

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"math/rand/v2"
	"slices"
	"sort"
)

// HistoryVersion is the version of the JSON form of a History.
const HistoryVersion = 1

// History counts the confirmed causes of closed jobs, bench by bench. Each
// bench counts its own jobs only, so that histories can be merged any number
// of times without counting a job twice.
type History struct {
	Version int     `json:"version"`
	Counts  []Count `json:"counts"` // sorted
}

// Count is how many closed jobs had one cause.
type Count struct {
	Bench     string `json:"bench"`
	Equipment string `json:"equipment"`
	Mode      string `json:"mode"` // of the catalogue; "" where nothing was wrong
	Jobs      int    `json:"jobs"`
}

func (a Count) compare(b Count) int {
	for _, s := range [][2]string{{a.Bench, b.Bench}, {a.Equipment, b.Equipment}, {a.Mode, b.Mode}} {
		if s[0] != s[1] {
			if s[0] < s[1] {
				return -1
			}
			return 1
		}
	}
	return 0
}

// Close counts one closed job.
func (h *History) Close(bench, equipment, mode string) {
	h.raise(Count{bench, equipment, mode, 0}, func(old int) int { return old + 1 })
}

// Merge takes in the history of other benches. A bench that is in both counts
// once, with the higher number.
func (h *History) Merge(o History) {
	for _, c := range o.Counts {
		h.raise(c, func(old int) int { return max(old, c.Jobs) })
	}
}

func (h *History) raise(c Count, by func(int) int) {
	h.Version = HistoryVersion
	i, found := slices.BinarySearchFunc(h.Counts, c, Count.compare)
	if !found {
		h.Counts = slices.Insert(h.Counts, i, Count{c.Bench, c.Equipment, c.Mode, 0})
	}
	h.Counts[i].Jobs = by(h.Counts[i].Jobs)
}

// ParseHistory reads a history. name stands in its errors.
func ParseHistory(name string, data []byte) (*History, error) {
	dec := json.NewDecoder(bytes.NewReader(data))
	dec.DisallowUnknownFields()
	var h History
	if err := dec.Decode(&h); err != nil {
		return nil, fmt.Errorf("%s: no history of closed jobs: %w", name, err)
	}
	if h.Version != HistoryVersion {
		return nil, fmt.Errorf("%s: history version %d: this program reads version %d", name, h.Version, HistoryVersion)
	}
	for _, c := range h.Counts {
		if c.Jobs < 0 {
			return nil, fmt.Errorf("%s: the count of %q is %d", name, c.Mode, c.Jobs)
		}
	}
	sort.SliceStable(h.Counts, func(i, k int) bool { return h.Counts[i].compare(h.Counts[k]) < 0 })
	return &h, nil
}

// Encode is the JSON form that ParseHistory reads.
func (h *History) Encode() ([]byte, error) {
	h.Version = HistoryVersion
	b, err := json.MarshalIndent(h, "", "  ")
	return append(b, '\n'), err
}

// Learned shows where the weight of one cause comes from.
type Learned struct {
	Mode      string  `json:"mode"` // "" where nothing is wrong
	Catalogue float64 `json:"catalogue"`
	Counted   int     `json:"counted"`
	Share     float64 `json:"share"` // of the jobs, as it is now used
	// OfCatalogue is how much of Share rests on the catalogue, 0..1.
	OfCatalogue float64 `json:"of_catalogue"`
}

// CatalogueJobs is how many closed jobs the catalogue's own numbers are worth
// beside the counted ones. Estimate.
const CatalogueJobs = 100

// Learn is the catalogue as it stands for one equipment after the counted
// jobs: a Dirichlet rule with the catalogue as its prior, worth that many
// jobs. Shares are those of the chain as a whole; each instance of a mode gets
// its even part.
func (cat *Catalogue) Learn(c *Chain, h History, jobs float64) (*Catalogue, []Learned, error) {
	if jobs <= 0 {
		return nil, nil, errors.New("the catalogue must be worth more than 0 jobs")
	}
	instances := map[string]float64{}
	total := 0.0
	for _, p := range c.Parts() {
		for i := range cat.Modes {
			if m := &cat.Modes[i]; m.Part == p.Class {
				instances[m.ID]++
				total += m.Prior.V
			}
		}
	}
	counted := map[string]int{}
	n := 0
	for _, k := range h.Counts {
		if k.Equipment == c.Equipment && (k.Mode == "" || instances[k.Mode] > 0) {
			counted[k.Mode] += k.Jobs
			n += k.Jobs
		}
	}
	weight := func(mode string, share float64) Learned {
		sum := jobs + float64(n)
		l := Learned{Mode: mode, Catalogue: share, Counted: counted[mode], Share: (jobs*share + float64(counted[mode])) / sum}
		l.OfCatalogue = jobs * share / (sum * l.Share)
		return l
	}
	out := *cat
	out.Modes = slices.Clone(cat.Modes)
	shown := []Learned{weight("", cat.NoFault.V)}
	out.NoFault = Num{V: shown[0].Share, From: shown[0].from(jobs, n)}
	faulty := 1 - shown[0].Share
	for i := range out.Modes {
		m := &out.Modes[i]
		k := instances[m.ID]
		if k == 0 {
			continue
		}
		l := weight(m.ID, (1-cat.NoFault.V)*m.Prior.V*k/total)
		shown = append(shown, l)
		m.Prior = Num{V: 100 * l.Share / faulty / k, From: l.from(jobs, n)}
	}
	return &out, shown, nil
}

func (l Learned) from(jobs float64, n int) string {
	return fmt.Sprintf("catalogue worth %g jobs, and %d of %d closed jobs", jobs, l.Counted, n)
}

// DrawFault picks a hidden fault for practice, as likely as the catalogue
// holds it. The same seed picks the same fault.
func DrawFault(c *Chain, cat *Catalogue, seed uint64) (part, mode string) {
	b := newBelief(c, cat)
	total := 0.0
	for _, i := range b.inst {
		total += i.weight
	}
	x := rand.New(rand.NewPCG(seed, 0)).Float64() * total
	for i, in := range b.inst {
		if x -= in.weight; x < 0 || i == len(b.inst)-1 {
			return b.partOf(int32(i)).ID, b.modeOf(int32(i)).ID
		}
	}
	return "", ""
}

package chain

// ReportVersion is the version of the JSON form of a Report.
const ReportVersion = 1

// Verdict is the short answer of a diagnosis.
type Verdict string

const (
	Healthy      Verdict = "healthy"
	FaultFound   Verdict = "fault-found"
	Inconclusive Verdict = "inconclusive"
	NothingSeen  Verdict = "nothing-looked-at"
)

// Report is what follows from the evidence. Probabilities are in 0..1.
type Report struct {
	Version   int       `json:"version"`
	Equipment string    `json:"equipment,omitempty"`
	Verdict   Verdict   `json:"verdict"`
	Summary   string    `json:"summary"`
	Findings  []Finding `json:"findings"`
	Forward   Boundary  `json:"forward"`
	Return    Boundary  `json:"return"`
	// Overlap is the named overlap: the parts that both boundaries leave,
	// with the supplies and settings that reach them.
	Overlap         []string `json:"overlap"`
	OverlapSentence string   `json:"overlap_sentence"`
	// Hop is the link at which the signal dies, once it is named.
	Hop            *Hop            `json:"hop,omitempty"`
	Suspects       []Suspect       `json:"suspects"`
	NothingWrong   float64         `json:"nothing_wrong"`
	Next           []Step          `json:"next"`
	Contradictions []Contradiction `json:"contradictions"`
}

// Finding is one judged difference between readings and expectation.
type Finding struct {
	Plug     string `json:"plug,omitempty"`
	Facing   Facing `json:"facing,omitempty"`
	Reading  string `json:"reading"`
	Sentence string `json:"sentence"`
	Epoch    int    `json:"epoch"`
}

// Boundary is where good ends and bad begins in one direction.
type Boundary struct {
	Known    bool     `json:"known"` // anything was looked at in this direction
	LastGood string   `json:"last_good,omitempty"`
	FirstBad string   `json:"first_bad,omitempty"`
	Parts    []string `json:"parts"` // what lies between them
	Sentence string   `json:"sentence"`
}

// Hop is one link with the stages at its two ends.
type Hop struct {
	Link     string `json:"link"`
	From     string `json:"from"`
	To       string `json:"to"`
	Sentence string `json:"sentence"`
}

// Suspect is a part together with a fault mode.
type Suspect struct {
	Part     string  `json:"part"`
	Name     string  `json:"name"`
	Mode     string  `json:"mode"`
	ModeName string  `json:"mode_name"`
	P        float64 `json:"p"`
	Sentence string  `json:"sentence"`
	Confirm  string  `json:"confirm,omitempty"`
	// Alone is the probability that it is the only fault.
	Alone float64 `json:"alone"`
}

// StepKind is what sort of thing to do next.
type StepKind string

const (
	StepLook   StepKind = "look"
	StepManual StepKind = "manual"
	StepRepair StepKind = "repair"
	StepClose  StepKind = "close"
	StepHandOn StepKind = "hand-on"
)

// Step is one thing to do next, best first in a Report.
type Step struct {
	Kind   StepKind  `json:"kind"`
	Plug   string    `json:"plug,omitempty"`
	Facing Facing    `json:"facing,omitempty"`
	Check  CheckKind `json:"check,omitempty"`
	At     string    `json:"at,omitempty"`
	Repair string    `json:"repair,omitempty"`
	Part   string    `json:"part,omitempty"`
	Do     string    `json:"do"`
	Why    string    `json:"why"`
	// Cautions stand before the step is done.
	Cautions []string `json:"cautions,omitempty"`
	Minutes  float64  `json:"minutes"`
	Total    float64  `json:"expected_total_minutes"` // to a verified repair, this step first
	Gain     float64  `json:"gain_bits"`
	If       []Branch `json:"if,omitempty"`
}

// Branch is what one outcome of a step would mean.
type Branch struct {
	Outcome string  `json:"outcome"`
	P       float64 `json:"p"`
	Then    string  `json:"then"`
}

// Contradiction names evidence that does not go together.
type Contradiction struct {
	Sentence string   `json:"sentence"`
	Looks    []string `json:"looks"`
}

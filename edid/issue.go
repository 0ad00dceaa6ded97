package edid

import "fmt"

// Severity is how much an issue matters. The lower, the worse.
type Severity uint8

const (
	BreaksPicture  Severity = iota // no picture, or the wrong one
	BreaksSound                    // picture yes, sound no
	BreaksStandard                 // forbidden by the standard; most sources cope
	Odd                            // allowed, and rarely meant
	Note                           // worth knowing; no fault
)

func (s Severity) String() string {
	return nameOf([]string{"breaks picture", "breaks sound", "breaks the standard", "odd", "note"}, "severity", int(s))
}

// MarshalText gives the severity as one word with dashes.
func (s Severity) MarshalText() ([]byte, error) {
	return []byte(nameOf([]string{"breaks-picture", "breaks-sound", "breaks-standard", "odd", "note"}, "severity", int(s))), nil
}

// IssueCode names a kind of issue. Its text form is stable.
type IssueCode uint8

// String is the stable text form, such as "base-checksum".
func (c IssueCode) String() string {
	if int(c) < len(catalogue) {
		return catalogue[c].Name
	}
	return "issue " + itoa(int(c))
}

// MarshalText is String.
func (c IssueCode) MarshalText() ([]byte, error) { return []byte(c.String()), nil }

// Issue is one thing that is wrong or worth knowing about an EDID.
type Issue struct {
	Code     IssueCode
	Severity Severity
	Block    int    // block that it concerns, 0 for the base block
	Offset   int    // first byte within the block
	Len      int    // how many bytes, 0 where it concerns what is missing
	Field    string // the field's name, "" where it concerns the whole block

	args [4]int
}

// Detail is one sentence with the figures of this case and its consequence.
// It is rendered on demand.
func (i Issue) Detail() string {
	k := catalogue[i.Code]
	if k.args == 0 {
		return k.Sentence
	}
	a := make([]any, k.args)
	for n := range a {
		a[n] = i.args[n]
	}
	return fmt.Sprintf(k.Sentence, a...)
}

// Spec is the clause of the standard that the issue rests on.
func (i Issue) Spec() string { return catalogue[i.Code].Spec }

// String is block, offset, code and detail on one line.
func (i Issue) String() string {
	return fmt.Sprintf("block %d offset 0x%02X: %s: %s (%s)", i.Block, i.Offset, i.Severity, i.Detail(), i.Code)
}

// CatalogueEntry describes one kind of issue.
type CatalogueEntry struct {
	Code     IssueCode
	Name     string   // stable text form of the code
	Severity Severity // the usual one; a case may differ
	Spec     string   // clause; numbers quoted from memory of the standards
	// Sentence says what is wrong and what follows from it. Verbs such as
	// %d stand for the figures of the case.
	Sentence string

	args int
}

// Catalogue lists every kind of issue that Decode can report, in the order
// of their codes.
func Catalogue() []CatalogueEntry {
	out := make([]CatalogueEntry, len(catalogue))
	for i, k := range catalogue {
		k.Code = IssueCode(i)
		out[i] = k
	}
	return out
}

// IssuesAt lists the issues with this severity or worse.
func (e *EDID) IssuesAt(worst Severity) []Issue {
	var out []Issue
	for _, i := range e.Issues {
		if i.Severity <= worst {
			out = append(out, i)
		}
	}
	return out
}

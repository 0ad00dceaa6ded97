package main

import (
	"bytes"
	"encoding/json"
	"fmt"
	"os"
	"path/filepath"
	"sort"
	"strconv"
	"strings"

	"deadhop/chain"
)

// A job's folder holds one JSON file for each thing that was found out, in
// order: a look, or a note, which is a check made by hand or a repair.

const noteVersion = 1

// note is the JSON form of what was not seen through a port.
type note struct {
	NoteVersion int              `json:"note_version"`
	TakenAt     string           `json:"taken_at,omitempty"`
	Check       *chain.HandCheck `json:"check,omitempty"`
	Action      *chain.Action    `json:"action,omitempty"`
}

func parseNote(name string, data []byte) (*note, error) {
	dec := json.NewDecoder(bytes.NewReader(data))
	dec.DisallowUnknownFields()
	var n note
	if err := dec.Decode(&n); err != nil {
		return nil, fmt.Errorf("%s: not a saved note: %w", name, err)
	}
	switch {
	case n.NoteVersion != noteVersion:
		return nil, fmt.Errorf("%s: note version %d: this program reads version %d", name, n.NoteVersion, noteVersion)
	case (n.Check == nil) == (n.Action == nil):
		return nil, fmt.Errorf("%s: a note holds either a check or an action", name)
	}
	return &n, nil
}

// isNote tells a note from a look by the one key that only a note has.
func isNote(data []byte) bool {
	var head struct {
		NoteVersion *int `json:"note_version"`
	}
	return json.Unmarshal(data, &head) == nil && head.NoteVersion != nil
}

// loadEvidence reads looks and notes from files and from folders of .json
// files, in the order given and by name inside a folder, and checks each
// against the chain.
func loadEvidence(paths []string, c *chain.Chain, cat *chain.Catalogue) (chain.Evidence, error) {
	var ev chain.Evidence
	files, err := evidenceFiles(paths)
	if err != nil {
		return ev, err
	}
	for _, f := range files {
		data, err := os.ReadFile(f)
		if err != nil {
			return ev, badInputf("cannot read the look: %w", err)
		}
		one := chain.Evidence{}
		if isNote(data) {
			n, err := parseNote(f, data)
			if err != nil {
				return ev, badInput(err)
			}
			if n.Check != nil {
				one.Checks = append(one.Checks, *n.Check)
			} else {
				one.Actions = append(one.Actions, *n.Action)
			}
		} else {
			l, err := chain.ParseLook(f, data)
			if err != nil {
				return ev, badInput(err)
			}
			one.Looks = append(one.Looks, *l)
		}
		if err := one.Validate(c, cat); err != nil {
			return ev, badInputf("%s: %w", f, err)
		}
		ev.Looks = append(ev.Looks, one.Looks...)
		ev.Checks = append(ev.Checks, one.Checks...)
		ev.Actions = append(ev.Actions, one.Actions...)
	}
	return ev, nil
}

func evidenceFiles(paths []string) ([]string, error) {
	var files []string
	for _, p := range paths {
		info, err := os.Stat(p)
		if err != nil {
			return nil, badInputf("cannot read the look: %w", err)
		}
		if !info.IsDir() {
			files = append(files, p)
			continue
		}
		inside, err := filepath.Glob(filepath.Join(p, "*.json"))
		if err != nil {
			return nil, badInput(err)
		}
		sort.Strings(inside)
		files = append(files, inside...)
	}
	return files, nil
}

// lastEpoch is the epoch that evidence taken now belongs to.
func lastEpoch(ev chain.Evidence) int {
	e := 0
	for _, a := range ev.Actions {
		e = max(e, a.Epoch)
	}
	return e
}

// parseSaw reads a finding made by hand from the command line:
// "menu=missing", "display@c2.display=picture", "supply@main=11.4".
func parseSaw(text string, epoch int) (chain.HandCheck, error) {
	what, answer, ok := strings.Cut(text, "=")
	if !ok || what == "" || answer == "" {
		return chain.HandCheck{}, fmt.Errorf("--saw %q: write CHECK=ANSWER or CHECK@PLACE=ANSWER, such as menu=missing or display@c2.display=picture", text)
	}
	kind, at, _ := strings.Cut(what, "@")
	h := chain.HandCheck{Kind: chain.CheckKind(kind), At: at, Epoch: epoch}
	return h, answerCheck(&h, answer)
}

// answerCheck puts an answer into the check: a voltage for a supply, else one
// of its words.
func answerCheck(h *chain.HandCheck, answer string) error {
	if h.Kind != chain.CheckSupply {
		h.Answer = answer
		return nil
	}
	v, err := strconv.ParseFloat(strings.TrimSpace(strings.TrimSuffix(strings.ToUpper(answer), "V")), 64)
	if err != nil {
		return fmt.Errorf("%q is no voltage: write a number, such as 11.9", answer)
	}
	h.Volts = v
	return nil
}

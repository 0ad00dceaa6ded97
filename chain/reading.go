// Package chain models the video path of one piece of equipment, what should
// be seen at each plug, what was seen, and what follows: where the signal
// dies, which parts are suspect and what to do next. It touches no hardware,
// no clock and no operating system, so any saved job can be diagnosed again.
package chain

import (
	"encoding/json"
	"fmt"
	"reflect"
	"strings"
)

// State says whether a reading holds a value at all. The zero State is
// NotTried, so that nothing untouched ever reads as "fine".
type State uint8

const (
	NotTried     State = iota
	CouldNotRead       // tried, or beyond the port's abilities: could not measure
	Measured
)

var stateWords = [...]string{NotTried: "not-tried", CouldNotRead: "could-not-measure", Measured: "measured"}

func (s State) String() string {
	if int(s) < len(stateWords) {
		return stateWords[s]
	}
	return fmt.Sprintf("State(%d)", uint8(s))
}

// MarshalText is the word of the JSON form.
func (s State) MarshalText() ([]byte, error) { return []byte(s.String()), nil }

// UnmarshalText reads the word of the JSON form.
func (s *State) UnmarshalText(b []byte) error {
	for i, w := range stateWords {
		if string(b) == w {
			*s = State(i)
			return nil
		}
	}
	return fmt.Errorf("reading state %q: use %s", b, strings.Join(stateWords[:], ", "))
}

// FailureCode says why a reading could not be taken.
type FailureCode string

const (
	FailUnsupported FailureCode = "unsupported" // the port cannot observe this
	FailPermission  FailureCode = "permission"
	FailBusy        FailureCode = "busy"      // another process holds the device
	FailGone        FailureCode = "gone"      // the device vanished
	FailTimeout     FailureCode = "timeout"   // the deadline passed
	FailBlocked     FailureCode = "blocked"   // an earlier rung failed, so this one says nothing
	FailProtected   FailureCode = "protected" // protected content the bench cannot receive
	FailOther       FailureCode = "other"
)

// Reading is one measured or reported value with its state.
type Reading[T any] struct {
	State   State       `json:"state"`
	Value   T           `json:"value"`
	Failure FailureCode `json:"failure,omitempty"`
	Detail  string      `json:"detail,omitempty"` // the evidence in words: errno, counts
}

// MarshalJSON leaves the value out unless it was measured, or is what came
// before a failure: a script must never take a zero for a reading.
func (r Reading[T]) MarshalJSON() ([]byte, error) {
	out := struct {
		State   State       `json:"state"`
		Value   *T          `json:"value,omitempty"`
		Failure FailureCode `json:"failure,omitempty"`
		Detail  string      `json:"detail,omitempty"`
	}{State: r.State, Failure: r.Failure, Detail: r.Detail}
	if r.State == Measured || r.State == CouldNotRead && !isZero(r.Value) {
		out.Value = &r.Value
	}
	return json.Marshal(out)
}

func isZero(v any) bool { return reflect.ValueOf(v).IsZero() }

// Is reports whether the reading was measured and equals v.
func Is[T comparable](r Reading[T], v T) bool { return r.State == Measured && r.Value == v }

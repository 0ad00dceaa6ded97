package chain

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"io"
)

// ParseLook reads a saved look. name stands in its errors. An unknown field,
// another version or a look without readings is an error.
func ParseLook(name string, data []byte) (*Look, error) {
	var head struct {
		Version *int `json:"version"`
	}
	if len(bytes.TrimSpace(data)) == 0 {
		return nil, fmt.Errorf("%s: the file is empty: a saved look is JSON", name)
	}
	if err := json.Unmarshal(data, &head); err != nil {
		return nil, fmt.Errorf("%s: not a saved look: %w", name, err)
	}
	switch {
	case head.Version == nil:
		return nil, fmt.Errorf("%s: not a saved look: it has no version", name)
	case *head.Version != LookVersion:
		return nil, fmt.Errorf("%s: look version %d: this program reads version %d", name, *head.Version, LookVersion)
	}
	dec := json.NewDecoder(bytes.NewReader(data))
	dec.DisallowUnknownFields()
	var l Look
	if err := dec.Decode(&l); err != nil {
		return nil, fmt.Errorf("%s: not a saved look: %w", name, err)
	}
	if _, err := dec.Token(); !errors.Is(err, io.EOF) {
		return nil, fmt.Errorf("%s: more text follows the look", name)
	}
	if err := l.check(); err != nil {
		return nil, fmt.Errorf("%s: %w", name, err)
	}
	return &l, nil
}

// Encode is the JSON form that ParseLook reads, ending in a newline.
func (l *Look) Encode() ([]byte, error) {
	l.Version = LookVersion
	if err := l.check(); err != nil {
		return nil, err
	}
	b, err := json.MarshalIndent(l, "", "  ")
	return append(b, '\n'), err
}

func (l *Look) check() error {
	switch {
	case l.Facing != Up && l.Facing != Down:
		return fmt.Errorf("the look faces %q: use %q or %q", l.Facing, Up, Down)
	case l.Facing == Up && (l.Up == nil || l.Down != nil):
		return errors.New("the look faces up: it needs readings under \"up\" and none under \"down\"")
	case l.Facing == Down && (l.Down == nil || l.Up != nil):
		return errors.New("the look faces down: it needs readings under \"down\" and none under \"up\"")
	case l.Epoch < 0:
		return fmt.Errorf("the look's epoch is %d: it counts from 0", l.Epoch)
	}
	return nil
}

// Fits reports whether the look can be one of this chain: its plug exists and
// the bench has a port for it.
func (l *Look) Fits(c *Chain) error {
	if err := l.check(); err != nil {
		return err
	}
	p, err := c.Plug(l.Plug)
	if err != nil {
		return err
	}
	if k := c.Links[c.linkIndex(p.Link)].Kind; k != HDMI {
		return fmt.Errorf("no look is possible at %s: %s is a panel link, which the bench has no port for", l.Plug, p.Link)
	}
	return nil
}

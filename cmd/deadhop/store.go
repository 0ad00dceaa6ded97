package main

import (
	"encoding/json"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"strconv"
	"strings"

	"deadhop/chain"
	"deadhop/edid"
)

// saveLook puts a look on disk and returns its path. path may be a new file or
// a folder, in which the look gets the next free number. It is complete on
// disk before saveLook returns, and no file that exists is ever overwritten.
func saveLook(path string, l *chain.Look) (string, error) {
	data, err := l.Encode()
	if err != nil {
		return "", err
	}
	if strings.HasSuffix(path, ".json") {
		return path, writeNew(path, data)
	}
	return saveNumbered(path, l.Plug+"-"+string(l.Facing), data)
}

// saveNote puts a hand check or a repair into the folder beside the looks.
func saveNote(folder string, n *note) (string, error) {
	n.NoteVersion = noteVersion
	data, err := json.MarshalIndent(n, "", "  ")
	if err != nil {
		return "", err
	}
	name := "repair"
	if n.Check != nil {
		name = "check-" + string(n.Check.Kind)
	}
	return saveNumbered(folder, name, append(data, '\n'))
}

// saveNumbered writes a new file NN-name.json with the next free number.
func saveNumbered(folder, name string, data []byte) (string, error) {
	if err := os.MkdirAll(folder, 0o755); err != nil {
		return "", badInputf("cannot make the folder for looks: %w", err)
	}
	taken, err := filepath.Glob(filepath.Join(folder, "[0-9][0-9][0-9]-*.json"))
	if err != nil {
		return "", err
	}
	n := 0
	for _, t := range taken {
		if k, err := strconv.Atoi(filepath.Base(t)[:3]); err == nil {
			n = max(n, k)
		}
	}
	for {
		n++
		path := filepath.Join(folder, fmt.Sprintf("%03d-%s.json", n, name))
		err := writeNew(path, data)
		if !errors.Is(err, fs.ErrExist) {
			return path, err
		}
	}
}

// writeNew writes a whole new file or nothing: the bytes go to a temporary
// file first and are linked to their name once they are on the disk.
func writeNew(path string, data []byte) error {
	dir := filepath.Dir(path)
	tmp, err := os.CreateTemp(dir, ".look-*")
	if err != nil {
		return badInputf("cannot save there: %w", err)
	}
	defer os.Remove(tmp.Name())
	_, err = tmp.Write(data)
	if err == nil {
		err = tmp.Sync()
	}
	if cerr := tmp.Close(); err == nil {
		err = cerr
	}
	if err == nil {
		err = os.Chmod(tmp.Name(), 0o644)
	}
	if err == nil {
		err = os.Link(tmp.Name(), path)
	}
	switch {
	case errors.Is(err, fs.ErrExist):
		return badInput(keptError(path))
	case err != nil:
		return fmt.Errorf("cannot save %s: %w", path, err)
	}
	if d, err := os.Open(dir); err == nil {
		d.Sync()
		d.Close()
	}
	return nil
}

// keptError says that a file is there already and was not touched.
type keptError string

func (k keptError) Error() string {
	return string(k) + " exists already and is kept; choose another name"
}

func (keptError) Is(target error) bool { return target == fs.ErrExist }

// equipment is a chain file with the EDIDs that it names.
type equipment struct {
	*chain.Chain
	edids map[string][]byte // by SHA-256
}

// expectedEDID is the EDID that a source on the far side of the plug should
// be shown, nil where the chain file does not give its bytes.
func (e *equipment) expectedEDID(p chain.Plug) []byte { return e.edids[e.ExpectedEDID(p)] }

// lookPlug finds a plug that the bench can be put into.
func (e *equipment) lookPlug(name string) (chain.Plug, error) {
	plug, err := e.Plug(name)
	if err != nil {
		return plug, badInput(err)
	}
	for _, l := range e.Links {
		if l.ID == plug.Link && l.Kind != chain.HDMI {
			return plug, badInputf("no look is possible at %s: %s is a panel link, which the bench has no port for", name, l.ID)
		}
	}
	return plug, nil
}

func loadChain(path string) (*equipment, error) {
	if path == "" {
		return nil, badInputf("which equipment? name its chain file with --chain")
	}
	data, err := os.ReadFile(path)
	if err != nil {
		return nil, badInputf("cannot read the chain file: %w", err)
	}
	c, err := chain.Parse(path, data)
	if err != nil {
		return nil, badInput(err)
	}
	eq := &equipment{c, map[string][]byte{}}
	// EDID files are named from the chain file's own folder.
	err = c.ResolveEDIDs(func(name string) ([]byte, error) {
		if !filepath.IsAbs(name) {
			name = filepath.Join(filepath.Dir(path), name)
		}
		text, err := os.ReadFile(name)
		if err != nil {
			return nil, err
		}
		b, err := edid.ParseInput(text)
		eq.edids[hashOf(b)] = b
		return b, err
	})
	if err != nil {
		return nil, badInputf("%s: %w", path, err)
	}
	return eq, nil
}

package ddc

import (
	"bytes"
	"context"
	"crypto/sha256"
	"encoding/json"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strings"
)

// writeJobVersion is the version of the JSON form of a WriteJob.
const writeJobVersion = 1

// WriteJob is one write to a display's EDID store, with the way back.
type WriteJob struct {
	Version int    `json:"version"`
	Port    string `json:"port"`    // of the bench, "bus:i2c-5"
	Display string `json:"display"` // who the display is, in words
	Old     []byte `json:"old"`
	New     []byte `json:"new"`
	Done    bool   `json:"done"`
}

// Phrase is what a person types to allow the write: it names the bus and the
// display.
func (j WriteJob) Phrase() string { return "write " + j.Port + " " + j.Display }

// Name is the job's file name: the port and the hash of the old content.
func (j WriteJob) Name() string {
	port := strings.Map(func(r rune) rune {
		if r == '-' || r == '.' || r >= '0' && r <= '9' || r >= 'a' && r <= 'z' || r >= 'A' && r <= 'Z' {
			return r
		}
		return '_'
	}, j.Port)
	return fmt.Sprintf("%s-%x.json", port, sha256.Sum256(j.Old))
}

func (j WriteJob) check() error {
	switch n := len(j.New); {
	case n != blockLen && n != 2*blockLen:
		return fmt.Errorf("%d bytes: an EDID store of 128 or 256 bytes can be written", n)
	case len(j.Old) != n:
		return fmt.Errorf("the old content has %d bytes and the new %d: they must cover the same", len(j.Old), n)
	case !blocksGood(j.New):
		return errors.New("the new EDID has a wrong header or checksum")
	}
	return nil
}

// WriteJobs keeps jobs in a folder, each in a file of its own, so that the
// old content outlives a killed program.
type WriteJobs struct{ Dir string }

// Save stores a job for good before anything is written. An unfinished job
// for the same port and content is replaced.
func (s *WriteJobs) Save(j WriteJob) error {
	j.Version = writeJobVersion
	if err := j.check(); err != nil {
		return err
	}
	return s.put(j)
}

// put writes a file so that a crash leaves the old or the new one, whole.
func (s *WriteJobs) put(j WriteJob) error {
	b, err := json.MarshalIndent(j, "", "  ")
	if err != nil {
		return err
	}
	if err := os.MkdirAll(s.Dir, 0o755); err != nil {
		return err
	}
	tmp, err := os.CreateTemp(s.Dir, ".job-*")
	if err != nil {
		return err
	}
	defer os.Remove(tmp.Name())
	_, err = tmp.Write(append(b, '\n'))
	err = errors.Join(err, tmp.Sync(), tmp.Close())
	if err != nil {
		return err
	}
	if err := os.Rename(tmp.Name(), filepath.Join(s.Dir, j.Name())); err != nil {
		return err
	}
	dir, err := os.Open(s.Dir)
	if err != nil {
		return err
	}
	defer dir.Close()
	return dir.Sync()
}

func (s *WriteJobs) load(name string) (WriteJob, error) {
	var j WriteJob
	b, err := os.ReadFile(filepath.Join(s.Dir, name))
	if err != nil {
		return j, err
	}
	d := json.NewDecoder(bytes.NewReader(b))
	d.DisallowUnknownFields()
	if err := d.Decode(&j); err != nil {
		return j, fmt.Errorf("%s: %w", filepath.Join(s.Dir, name), err)
	}
	if j.Version != writeJobVersion {
		return j, fmt.Errorf("%s: version %d is not known here", filepath.Join(s.Dir, name), j.Version)
	}
	return j, nil
}

func (s *WriteJobs) finish(j WriteJob) error {
	j.Version, j.Done = writeJobVersion, true
	return s.put(j)
}

// Unfinished lists the jobs that were begun and not ended, by name. Each is
// a display that may hold half of something: RestoreOld is the way back.
func (s *WriteJobs) Unfinished() ([]WriteJob, error) {
	entries, err := os.ReadDir(s.Dir)
	if errors.Is(err, fs.ErrNotExist) {
		return nil, nil
	}
	if err != nil {
		return nil, err
	}
	var all []WriteJob
	var errs []error
	for _, e := range entries {
		if !strings.HasSuffix(e.Name(), ".json") {
			continue
		}
		j, err := s.load(e.Name())
		switch {
		case err != nil:
			errs = append(errs, err)
		case !j.Done:
			all = append(all, j)
		}
	}
	slices.SortFunc(all, func(a, b WriteJob) int { return strings.Compare(a.Name(), b.Name()) })
	return all, errors.Join(errs...)
}

// Writable opens the bus of a port for writing a display's store. It refuses
// every bus that is not certain to be a display's: only a connector's own bus
// and the adapters made for this will do.
func Writable(p Port) (Bus, error) {
	refuse := func(node, why string) (Bus, error) {
		return nil, &OpError{Op: "open a bus for writing", Path: node, Kind: ErrPermission, Do: why}
	}
	switch p := p.(type) {
	case *Output:
		if p.bus == nil || p.connector.DDC == nil || p.bus.Number != p.connector.DDC.Number {
			return refuse(p.id, "the driver does not say that a bus belongs to this output")
		}
		return takeBus(context.Background(), *p.bus, p.dev)
	case *AdapterPort:
		if u := p.adapter.Use(); u != UseBench && u != UseGraphics {
			return refuse(filepath.Join(p.dev, p.adapter.Node()), fmt.Sprintf("nothing shows that %q leads to a display", p.adapter.Name))
		}
		return p.Bus()
	case BusPort:
		return p.Bus() // a simulated one
	default:
		return refuse(p.Info().ID, "this port has no bus")
	}
}

package ddc

import (
	"errors"
	"io"
	"io/fs"
	"path"
	"regexp"
	"slices"
	"strconv"
	"strings"
)

func isEOF(err error) bool { return errors.Is(err, io.EOF) }

// DRMConnector is one video output of a graphics driver, from sysfs.
type DRMConnector struct {
	Card   int    // number of the card
	Name   string // "HDMI-A-1"
	ID     uint32 // DRM object id, 0 where the kernel does not say
	Driver string
	SysDir string // class folder below the root of sysfs
	// DDC is the adapter that the connector itself names: its ddc link,
	// else the one I2C adapter registered below it. Nil where it has none
	// or more than one: then the user must say which, it is never guessed.
	DDC *Adapter
}

// PathName is the connector's name with its card, "card1-HDMI-A-1".
func (c DRMConnector) PathName() string { return "card" + strconv.Itoa(c.Card) + "-" + c.Name }

var connectorDir = regexp.MustCompile(`^card(\d+)-(.+)$`)

// Connectors lists the DRM connectors below a root of sysfs, by card and
// name. Writeback connectors, which lead nowhere, are left out.
func Connectors(sys fs.FS) ([]DRMConnector, error) {
	const dir = "class/drm"
	entries, err := fs.ReadDir(sys, dir)
	if notExist(err) {
		return nil, nil
	}
	if err != nil {
		return nil, &OpError{Op: "list the video outputs", Path: dir, Kind: deviceKind(err), Err: bareErrno(err)}
	}
	var all []DRMConnector
	for _, e := range entries {
		m := connectorDir.FindStringSubmatch(e.Name())
		if m == nil || strings.HasPrefix(m[2], "Writeback-") {
			continue
		}
		card, err := strconv.Atoi(m[1])
		if err != nil {
			continue
		}
		c := DRMConnector{Card: card, Name: m[2], SysDir: path.Join(dir, e.Name())}
		if id, err := sysRead(sys, path.Join(c.SysDir, "connector_id")); err == nil {
			n, _ := strconv.ParseUint(id, 10, 32)
			c.ID = uint32(n)
		}
		c.Driver = sysDriver(sys, c.SysDir)
		c.DDC = connectorDDC(sys, c.SysDir)
		all = append(all, c)
	}
	slices.SortFunc(all, func(a, b DRMConnector) int {
		if a.Card != b.Card {
			return a.Card - b.Card
		}
		return strings.Compare(a.Name, b.Name)
	})
	return all, nil
}

func connectorDDC(sys fs.FS, dir string) *Adapter {
	if to := sysLink(sys, path.Join(dir, "ddc")); to != "" {
		if n, ok := adapterNumber(path.Base(to)); ok {
			a := adapterAt(sys, to, n)
			return &a
		}
	}
	entries, err := fs.ReadDir(sys, dir)
	if err != nil {
		return nil
	}
	var found []int
	for _, e := range entries {
		if n, ok := adapterNumber(e.Name()); ok {
			found = append(found, n)
		}
	}
	if len(found) != 1 {
		return nil
	}
	a := adapterAt(sys, path.Join(dir, "i2c-"+strconv.Itoa(found[0])), found[0])
	return &a
}

func adapterNumber(name string) (int, bool) {
	s, ok := strings.CutPrefix(name, "i2c-")
	if !ok {
		return 0, false
	}
	n, err := strconv.Atoi(s)
	return n, err == nil
}

// Status reads the kernel's word on the connector.
func (c DRMConnector) Status(sys fs.FS) (ConnectorStatus, error) {
	s, err := sysRead(sys, path.Join(c.SysDir, "status"))
	switch {
	case err != nil:
		return 0, c.fail("read the connector's status", "status", err)
	case s == "connected":
		return Connected, nil
	case s == "disconnected":
		return Disconnected, nil
	default:
		return ConnectorUnknown, nil
	}
}

// Enabled reports whether something is being shown on the connector.
func (c DRMConnector) Enabled(sys fs.FS) (bool, error) {
	s, err := sysRead(sys, path.Join(c.SysDir, "enabled"))
	if err != nil {
		return false, c.fail("read whether the output is on", "enabled", err)
	}
	return s == "enabled", nil
}

// KernelEDID is the EDID as the kernel keeps it: repaired, filtered, and not
// what the wire gave. No bytes means that the kernel has none.
func (c DRMConnector) KernelEDID(sys fs.FS) ([]byte, error) {
	b, err := readBinary(sys, path.Join(c.SysDir, "edid"))
	if err != nil {
		return nil, c.fail("read the kernel's EDID", "edid", err)
	}
	return b, nil
}

func (c DRMConnector) fail(op, attr string, err error) error {
	kind := deviceKind(err)
	if notExist(err) {
		kind = ErrGone // listed a moment ago
	}
	return &OpError{Op: op, Path: path.Join("/sys", c.SysDir, attr), Kind: kind, Err: bareErrno(err)}
}

// Wiring says why a connector has no raw DDC of its own, "" where it has or
// may have.
func (c DRMConnector) Wiring() string {
	switch {
	case c.DDC != nil:
		return ""
	case strings.HasPrefix(c.Name, "Virtual-"):
		return "a virtual output has no DDC wires"
	case strings.HasPrefix(c.Name, "eDP-"), strings.HasPrefix(c.Name, "LVDS-"), strings.HasPrefix(c.Name, "DSI-"), strings.HasPrefix(c.Name, "DPI-"):
		return "the driver offers no bus to this internal panel"
	default:
		return "the driver does not say which I2C bus belongs to this output: name it with the bench's settings"
	}
}

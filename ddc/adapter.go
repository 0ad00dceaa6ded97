package ddc

import (
	"fmt"
	"io/fs"
	"path"
	"slices"
	"strconv"
	"strings"
)

// Adapter is one I2C adapter that the kernel has.
type Adapter struct {
	Number int    // of /dev/i2c-N; may change from boot to boot
	Name   string // as its driver names it
	Driver string // kernel driver of the parent device
	PCI    string // class code of the PCI parent, "" where there is none
	SysDir string // its folder in the device tree, below the root of sysfs
}

// Node is the device node's name, "i2c-5".
func (a Adapter) Node() string { return "i2c-" + strconv.Itoa(a.Number) }

// Adapters lists the I2C adapters by number. It opens none.
func Adapters(sys fs.FS) ([]Adapter, error) {
	const dir = "bus/i2c/devices"
	entries, err := fs.ReadDir(sys, dir)
	if notExist(err) {
		return nil, nil // no I2C in this kernel
	}
	if err != nil {
		return nil, &OpError{Op: "list the I2C adapters", Path: dir, Kind: deviceKind(err), Err: bareErrno(err)}
	}
	var all []Adapter
	for _, e := range entries {
		n, ok := strings.CutPrefix(e.Name(), "i2c-")
		if !ok {
			continue // a client device
		}
		number, err := strconv.Atoi(n)
		if err != nil {
			continue // an ACPI client is named i2c-HID:00
		}
		all = append(all, adapterAt(sys, path.Join(dir, e.Name()), number))
	}
	slices.SortFunc(all, func(a, b Adapter) int { return a.Number - b.Number })
	return all, nil
}

func adapterAt(sys fs.FS, dir string, number int) Adapter {
	name, _ := sysRead(sys, path.Join(dir, "name"))
	real := sysResolve(sys, dir)
	return Adapter{Number: number, Name: name, Driver: sysDriver(sys, path.Dir(real)),
		PCI: sysPCIClass(sys, real), SysDir: real}
}

// Use is what a bus may be used for.
type Use uint8

const (
	// UseNamed: offered only when the user names it.
	UseNamed Use = iota + 1
	// UseBench: a plug-in adapter made for buses like a display's.
	UseBench
	// UseGraphics: a bus to a display of a driver without connectors.
	UseGraphics
	// UseNever: a machine's own SMBus. 0x50–0x57 there are memory modules
	// and 0x30–0x37 their page and write-protect commands, so that even an
	// EDID segment write could lock one.
	UseNever
)

// smbusClass is the PCI class of an SMBus controller (PCI Code and ID
// Assignment Specification: base class 0Ch, sub-class 05h).
const smbusClass = "0x0c05"

// Use says what the adapter may be used for: by the table of known adapters,
// but never for a controller that calls itself an SMBus on the PCI bus.
func (a Adapter) Use() Use {
	if strings.HasPrefix(a.PCI, smbusClass) {
		return UseNever
	}
	switch matchRule(a.Driver, a.Name).Use {
	case "system":
		return UseNever
	case "bench":
		return UseBench
	case "graphics":
		return UseGraphics
	default:
		return UseNamed
	}
}

// refuse is the error for a bus that must not be opened.
func (a Adapter) refuse(dev string) error {
	return &OpError{Op: "open the I2C bus", Path: dev, Kind: ErrPermission,
		Do: fmt.Sprintf("%q is the machine's own SMBus, where memory modules live: this program never touches it", a.Name)}
}

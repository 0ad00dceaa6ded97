package ddc

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path"
	"slices"
	"strconv"
	"strings"
)

// BenchOptions say where and what the bench machine is. The zero value is
// this machine.
type BenchOptions struct {
	Sys fs.FS  // root of sysfs; nil means /sys
	Dev string // folder of the device nodes; "" means /dev
	// Buses are I2C adapters that the user named and confirmed, as
	// "i2c-5". They are offered although nothing says that they belong to
	// a display. A machine's own SMBus is refused even so.
	Buses []string
	// DDC names the adapter of a connector whose driver does not say:
	// "HDMI-A-1" or "card1-HDMI-A-1" to "i2c-5".
	DDC map[string]string
	// Sound names the sound capture device of a receiver where it cannot be
	// found: "in:video0" to "pcmC1D0c".
	Sound map[string]string
	// Labels are the user's own names of ports, by port id.
	Labels map[string]string
}

// SystemBench is the bench of a Linux machine: its video outputs, its video
// receivers and the I2C adapters that may be used.
type SystemBench struct {
	sys   fs.FS
	dev   string
	named []int
	ddc   map[string]int
	sound map[string]string
	label map[string]string
}

var _ Bench = (*SystemBench)(nil)

// OpenBench makes a bench. It touches no device; a bus that is named wrongly
// is an error here, one that may not be used an error of Ports.
func OpenBench(o BenchOptions) (*SystemBench, error) {
	b := &SystemBench{sys: o.Sys, dev: o.Dev, ddc: map[string]int{}, sound: o.Sound, label: o.Labels}
	if b.sys == nil {
		b.sys = os.DirFS("/sys")
	}
	if b.dev == "" {
		b.dev = "/dev"
	}
	for _, name := range o.Buses {
		n, ok := adapterNumber(path.Base(name))
		if !ok {
			return nil, fmt.Errorf("%q names no I2C bus: write it as i2c-5", name)
		}
		b.named = append(b.named, n)
	}
	for connector, name := range o.DDC {
		n, ok := adapterNumber(path.Base(name))
		if !ok {
			return nil, fmt.Errorf("%q, given for %s, names no I2C bus: write it as i2c-5", name, connector)
		}
		b.ddc[connector] = n
	}
	return b, nil
}

// Close implements Bench. Ports hold nothing open between looks.
func (b *SystemBench) Close() error { return nil }

// Ports implements Bench: outputs by card and name, receivers by node, buses
// by number.
func (b *SystemBench) Ports(ctx context.Context) ([]Port, error) {
	var ports []Port
	var errs []error
	adapters, err := Adapters(b.sys)
	if err != nil {
		errs = append(errs, err)
	}
	outs, taken, err := b.outputs(adapters)
	if err != nil {
		errs = append(errs, err)
	}
	for _, p := range outs {
		p.label = b.label[p.id]
		ports = append(ports, p)
	}
	ins, err := within(ctx, func() ([]*Receiver, error) { return receivers(b.sys, b.dev) })
	if err != nil {
		errs = append(errs, err)
	}
	if err := b.findSound(ins); err != nil {
		errs = append(errs, err)
	}
	for _, r := range ins {
		if own := b.label[r.id]; own != "" {
			r.label = own
		}
		ports = append(ports, r)
	}
	buses, err := b.buses(adapters, taken)
	if err != nil {
		errs = append(errs, err)
	}
	for _, p := range buses {
		p.label = b.label[p.id]
		ports = append(ports, p)
	}
	return ports, errors.Join(errs...)
}

// findSound gives each receiver its sound capture device: the one that the
// user names, else the only one of the same USB device or PCI card.
func (b *SystemBench) findSound(ins []*Receiver) error {
	all, err := SoundDevices(b.sys, b.dev)
	if err != nil {
		return err
	}
	all = slices.DeleteFunc(all, func(d SoundDevice) bool { return !d.Capture })
	var errs []error
	for _, r := range ins {
		if name, ok := b.sound[r.id]; ok {
			i := slices.IndexFunc(all, func(d SoundDevice) bool { return path.Base(d.Node) == name })
			if i < 0 {
				errs = append(errs, &OpError{Op: "find the sound device named for " + r.id,
					Path: path.Join(b.dev, "snd", name), Kind: ErrNotThere})
				continue
			}
			r.sound = &all[i]
			continue
		}
		mine := hardware(b.sys, r.sysDir)
		var same []SoundDevice
		for _, d := range all {
			if mine != "" && hardware(b.sys, d.SysDir) == mine {
				same = append(same, d)
			}
		}
		if len(same) == 1 {
			r.sound = &same[0]
		}
	}
	return errors.Join(errs...)
}

// hardware is the folder of the USB device or PCI card behind a class device,
// "" where it is neither. The interfaces of a USB device, such as its video
// and its sound, share the folder above them.
func hardware(sys fs.FS, class string) string {
	for d := sysResolve(sys, class); d != "." && d != "/"; d = path.Dir(d) {
		switch path.Base(sysLink(sys, path.Join(d, "subsystem"))) {
		case "usb":
			if strings.Contains(path.Base(d), ":") {
				return path.Dir(d)
			}
			return d
		case "pci":
			return d
		}
	}
	return ""
}

// outputs lists the connectors and the adapters that are taken by them.
func (b *SystemBench) outputs(adapters []Adapter) ([]*Output, map[int]bool, error) {
	connectors, err := Connectors(b.sys)
	names := map[string]int{}
	for _, c := range connectors {
		names[c.Name]++
	}
	taken := map[int]bool{}
	var all []*Output
	for _, c := range connectors {
		p := &Output{id: "out:" + c.Name, connector: c, sys: b.sys, dev: b.dev, bus: c.DDC}
		if names[c.Name] > 1 { // the same name on two cards
			p.id = "out:" + c.PathName()
		}
		for _, key := range []string{c.Name, c.PathName()} {
			n, ok := b.ddc[key]
			if !ok {
				continue
			}
			i := slices.IndexFunc(adapters, func(a Adapter) bool { return a.Number == n })
			if i < 0 {
				err = errors.Join(err, &OpError{Op: "find the bus named for " + key, Path: path.Join(b.dev, "i2c-"+strconv.Itoa(n)), Kind: ErrNotThere})
				continue
			}
			p.bus = &adapters[i]
		}
		if p.bus != nil {
			taken[p.bus.Number] = true
		}
		all = append(all, p)
	}
	return all, taken, err
}

// buses lists the adapters that may be used and belong to no output.
func (b *SystemBench) buses(adapters []Adapter, taken map[int]bool) ([]*AdapterPort, error) {
	var all []*AdapterPort
	var errs []error
	for _, a := range adapters {
		named := slices.Contains(b.named, a.Number)
		switch {
		case taken[a.Number]:
			continue
		case a.Use() == UseNever:
			if named {
				errs = append(errs, a.refuse(path.Join(b.dev, a.Node())))
			}
			continue
		case a.Use() == UseNamed && !named:
			continue
		}
		all = append(all, &AdapterPort{id: "bus:" + a.Node(), adapter: a, dev: b.dev})
	}
	for _, n := range b.named {
		if !slices.ContainsFunc(adapters, func(a Adapter) bool { return a.Number == n }) {
			errs = append(errs, &OpError{Op: "use the bus that was named", Path: path.Join(b.dev, "i2c-"+strconv.Itoa(n)),
				Kind: ErrNotThere, Do: "the kernel has these: " + nodeList(adapters)})
		}
	}
	return all, errors.Join(errs...)
}

func nodeList(adapters []Adapter) string {
	if len(adapters) == 0 {
		return "none"
	}
	var s []string
	for _, a := range adapters {
		s = append(s, fmt.Sprintf("%s (%s)", a.Node(), a.Name))
	}
	return strings.Join(s, ", ")
}

package ddc

import (
	"cmp"
	"context"
	"io/fs"
	"os"
	"path"
	"strings"
	"syscall"
)

// Output is a DRM connector with, where it has one, its own DDC bus.
type Output struct {
	id        string
	connector DRMConnector
	sys       fs.FS
	dev       string
	// bus is the connector's own adapter, or the one that the user named
	// for it; nil where there is none.
	bus   *Adapter
	label string // the user's own name
}

var _ Out = (*Output)(nil)

// Info implements Port.
func (p *Output) Info() PortInfo {
	i := PortInfo{ID: p.id, Kind: OutPort, Label: cmp.Or(p.label, p.connector.PathName()), Driver: p.connector.Driver,
		Devices: []string{path.Join("/sys", p.connector.SysDir)}, Observes: []Quantity{Connector, KernelEDID}}
	if p.bus != nil {
		i.Devices = append(i.Devices, path.Join(p.dev, p.bus.Node()))
		i.Observes = append(i.Observes, Ack, RawEDID)
		i.Trouble = tryOpen(p.bus, p.dev)
	}
	return i
}

// tryOpen says what keeps a bus from being opened, nil where nothing does.
func tryOpen(a *Adapter, dev string) error {
	if a.Use() == UseNever {
		return a.refuse(path.Join(dev, a.Node()))
	}
	b, err := openI2CDev(path.Join(dev, a.Node()), matchRule(a.Driver, a.Name))
	if err != nil {
		return err
	}
	return b.Close()
}

// LookDown implements Out. Hot-plug and termination stay "could not measure":
// the kernel's connector status is no proof of either.
func (p *Output) LookDown(ctx context.Context, o DownOptions) Downstream {
	var d Downstream
	if p.bus == nil {
		none := &OpError{Op: "look down by DDC", Path: path.Join("/sys", p.connector.SysDir), Kind: ErrUnsupported,
			Err: syscall.EOPNOTSUPP, Do: p.connector.Wiring()}
		d.Ack = CannotMeasure[bool](none)
		d.EDID = CannotMeasure[[]byte](none)
		d.Stable = CannotMeasure[bool](none)
	} else {
		d = lookDownAdapter(ctx, *p.bus, p.dev, o)
	}
	d.Port = p.id
	d.Connector = valueOf(p.connector.Status(p.sys))
	d.KernelEDID = valueOf(p.connector.KernelEDID(p.sys))
	d.Supplies5V = p.supplies5V()
	d.HotPlug = CannotMeasure[bool](noLine("hot-plug", p.connector.SysDir))
	d.RxSense = CannotMeasure[bool](noLine("the termination of the TMDS lines", p.connector.SysDir))
	return d
}

// supplies5V: every HDMI and DVI source feeds +5 V whenever it runs (HDMI 1.4
// clause 4.2.7). It is not measured here; a bench whose own +5 V is dead is
// found by the check of the bench's leads.
func (p *Output) supplies5V() Value[bool] {
	if strings.HasPrefix(p.connector.Name, "HDMI-") || strings.HasPrefix(p.connector.Name, "DVI-") {
		return Got(true)
	}
	return CannotMeasure[bool](noLine("whether +5 V is fed", p.connector.SysDir))
}

func noLine(what, dir string) error {
	return &OpError{Op: "read " + what, Path: path.Join("/sys", dir), Kind: ErrUnsupported, Err: syscall.EOPNOTSUPP,
		Do: "the kernel tells only its own connector status on this output"}
}

func valueOf[T any](v T, err error) Value[T] {
	if err != nil {
		return Value[T]{State: Unable, V: v, Err: err}
	}
	return Got(v)
}

// lookDownAdapter opens an adapter's node under its lock and looks down it.
func lookDownAdapter(ctx context.Context, a Adapter, dev string, o DownOptions) Downstream {
	bus, err := takeBus(ctx, a, dev)
	if err != nil {
		return Downstream{Ack: CannotMeasure[bool](err), EDID: CannotMeasure[[]byte](err), Stable: CannotMeasure[bool](err)}
	}
	defer bus.Close()
	return LookDown(ctx, bus, o)
}

// takeBus opens and locks an adapter's node.
func takeBus(ctx context.Context, a Adapter, dev string) (*I2CDev, error) {
	node := path.Join(dev, a.Node())
	if a.Use() == UseNever {
		return nil, a.refuse(node)
	}
	bus, err := openI2CDev(node, matchRule(a.Driver, a.Name))
	if err != nil {
		return nil, err
	}
	if err := lockPort(ctx, bus.file, node); err != nil {
		bus.Close()
		return nil, err
	}
	return bus, nil
}

// AdapterPort is a bare I2C adapter: a display's DDC lines wired straight to
// it, or a graphics driver's bus that no connector owns.
type AdapterPort struct {
	id      string
	adapter Adapter
	dev     string
	label   string // the user's own name
}

var _ BusPort = (*AdapterPort)(nil)

// Info implements Port.
func (p *AdapterPort) Info() PortInfo {
	return PortInfo{ID: p.id, Kind: BareBus, Label: cmp.Or(p.label, p.adapter.Name), Driver: p.adapter.Driver,
		Devices:  []string{path.Join(p.dev, p.adapter.Node()), path.Join("/sys", p.adapter.SysDir)},
		Observes: []Quantity{Ack, RawEDID}, Trouble: tryOpen(&p.adapter, p.dev)}
}

// Bus implements BusPort. The caller closes it, if it is an io.Closer.
func (p *AdapterPort) Bus() (Bus, error) { return takeBus(context.Background(), p.adapter, p.dev) }

// LookDown implements Out.
func (p *AdapterPort) LookDown(ctx context.Context, o DownOptions) Downstream {
	d := lookDownAdapter(ctx, p.adapter, p.dev, o)
	none := &OpError{Op: "look beside the DDC lines", Path: path.Join(p.dev, p.adapter.Node()), Kind: ErrUnsupported,
		Err: syscall.EOPNOTSUPP, Do: "a bare bus has SDA and SCL only"}
	d.Port = p.id
	d.Connector = CannotMeasure[ConnectorStatus](none)
	d.KernelEDID = CannotMeasure[[]byte](none)
	d.HotPlug = CannotMeasure[bool](none)
	d.RxSense = CannotMeasure[bool](none)
	d.Supplies5V = CannotMeasure[bool](none)
	return d
}

// Force makes the kernel treat the output as connected although its hot-plug
// line says nothing, so that a path with a dead hot-plug can be driven; off
// again, the kernel detects anew. It needs root.
func (p *Output) Force(on bool) error {
	word := "detect"
	if on {
		word = "on"
	}
	name := path.Join("/sys", p.connector.SysDir, "status")
	if err := os.WriteFile(name, []byte(word), 0); err != nil {
		return openError("force the output", name, err)
	}
	return nil
}

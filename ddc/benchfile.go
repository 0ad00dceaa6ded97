package ddc

import (
	"errors"
	"fmt"
	"io/fs"
	"maps"
	"slices"
	"strings"

	"deadhop/edid/yamlfile"
)

// benchFileVersion is the version of the bench file's form.
const benchFileVersion = 1

// benchFile is the YAML form of what a user knows of his bench and the kernel
// does not say.
type benchFile struct {
	Version int                   `yaml:"version"`
	Outputs map[string]outputFile `yaml:"outputs"`
	Inputs  map[string]inputFile  `yaml:"inputs"`
	Buses   map[string]busFile    `yaml:"buses"`
}

// outputFile is about a video output, by connector: "HDMI-A-1" or
// "card1-HDMI-A-1".
type outputFile struct {
	Label string `yaml:"label"`
	DDC   string `yaml:"ddc"` // the I2C adapter wired to it, "i2c-5"
}

// inputFile is about a video receiver, by node: "video0" or "video0.1".
type inputFile struct {
	Label string `yaml:"label"`
	Sound string `yaml:"sound"` // the capture device of its sound, "pcmC1D0c"
}

// busFile is about an I2C adapter, "i2c-5".
type busFile struct {
	Label string `yaml:"label"`
	// LeadsToADisplay must be true: it is the user's word that nothing but a
	// display's DDC lines hang on the adapter.
	LeadsToADisplay bool `yaml:"leads-to-a-display"`
}

// ParseBenchFile reads a bench file into options. Faults are *yamlfile.Error
// with line and column, several of them joined.
func ParseBenchFile(name string, data []byte) (BenchOptions, error) {
	var b benchFile
	f, err := yamlfile.Decode(name, data, &b)
	if err != nil {
		return BenchOptions{}, err
	}
	var o BenchOptions
	var errs []error
	bad := func(path, format string, args ...any) { errs = append(errs, f.Errorf(path, format, args...)) }
	if b.Version != benchFileVersion {
		bad("$.version", "version %d is not known here: write version: %d", b.Version, benchFileVersion)
	}
	for _, c := range slices.Sorted(maps.Keys(b.Outputs)) {
		out := b.Outputs[c]
		o.label("out:"+c, out.Label)
		if out.DDC == "" {
			continue
		}
		if _, ok := adapterNumber(out.DDC); !ok {
			bad("$.outputs."+c+".ddc", "%q names no I2C bus: write it as i2c-5", out.DDC)
			continue
		}
		if o.DDC == nil {
			o.DDC = map[string]string{}
		}
		o.DDC[c] = out.DDC
	}
	for _, v := range slices.Sorted(maps.Keys(b.Inputs)) {
		in := b.Inputs[v]
		if !strings.HasPrefix(v, "video") && !strings.HasPrefix(v, "v4l-subdev") {
			bad("$.inputs."+v, "%q is no receiver: write it as video0", v)
			continue
		}
		o.label("in:"+v, in.Label)
		if in.Sound == "" {
			continue
		}
		if m := pcmName.FindStringSubmatch(in.Sound); m == nil || m[3] != "c" {
			bad("$.inputs."+v+".sound", "%q is no sound capture device: write it as pcmC1D0c", in.Sound)
			continue
		}
		if o.Sound == nil {
			o.Sound = map[string]string{}
		}
		o.Sound["in:"+v] = in.Sound
	}
	for _, n := range slices.Sorted(maps.Keys(b.Buses)) {
		bus := b.Buses[n]
		switch _, ok := adapterNumber(n); {
		case !ok:
			bad("$.buses."+n, "%q names no I2C bus: write it as i2c-5", n)
		case !bus.LeadsToADisplay:
			bad("$.buses."+n, "leads-to-a-display must be true: without your word that only a display hangs on %s it is not touched", n)
		default:
			o.label("bus:"+n, bus.Label)
			o.Buses = append(o.Buses, n)
		}
	}
	if len(errs) > 0 {
		return BenchOptions{}, errors.Join(errs...)
	}
	return o, nil
}

// label notes a port's own name.
func (o *BenchOptions) label(id, text string) {
	if text == "" {
		return
	}
	if o.Labels == nil {
		o.Labels = map[string]string{}
	}
	o.Labels[id] = text
}

// UdevRules is a udev rules file that opens the bench's devices to a group:
// video receivers, outputs, CEC and sound belong to their usual groups on most
// systems already, I2C buses often to root alone. Only the buses of displays
// and plug-in adapters are opened, never a machine's own SMBus.
func UdevRules(sys fs.FS, group string) (string, error) {
	adapters, err := Adapters(sys)
	if err != nil {
		return "", err
	}
	var s strings.Builder
	fmt.Fprintf(&s, "# I2C buses of displays and plug-in adapters, for the group %s.\n", group)
	seen := map[string]bool{}
	rule := func(a Adapter) {
		if a.Use() == UseNever || seen[a.Name] || strings.ContainsAny(a.Name, "\"\\*?[]|\n") {
			return
		}
		seen[a.Name] = true
		name := a.Name
		if i := strings.Index(name, " at bus "); i > 0 { // changes with the USB socket
			name = name[:i] + " at bus *"
		}
		fmt.Fprintf(&s, "SUBSYSTEM==\"i2c-dev\", ATTR{name}==\"%s\", GROUP=\"%s\", MODE=\"0660\"\n", name, group)
	}
	for _, a := range adapters {
		if u := a.Use(); u == UseBench || u == UseGraphics {
			rule(a)
		}
	}
	connectors, err := Connectors(sys)
	if err != nil {
		return "", err
	}
	for _, c := range connectors {
		if c.DDC != nil {
			rule(*c.DDC)
		}
	}
	return s.String(), nil
}

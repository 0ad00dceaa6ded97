package ddc

import (
	"context"
	"io/fs"
	"os"
	"testing"
	"testing/fstest"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

func TestBenchFileBecomesOptions(t *testing.T) {
	o, err := ParseBenchFile("bench.yaml", []byte(`version: 1
outputs:
  card2-HDMI-A-1: {ddc: i2c-5, label: the grey lead}
  DP-1: {}
inputs:
  video0: {sound: pcmC1D0c, label: grabber}
buses:
  i2c-12: {leads-to-a-display: true}
`))
	require.NoError(t, err)
	assert.Equal(t, BenchOptions{
		Buses:  []string{"i2c-12"},
		DDC:    map[string]string{"card2-HDMI-A-1": "i2c-5"},
		Sound:  map[string]string{"in:video0": "pcmC1D0c"},
		Labels: map[string]string{"out:card2-HDMI-A-1": "the grey lead", "in:video0": "grabber"},
	}, o)

	o.Sys, o.Dev = os.DirFS(repairDesk), t.TempDir()
	b, err := OpenBench(o)
	require.NoError(t, err)
	ports, err := b.Ports(context.Background())
	require.NoError(t, err)
	for _, p := range ports {
		if i := p.Info(); i.ID == "out:card2-HDMI-A-1" {
			assert.Equal(t, "the grey lead", i.Label)
			assert.Contains(t, i.Observes, RawEDID)
			return
		}
	}
	t.Fatal("the labelled output is not there")
}

func TestBenchFileFaultsHaveTheirPlace(t *testing.T) {
	for _, c := range []struct{ file, want string }{
		{"version: 2\n", "bench.yaml:1:10: version 2 is not known here"},
		{"version: 1\noutputs:\n  HDMI-A-1: {ddc: five}\n", "bench.yaml:3:"},
		{"version: 1\nbuses:\n  i2c-5: {}\n", "leads-to-a-display must be true"},
		{"version: 1\nbuses:\n  five: {leads-to-a-display: true}\n", `"five" names no I2C bus`},
		{"version: 1\ninputs:\n  video0: {sound: pcmC0D0p}\n", "no sound capture device"},
		{"version: 1\ninputs:\n  radio0: {}\n", "no receiver"},
		{"version: 1\noutput: {}\n", "bench.yaml:2:1"},
	} {
		_, err := ParseBenchFile("bench.yaml", []byte(c.file))
		assert.ErrorContains(t, err, c.want, c.file)
	}
}

func TestUdevRulesOpenDisplaysBusesOnly(t *testing.T) {
	s, err := UdevRules(os.DirFS(repairDesk), "bench")
	require.NoError(t, err)
	assert.Equal(t, `# I2C buses of displays and plug-in adapters, for the group bench.
SUBSYSTEM=="i2c-dev", ATTR{name}=="i2c-tiny-usb at bus *", GROUP="bench", MODE="0660"
SUBSYSTEM=="i2c-dev", ATTR{name}=="AUX B/DDI B/PHY B", GROUP="bench", MODE="0660"
SUBSYSTEM=="i2c-dev", ATTR{name}=="i915 gmbus dpb", GROUP="bench", MODE="0660"
SUBSYSTEM=="i2c-dev", ATTR{name}=="i915 gmbus dpc", GROUP="bench", MODE="0660"
`, s)
}

// A stick's sound is the sound of the same USB device; another card's is not.
func TestSoundBelongsToTheSameHardware(t *testing.T) {
	link := func(to string) *fstest.MapFile { return &fstest.MapFile{Data: []byte(to), Mode: fs.ModeSymlink} }
	const usb = "devices/pci0000:00/0000:00:14.0/usb1/"
	sys := fstest.MapFS{
		"class/video4linux/video2":                  link("../../" + usb + "1-2/1-2:1.0/video4linux/video2"),
		"class/sound/pcmC1D0c":                      link("../../" + usb + "1-2/1-2:1.2/sound/card1/pcmC1D0c"),
		"class/sound/pcmC2D0c":                      link("../../" + usb + "1-3/1-3:1.0/sound/card2/pcmC2D0c"),
		"class/sound/card1":                         link("../../" + usb + "1-2/1-2:1.2/sound/card1"),
		usb + "1-2/1-2:1.0/subsystem":               link("../../../../../../bus/usb"),
		usb + "1-2/1-2:1.2/subsystem":               link("../../../../../../bus/usb"),
		usb + "1-3/1-3:1.0/subsystem":               link("../../../../../../bus/usb"),
		usb + "1-2/1-2:1.2/sound/card1/id":          {Data: []byte("Stick\n")},
		usb + "1-2/1-2:1.0/video4linux/video2/name": {Data: []byte("Stick\n")},
	}
	b, err := OpenBench(BenchOptions{Sys: sys})
	require.NoError(t, err)
	r := &Receiver{id: "in:video2", sysDir: "class/video4linux/video2"}
	require.NoError(t, b.findSound([]*Receiver{r}))
	require.NotNil(t, r.sound)
	assert.Equal(t, "/dev/snd/pcmC1D0c", r.sound.Node)
	assert.Equal(t, "Stick", r.sound.Card)

	b.sound = map[string]string{"in:video2": "pcmC9D0c"}
	assert.ErrorIs(t, b.findSound([]*Receiver{r}), ErrNotThere)
}

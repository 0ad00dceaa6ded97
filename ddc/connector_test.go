package ddc

import (
	"context"
	"io/fs"
	"os"
	"path/filepath"
	"syscall"
	"testing"
	"testing/fstest"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

const repairDesk = "../testdata/sysfs/repair-desk"

func TestConnectorsOfAMachineWithTwoCards(t *testing.T) {
	sys := os.DirFS(repairDesk)
	all, err := Connectors(sys)
	require.NoError(t, err)
	type row struct {
		name, driver string
		id           uint32
		ddc          string
		status       ConnectorStatus
		enabled      bool
		edid         int
	}
	var got []row
	for _, c := range all {
		r := row{name: c.PathName(), driver: c.Driver, id: c.ID}
		if c.DDC != nil {
			r.ddc = c.DDC.Node() + " " + c.DDC.Name
		}
		r.status, err = c.Status(sys)
		require.NoError(t, err)
		r.enabled, err = c.Enabled(sys)
		require.NoError(t, err)
		b, err := c.KernelEDID(sys)
		require.NoError(t, err)
		onDisk, err := os.ReadFile(filepath.Join(repairDesk, c.SysDir, "edid"))
		require.NoError(t, err)
		assert.Equal(t, string(onDisk), string(b), "byte for byte")
		r.edid = len(b)
		got = append(got, r)
	}
	assert.Equal(t, []row{
		{"card2-HDMI-A-1", "bochs-drm", 33, "", ConnectorUnknown, false, 0},
		{"card2-Virtual-1", "bochs-drm", 31, "", Connected, true, 256},
		{"card10-DP-1", "i915", 110, "i2c-7 AUX B/DDI B/PHY B", Connected, true, 384},
		{"card10-DP-3", "i915", 130, "", Connected, false, 128},
		{"card10-HDMI-A-1", "i915", 95, "i2c-3 i915 gmbus dpb", Connected, true, 256},
		{"card10-HDMI-A-2", "i915", 103, "i2c-4 i915 gmbus dpc", Disconnected, false, 0},
		{"card10-eDP-1", "i915", 85, "", Connected, true, 128},
	}, got)
}

func TestAdaptersAndWhatTheyMayBeUsedFor(t *testing.T) {
	all, err := Adapters(os.DirFS(repairDesk))
	require.NoError(t, err)
	got := map[string]Use{}
	for _, a := range all {
		got[a.Node()+" "+a.Driver] = a.Use()
	}
	assert.Equal(t, map[string]Use{
		"i2c-0 i801_smbus":    UseNever,
		"i2c-3 i915":          UseNamed,
		"i2c-4 i915":          UseNamed,
		"i2c-5 somewhere":     UseNamed,
		"i2c-7 i915":          UseNamed,
		"i2c-12 i2c-tiny-usb": UseBench,
	}, got)
}

func TestSystemSMBusIsKnownByItsClassAlone(t *testing.T) {
	a := Adapter{Name: "some adapter of tomorrow", Driver: "tomorrow", PCI: "0x0c0500"}
	assert.Equal(t, UseNever, a.Use())
}

func benchAt(t *testing.T, o BenchOptions) ([]Port, error) {
	t.Helper()
	if o.Sys == nil {
		o.Sys = os.DirFS(repairDesk)
	}
	o.Dev = t.TempDir()
	b, err := OpenBench(o)
	require.NoError(t, err)
	return b.Ports(context.Background())
}

func ids(ports []Port) (all []string) {
	for _, p := range ports {
		all = append(all, p.Info().ID)
	}
	return all
}

func TestBenchOffersOnlyWhatBelongsToDisplays(t *testing.T) {
	ports, err := benchAt(t, BenchOptions{})
	require.NoError(t, err)
	assert.Equal(t, []string{
		"out:card2-HDMI-A-1", "out:Virtual-1",
		"out:DP-1", "out:DP-3", "out:card10-HDMI-A-1", "out:HDMI-A-2", "out:eDP-1",
		"bus:i2c-12",
	}, ids(ports))
	// There is no node behind any of them here, and each says so.
	last := ports[len(ports)-1].Info()
	assert.ErrorIs(t, last.Trouble, ErrNotThere)
	assert.ErrorContains(t, last.Trouble, "modprobe i2c-dev")
}

func TestBenchTakesANamedBusButNeverTheMachinesOwn(t *testing.T) {
	ports, err := benchAt(t, BenchOptions{Buses: []string{"i2c-5", "i2c-0", "/dev/i2c-99"}})
	assert.Contains(t, ids(ports), "bus:i2c-5")
	assert.NotContains(t, ids(ports), "bus:i2c-0")
	require.ErrorIs(t, err, ErrPermission)
	assert.ErrorContains(t, err, "SMBus I801 adapter at efa0")
	assert.ErrorIs(t, err, ErrNotThere)
	assert.ErrorContains(t, err, "i2c-12 (i2c-tiny-usb at bus 001 device 004)")

	ports, err = benchAt(t, BenchOptions{DDC: map[string]string{"card2-HDMI-A-1": "i2c-0"}})
	require.NoError(t, err)
	for _, p := range ports {
		if p.Info().ID == "out:card2-HDMI-A-1" {
			assert.ErrorIs(t, p.Info().Trouble, ErrPermission)
			d := p.(Out).LookDown(context.Background(), DownOptions{})
			assert.ErrorIs(t, d.Ack.Err, ErrPermission)
			assert.Empty(t, d.Log, "not one attempt")
		}
	}
	_, err = OpenBench(BenchOptions{Buses: []string{"five"}})
	assert.ErrorContains(t, err, "i2c-5")
}

func TestOutputWithoutADDCBusSaysWhy(t *testing.T) {
	ports, err := benchAt(t, BenchOptions{})
	require.NoError(t, err)
	for _, p := range ports {
		if p.Info().ID != "out:Virtual-1" {
			continue
		}
		d := p.(Out).LookDown(context.Background(), DownOptions{})
		assert.ErrorIs(t, d.EDID.Err, ErrUnsupported)
		assert.ErrorContains(t, d.EDID.Err, "no DDC wires")
		assert.Equal(t, Got(Connected), d.Connector)
		assert.Len(t, d.KernelEDID.V, 256)
		assert.Equal(t, Unable, d.HotPlug.State)
	}
}

func TestBareMachineHasNoPorts(t *testing.T) {
	for name, sys := range map[string]fs.FS{"no classes": os.DirFS("../testdata/sysfs/bare"), "nothing": fstest.MapFS{}} {
		ports, err := benchAt(t, BenchOptions{Sys: sys})
		assert.NoError(t, err, name)
		assert.Empty(t, ports, name)
	}
}

// A connector that goes while it is being read is gone, not "disconnected".
func TestConnectorThatVanishes(t *testing.T) {
	c := DRMConnector{Card: 0, Name: "HDMI-A-1", SysDir: "class/drm/card0-HDMI-A-1"}
	_, err := c.Status(fstest.MapFS{})
	assert.ErrorIs(t, err, ErrGone)
}

func TestPermissionIsExplainedFromTheNode(t *testing.T) {
	node := filepath.Join(t.TempDir(), "i2c-3")
	require.NoError(t, os.WriteFile(node, nil, 0o600))
	err := openError("open the I2C bus", node, syscall.EACCES)
	assert.ErrorIs(t, err, ErrPermission)
	assert.ErrorIs(t, err, syscall.EACCES)
	assert.ErrorContains(t, err, "mode 0600, which lets no group in: a udev rule must set GROUP and MODE")
	require.NoError(t, os.Chmod(node, 0o660))
	require.NoError(t, os.Chown(node, 0, os.Getegid()))
	assert.ErrorContains(t, openError("open", node, syscall.EACCES), "this process is in that group: something else forbids it")
}

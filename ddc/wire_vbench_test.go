//go:build vbench

package ddc

import (
	"context"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"deadhop/ddc/internal/uapi"
	"deadhop/edid"
)

// needModules skips, saying so, where the kernel under test lacks a module.
func needModules(t *testing.T, modules ...string) {
	t.Helper()
	missing := strings.Fields(os.Getenv("DEADHOP_VBENCH_MISSING"))
	for _, m := range modules {
		for _, gone := range missing {
			if m == gone {
				t.Skipf("this kernel has no module %s", m)
			}
		}
	}
}

func vbenchContext(t *testing.T) context.Context {
	ctx, cancel := context.WithTimeout(context.Background(), 30*time.Second)
	t.Cleanup(cancel)
	return ctx
}

func adapterNamed(t *testing.T, name string) Adapter {
	t.Helper()
	all, err := Adapters(os.DirFS("/sys"))
	require.NoError(t, err)
	for _, a := range all {
		if a.Name == name {
			return a
		}
	}
	t.Fatalf("no adapter is named %q", name)
	return Adapter{}
}

// The kernel's radeonfb reads the emulated display's EDID itself while it
// starts, and shows it as the PCI device's edid1.
func TestVBenchWireEDIDEqualsTheKernels(t *testing.T) {
	needModules(t, "radeonfb", "i2c-dev")
	ctx := vbenchContext(t)
	files, err := filepath.Glob("/sys/bus/pci/drivers/radeonfb/*/edid1")
	require.NoError(t, err)
	require.Len(t, files, 1)
	kernel, err := os.ReadFile(files[0])
	require.NoError(t, err)

	bench, err := OpenBench(BenchOptions{})
	require.NoError(t, err)
	ports, err := bench.Ports(ctx)
	require.NoError(t, err)
	var answering []Downstream
	for _, p := range ports {
		if p.Info().Kind == BareBus && p.Info().Driver == "radeonfb" {
			d := p.(Out).LookDown(ctx, DownOptions{})
			require.Equal(t, Known, d.Ack.State, "%s: %v", p.Info().ID, d.Ack.Err)
			if d.Ack.V {
				answering = append(answering, d)
			} else {
				assert.ErrorIs(t, d.Ack.Err, ErrNoAck)
				assert.Equal(t, Unable, d.EDID.State)
			}
		}
	}
	require.Len(t, answering, 1, "one bus has a display")
	d := answering[0]
	require.Equal(t, Known, d.EDID.State, "%v", d.EDID.Err)
	assert.Equal(t, kernel, d.EDID.V)
	assert.Equal(t, Got(true), d.Stable)
	assert.Len(t, d.Log, 2, "one combined transaction a block, read twice")
	for _, a := range d.Log {
		assert.Equal(t, Combined, a.By)
	}
	e, err := edid.Decode(d.EDID.V)
	require.NoError(t, err)
	assert.Empty(t, e.IssuesAt(edid.BreaksSound), "nothing that costs picture or sound")
}

func TestVBenchSMBusOnlyAdapterReadsBackWhatWasWritten(t *testing.T) {
	needModules(t, "i2c-stub", "i2c-dev")
	ctx := vbenchContext(t)
	a := adapterNamed(t, "SMBus stub driver")
	whole := make([]byte, 256)
	for i := range whole {
		whole[i] = byte(i*5 + i/128)
	}
	copy(whole, edidHeader)
	whole[126] = 1
	for at := 0; at < 256; at += 128 {
		whole[at+127] -= sum(whole[at : at+128])
	}
	damaged := append([]byte(nil), whole...)
	damaged[200] ^= 0x10 // the checksum of block 1 no longer holds

	for name, image := range map[string][]byte{"sound": whole, "corrupted checksum": damaged} {
		t.Run(name, func(t *testing.T) {
			f, err := uapi.Open("/dev/" + a.Node())
			require.NoError(t, err)
			require.NoError(t, uapi.I2CSlave(f, EDIDAddr))
			for i, v := range image {
				require.NoError(t, uapi.SMBusWriteByteData(f, byte(i), v))
			}
			require.NoError(t, f.Close())

			bench, err := OpenBench(BenchOptions{Buses: []string{a.Node()}})
			require.NoError(t, err)
			ports, err := bench.Ports(ctx)
			require.NoError(t, err)
			d := portNamed(t, ports, "bus:"+a.Node()).(Out).LookDown(ctx, DownOptions{})
			require.Equal(t, Known, d.EDID.State, "%v", d.EDID.Err)
			assert.Equal(t, image, d.EDID.V)
			assert.Equal(t, Got(true), d.Stable, "the same bytes each time: the store, not the bus")
			assert.Equal(t, SMBusI2C, d.Log[len(d.Log)-1].By)
			if name == "sound" {
				assert.Len(t, d.Log, 2*2)
			} else {
				assert.Len(t, d.Log, suspiciousReads*2)
			}

			// The same by single bytes, as adapters without block reads do.
			bus, err := takeBus(ctx, a, "/dev")
			require.NoError(t, err)
			bus.ways = []Method{SMBusByte}
			got, err := ReadEDID(ctx, bus, ReadOptions{})
			require.NoError(t, err)
			assert.Equal(t, image, got.Bytes)
			require.NoError(t, bus.Close())
		})
	}
}

func sum(b []byte) (s byte) {
	for _, v := range b {
		s += v
	}
	return s
}

func portNamed(t *testing.T, ports []Port, id string) Port {
	t.Helper()
	var have []string
	for _, p := range ports {
		if p.Info().ID == id {
			return p
		}
		have = append(have, p.Info().ID)
	}
	t.Fatalf("no port %s among %s", id, strings.Join(have, ", "))
	return nil
}

func TestVBenchBusesOfferedAreOnlyThoseOfDisplays(t *testing.T) {
	needModules(t, "i2c-stub", "i2c-i801", "radeonfb", "i2c-dev")
	ctx := vbenchContext(t)
	bench, err := OpenBench(BenchOptions{})
	require.NoError(t, err)
	ports, err := bench.Ports(ctx)
	require.NoError(t, err)
	for _, p := range ports {
		if i := p.Info(); i.Kind == BareBus {
			assert.True(t, strings.HasPrefix(i.Label, "radeonfb "), i.Label)
			assert.NoError(t, i.Trouble)
		}
	}
	all, err := Adapters(os.DirFS("/sys"))
	require.NoError(t, err)
	for _, a := range all {
		if !strings.HasPrefix(a.Name, "SMBus I801 adapter") {
			continue
		}
		assert.Equal(t, UseNever, a.Use())
		assert.Equal(t, UseNever, Adapter{PCI: a.PCI}.Use(), "by its PCI class alone")
		bench, err := OpenBench(BenchOptions{Buses: []string{a.Node()}})
		require.NoError(t, err)
		ports, err := bench.Ports(ctx)
		assert.ErrorIs(t, err, ErrPermission)
		for _, p := range ports {
			assert.NotEqual(t, "bus:"+a.Node(), p.Info().ID)
		}
		return
	}
	t.Fatal("the machine's own SMBus is not there")
}

func TestVBenchConnectorsAgreeWithTheKernel(t *testing.T) {
	needModules(t, "bochs", "virtio-gpu")
	ctx := vbenchContext(t)
	dirs, err := filepath.Glob("/sys/class/drm/card*-*")
	require.NoError(t, err)
	require.GreaterOrEqual(t, len(dirs), 3)
	bench, err := OpenBench(BenchOptions{})
	require.NoError(t, err)
	ports, err := bench.Ports(ctx)
	require.NoError(t, err)
	byLabel := map[string]Out{}
	for _, p := range ports {
		if p.Info().Kind == OutPort {
			byLabel[p.Info().Label] = p.(Out)
		}
	}
	assert.Len(t, byLabel, len(dirs))
	words := map[ConnectorStatus]string{Connected: "connected", Disconnected: "disconnected", ConnectorUnknown: "unknown"}
	var connected int
	for _, dir := range dirs {
		p := byLabel[filepath.Base(dir)]
		require.NotNil(t, p, dir)
		d := p.LookDown(ctx, DownOptions{})
		status, err := os.ReadFile(dir + "/status")
		require.NoError(t, err)
		assert.Equal(t, strings.TrimSpace(string(status)), words[d.Connector.V])
		kernel, err := os.ReadFile(dir + "/edid")
		require.NoError(t, err)
		assert.Equal(t, len(kernel), len(d.KernelEDID.V))
		assert.Equal(t, string(kernel), string(d.KernelEDID.V))
		if d.Connector.V == Connected {
			connected++
		}
		if strings.HasPrefix(filepath.Base(dir), "card0-") {
			assert.Len(t, d.KernelEDID.V, 256) // QEMU's generator makes two blocks
		}
		assert.ErrorIs(t, d.EDID.Err, ErrUnsupported)
	}
	assert.Equal(t, 2, connected)
}

// The kernel's own trace of every I2C and SMBus message proves that the
// machine's SMBus hears nothing, and counts what the display's bus heard.
func TestVBenchSystemSMBusStaysSilent(t *testing.T) {
	needModules(t, "i2c-i801", "radeonfb", "i2c-dev")
	ctx := vbenchContext(t)
	const tracing = "/sys/kernel/tracing/"
	for _, group := range []string{"i2c", "smbus"} {
		require.NoError(t, os.WriteFile(tracing+"events/"+group+"/enable", []byte("1"), 0))
		defer os.WriteFile(tracing+"events/"+group+"/enable", []byte("0"), 0)
	}
	require.NoError(t, os.WriteFile(tracing+"trace", nil, 0))

	var system string
	all, err := Adapters(os.DirFS("/sys"))
	require.NoError(t, err)
	for _, a := range all {
		if strings.HasPrefix(a.Name, "SMBus I801") {
			system = a.Node()
		}
	}
	require.NotEmpty(t, system)
	bench, err := OpenBench(BenchOptions{Buses: []string{system}})
	require.NoError(t, err)
	ports, _ := bench.Ports(ctx)
	want := map[string]int{}
	for _, p := range ports {
		switch p := p.(type) {
		case Out:
			for _, a := range p.LookDown(ctx, DownOptions{}).Log {
				want[strings.TrimPrefix(p.Info().ID, "bus:")] += len(a.Msgs)
			}
		case In:
			p.LookUp(ctx, UpOptions{})
		}
	}
	require.NotEmpty(t, want)

	trace, err := os.ReadFile(tracing + "trace")
	require.NoError(t, err)
	heard := map[string]int{}
	for _, m := range regexp.MustCompile(`(?:i2c|smbus)_(?:write|read): (i2c-\d+) `).FindAllStringSubmatch(string(trace), -1) {
		heard[m[1]]++
	}
	assert.Zero(t, heard[system], "messages on the machine's own SMBus")
	assert.Equal(t, want, heard, "every message on the buses is in the log")
}

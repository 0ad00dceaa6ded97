//go:build vbench

package vbench

import (
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// systemSMBus is the number of the machine's own SMBus.
func systemSMBus(t *testing.T) string {
	t.Helper()
	names, err := filepath.Glob("/sys/bus/i2c/devices/i2c-*/name")
	require.NoError(t, err)
	for _, n := range names {
		b, err := os.ReadFile(n)
		require.NoError(t, err)
		if strings.Contains(string(b), "I801") {
			return strings.TrimPrefix(filepath.Base(filepath.Dir(n)), "i2c-")
		}
	}
	t.Fatal("the machine has no SMBus of its own here")
	return ""
}

// traced counts the kernel's trace events by adapter while f runs.
func traced(t *testing.T, f func()) map[string]int {
	t.Helper()
	const tracing = "/sys/kernel/tracing/"
	for _, group := range []string{"i2c", "smbus"} {
		require.NoError(t, os.WriteFile(tracing+"events/"+group+"/enable", []byte("1"), 0))
		defer os.WriteFile(tracing+"events/"+group+"/enable", []byte("0"), 0)
	}
	require.NoError(t, os.WriteFile(tracing+"trace", nil, 0))
	f()
	b, err := os.ReadFile(tracing + "trace")
	require.NoError(t, err)
	kept := regexp.MustCompile(`entries-in-buffer/entries-written: (\d+)/(\d+)`).FindStringSubmatch(string(b))
	require.NotNil(t, kept)
	require.Equal(t, kept[2], kept[1], "a full buffer would look like silence")
	n := map[string]int{}
	for _, m := range regexp.MustCompile(`(?:i2c|smbus)_(?:write|read): (i2c-\d+) `).FindAllStringSubmatch(string(b), -1) {
		n[m[1]]++
	}
	return n
}

// Something answers at 0x50 on the machine's own SMBus. The verbs that open the
// bench run (fit stands for those that take a timing from a port), with that bus
// named in the bench file as well, and the kernel sees not one message on it.
func TestProgramIsSilentOnTheSystemSMBus(t *testing.T) {
	receiver(t)
	keepsEDID(t)
	number := systemSMBus(t)
	smbus := "i2c-" + number
	_, port := display(t, scalerEDID(t))
	bus := strings.TrimPrefix(port, "bus:")
	file := filepath.Join(t.TempDir(), "scaler.bin")
	require.NoError(t, os.WriteFile(file, scalerEDID(t), 0o644))
	named := filepath.Join(t.TempDir(), "bench.yaml")
	require.NoError(t, os.WriteFile(named, []byte("version: 1\nbuses:\n  "+smbus+": {leads-to-a-display: true}\n"), 0o644))

	seen := traced(t, func() {
		for _, bench := range []string{"", named} {
			for _, args := range [][]string{
				{"ports"}, {"access"}, {"access", "--rules"},
				{"decode", "bus:" + smbus}, {"decode", port},
				{"query", "bus:" + smbus}, {"query", port},
				{"restore", file, "--port", "bus:" + smbus}, {"restore", file, "--port", port},
				{"look", "c2.display", "--chain", "testdata/medical-cart.yaml", "--port", "bus:" + smbus},
				{"look", "c2.display", "--chain", "testdata/medical-cart.yaml", "--port", port},
				{"look", "c2.display", "--chain", "testdata/medical-cart.yaml", "--port", receiverPort},
				{"present", "nothing", "--port", receiverPort}, {"listen", receiverPort},
				{"show", "bars", "--port", "out:Virtual-1", "--for", "200ms"},
				{"loop", "--from", "out:Virtual-1", "--to", receiverPort, "--at", "DMT 0x04", "--frames", "1"},
				{"fit", "edid:bus:" + smbus}, {"guide", "--chain", "testdata/medical-cart.yaml"},
			} {
				r := typing(t, "q", append(args, "--bench", bench)...)
				if strings.Contains(strings.Join(args, " "), smbus) {
					assert.NotZero(t, r.code, "%v", args)
				}
			}
		}
	})
	assert.Zero(t, seen[smbus], "messages on the machine's own SMBus: %v", seen)
	assert.Positive(t, seen[bus], "the display's bus is in the trace")

	// The trace would have shown it.
	read := traced(t, func() { _ = exec.Command("busybox", "i2cget", "-y", number, "0x50", "0").Run() })
	assert.Positive(t, read[smbus], "a read by another program shows in the trace: %v", read)
}

// An output without a display is driven by force, and left as it was.
func TestProgramForcesAnOutputAndLetsGo(t *testing.T) {
	const status = "/sys/class/drm/card1-Virtual-3/status"
	read := func() string {
		b, err := os.ReadFile(status)
		require.NoError(t, err)
		return strings.TrimSpace(string(b))
	}
	require.Equal(t, "disconnected", read())
	r := deadhop(t, "show", "bars", "--port", "out:Virtual-3", "--timing", "DMT 0x04", "--force", "--for", "500ms")
	assert.Zero(t, r.code, r.out+r.err)
	assert.Equal(t, "disconnected", read())
	r = deadhop(t, "show", "bars", "--port", "out:Virtual-3", "--for", "500ms")
	assert.Equal(t, 3, r.code, "no display asks for a timing: %s", r.out)
	assert.Contains(t, r.err, "name one")
}

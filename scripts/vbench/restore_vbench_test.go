//go:build vbench

package vbench

import (
	"bytes"
	"context"
	"errors"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"deadhop/ddc/ddctest"
	"deadhop/ddc/usbiptest"
)

// storeBehindUSB plays a display with a writable store behind a USB adapter.
// Its header was lost, as happens; the repaired EDID is in the file.
func storeBehindUSB(t *testing.T) (e *ddctest.EEPROM, w *usbiptest.Wire, port, file string) {
	t.Helper()
	edid := scalerEDID(t)
	e = &ddctest.EEPROM{Busy: 2}
	copy(e.Data[:], edid)
	clear(e.Data[:8])
	for i := 40; i < 100; i++ {
		e.Data[i] = 0xff
	}
	w = usbiptest.NewWire()
	w.Add(usbiptest.EDIDAddr, e)
	ctx, cancel := context.WithTimeout(context.Background(), 10*time.Second)
	defer cancel()
	a, err := usbiptest.Attach(ctx, w)
	require.NoError(t, err)
	t.Cleanup(func() { assert.NoError(t, a.Close()) })
	file = filepath.Join(t.TempDir(), "whole.bin")
	require.NoError(t, os.WriteFile(file, edid, 0o644))
	return e, w, "bus:" + strings.TrimPrefix(a.Device, "/dev/"), file
}

// typing runs the program with a line typed.
func typing(t *testing.T, line string, args ...string) result {
	t.Helper()
	ctx, cancel := context.WithTimeout(context.Background(), 40*time.Second)
	defer cancel()
	var out, errs bytes.Buffer
	cmd := exec.CommandContext(ctx, "deadhop", args...)
	cmd.Stdin, cmd.Stdout, cmd.Stderr = strings.NewReader(line+"\n"), &out, &errs
	err := cmd.Run()
	require.NoError(t, ctx.Err(), "%s%s", &out, &errs)
	var exit *exec.ExitError
	if err != nil && !errors.As(err, &exit) {
		t.Fatal(err)
	}
	require.NotContains(t, errs.String(), "goroutine ")
	return result{out.String(), errs.String(), cmd.ProcessState.ExitCode()}
}

// writes counts page writes on the wire and calls at with each one's number.
func writes(at func(n int)) usbiptest.Fault {
	n := 0
	return func(_ int, m *usbiptest.Message) {
		if m.Addr == usbiptest.EDIDAddr && !m.Read && len(m.Data) > 1 {
			at(n)
			n++
		}
	}
}

func TestProgramRestoresADisplaysStore(t *testing.T) {
	e, w, port, file := storeBehindUSB(t)
	keep := t.TempDir()
	old := e.Data
	phrase := "write " + port + " XQZ 1A01"
	args := []string{"restore", file, "--port", port, "--keep", keep}

	pages := 0
	w.SetFaults(writes(func(int) { pages++ }))
	for _, wrong := range []string{"", "yes", phrase + "1"} {
		r := typing(t, wrong, args...)
		assert.Equal(t, 2, r.code, r.err)
		assert.Contains(t, r.out, phrase)
		assert.Contains(t, r.out, "local codes and a licensed person")
	}
	assert.Zero(t, pages, "nothing is written without the line")
	assert.Equal(t, old, e.Data)
	dumps, err := filepath.Glob(keep + "/*.bin")
	require.NoError(t, err)
	require.Len(t, dumps, 1)
	dump, err := os.ReadFile(dumps[0])
	require.NoError(t, err)
	assert.Equal(t, old[:128], dump)

	r := typing(t, phrase, args...)
	assert.Zero(t, r.code, r.out+r.err)
	want, err := os.ReadFile(file)
	require.NoError(t, err)
	assert.Equal(t, want, e.Data[:128])
	assert.Equal(t, old[128:], e.Data[128:], "beyond the dump nothing changes")
	r = deadhop(t, "decode", port)
	assert.Zero(t, r.code, r.out+r.err)
	r = typing(t, "", args...)
	assert.Zero(t, r.code)
	assert.Contains(t, r.out, "holds this EDID already")
}

func TestProgramSaysThatAStoreIsProtected(t *testing.T) {
	e, _, port, file := storeBehindUSB(t)
	e.Protected = true
	old := e.Data
	keep := t.TempDir()
	r := typing(t, "write "+port+" XQZ 1A01", "restore", file, "--port", port, "--keep", keep)
	assert.Equal(t, 1, r.code, r.out+r.err)
	assert.Contains(t, r.out, "write-protect pin")
	assert.Contains(t, r.out, "The store holds what it held before.")
	assert.Equal(t, old, e.Data)
}

// Killed between any two pages, the program names the broken-off write at its
// next start and puts the old content back.
func TestProgramKilledWhileWritingHasAWayBack(t *testing.T) {
	for kill := 0; ; kill++ {
		e, w, port, file := storeBehindUSB(t)
		old := e.Data
		home := t.TempDir()
		phrase := "write " + port + " XQZ 1A01"
		cmd := exec.Command("deadhop", "restore", file, "--port", port)
		cmd.Env = append(os.Environ(), "HOME="+home)
		cmd.Stdin = strings.NewReader(phrase + "\n")
		killed := false
		w.SetFaults(writes(func(n int) {
			if n == kill {
				killed = true
				_ = cmd.Process.Kill()
			}
		}))
		out, err := cmd.CombinedOutput()
		w.SetFaults()
		if !killed {
			require.NoError(t, err, "%s", out)
			require.Greater(t, kill, 7, "every page was tried")
			return
		}
		require.Error(t, err, "%s", out)
		require.NotEqual(t, old, e.Data, "page %d was taken", kill)

		t.Setenv("HOME", home)
		r := deadhop(t, "ports", "--quick")
		assert.Contains(t, r.err, "deadhop restore --back --port "+port)
		r = typing(t, phrase, "restore", file, "--port", port)
		assert.Equal(t, 2, r.code, "the way back comes first: %s", r.out)
		r = typing(t, "no", "restore", "--back", "--port", port)
		assert.Equal(t, 2, r.code)
		r = typing(t, phrase, "restore", "--back", "--port", port)
		assert.Zero(t, r.code, "killed at page %d: %s%s", kill, r.out, r.err)
		assert.Equal(t, old, e.Data, "killed at page %d", kill)
		assert.Empty(t, deadhop(t, "ports", "--quick").err)
	}
}

// Another display at the same port is not overwritten with the old content
// of the first.
func TestProgramPutsNothingBackIntoAnotherDisplay(t *testing.T) {
	e, w, port, file := storeBehindUSB(t)
	t.Setenv("HOME", t.TempDir())
	phrase := "write " + port + " XQZ 1A01"
	cmd := exec.Command("deadhop", "restore", file, "--port", port)
	cmd.Stdin = strings.NewReader(phrase + "\n")
	w.SetFaults(writes(func(int) { _ = cmd.Process.Kill() }))
	require.Error(t, cmd.Run())
	w.SetFaults()
	for i := range e.Data {
		e.Data[i] = byte(i * 7)
	}
	other := e.Data
	r := typing(t, phrase, "restore", "--back", "--port", port)
	assert.Equal(t, 3, r.code, r.out+r.err)
	assert.Contains(t, r.err, "is this another display?")
	assert.Equal(t, other, e.Data)
	r = deadhop(t, "restore", "--forget", "--port", port)
	assert.Zero(t, r.code, r.err)
	assert.Empty(t, deadhop(t, "ports", "--quick").err)
}

// The machine's own SMBus and outputs without a bus of their own are refused.
func TestProgramWritesToNoBusThatIsNotADisplays(t *testing.T) {
	file := filepath.Join(t.TempDir(), "whole.bin")
	require.NoError(t, os.WriteFile(file, scalerEDID(t), 0o644))
	bench := filepath.Join(t.TempDir(), "bench.yaml")
	require.NoError(t, os.WriteFile(bench, []byte("version: 1\nbuses:\n"+
		"  i2c-0: {leads-to-a-display: true}\n  i2c-5: {leads-to-a-display: true}\n"), 0o644))
	for _, c := range []struct {
		port, bench string
		code        int
		says        string
	}{
		{"bus:i2c-0", "", 2, "there is no port \"bus:i2c-0\" here"},
		{"bus:i2c-5", "", 2, "there is no port \"bus:i2c-5\" here"},
		{"bus:i2c-0", bench, 3, "nothing shows that \"SMBus stub driver\" leads to a display"},
		{"bus:i2c-5", bench, 2, "there is no port \"bus:i2c-5\" here"},
		{"out:Virtual-1", "", 3, "the driver does not say that a bus belongs to this output"},
	} {
		r := typing(t, "", "restore", file, "--port", c.port, "--keep", t.TempDir(), "--bench", c.bench)
		assert.Equal(t, c.code, r.code, c.port)
		assert.Contains(t, r.err, c.says)
		assert.NotContains(t, r.out, "type this line", c.port)
	}
}

//go:build vbench

package ddc

import (
	"context"
	"io/fs"
	"os"
	"strings"
	"syscall"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// withoutI2C hides the I2C buses: bit-banging a bus is the adapter's cost, and
// under emulation it is a thousand times what it is on a machine.
type withoutI2C struct{ fs.FS }

func (w withoutI2C) ReadDir(name string) ([]fs.DirEntry, error) {
	if strings.HasPrefix(name, "bus/i2c") {
		return nil, fs.ErrNotExist
	}
	return fs.ReadDir(w.FS, name)
}
func (w withoutI2C) ReadLink(name string) (string, error)   { return fs.ReadLink(w.FS, name) }
func (w withoutI2C) Lstat(name string) (fs.FileInfo, error) { return fs.Lstat(w.FS, name) }

func cpuTime(t *testing.T) time.Duration {
	t.Helper()
	var u syscall.Rusage
	require.NoError(t, syscall.Getrusage(syscall.RUSAGE_SELF, &u))
	return time.Duration(u.Utime.Nano() + u.Stime.Nano())
}

// Waiting for events costs less than one hundredth of one core, even emulated.
func TestVBenchWaitingCostsNothing(t *testing.T) {
	ctx, cancel := context.WithCancel(vbenchContext(t))
	defer cancel()
	bench, err := OpenBench(BenchOptions{Sys: withoutI2C{os.DirFS("/sys")}})
	require.NoError(t, err)
	_, err = bench.Watch(ctx)
	require.NoError(t, err)
	time.Sleep(time.Second)
	const span = 10 * time.Second
	before := cpuTime(t)
	time.Sleep(span)
	used := cpuTime(t) - before
	t.Logf("%v of CPU in %v", used, span)
	assert.Less(t, used, span/100)
}

//go:build vbench

package usbiptest

import (
	"context"
	"os"
	"syscall"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"deadhop/ddc/internal/uapi"
)

func attach(t *testing.T, w *Wire) *Adapter {
	t.Helper()
	ctx, cancel := context.WithTimeout(context.Background(), 10*time.Second)
	defer cancel()
	a, err := Attach(ctx, w)
	require.NoError(t, err)
	t.Cleanup(func() { assert.NoError(t, a.Close()) })
	return a
}

// kernelRead reads a block through the kernel, in one combined transfer.
func kernelRead(t *testing.T, device string, block int) ([]byte, error) {
	t.Helper()
	f, err := uapi.Open(device)
	if err != nil {
		return nil, err
	}
	defer f.Close()
	data := make([]byte, 128)
	msgs := []uapi.I2CMsg{
		{Addr: EDIDAddr, Data: []byte{byte(block % 2 * 128)}},
		{Addr: EDIDAddr, Read: true, Data: data},
	}
	if segment := byte(block / 2); segment > 0 {
		msgs = append([]uapi.I2CMsg{{Addr: SegmentAddr, Data: []byte{segment}}}, msgs...)
	}
	return data, uapi.I2CRdwr(f, msgs)
}

func TestKernelReadsEveryBlock(t *testing.T) {
	w := NewWire()
	a := attach(t, w)
	for n := 1; n <= 8; n++ {
		store := blocks(n)
		NewDisplay(w, store, true)
		for block := range n {
			got, err := kernelRead(t, a.Device, block)
			require.NoError(t, err, "block %d of %d", block, n)
			require.Equal(t, store[block*128:][:128], got, "block %d of %d", block, n)
		}
	}
}

// The errno are what i2c-tiny-usb.c gives back: ENXIO for a refused address
// and EIO for everything else.
func TestKernelReportsFaults(t *testing.T) {
	w := NewWire()
	NewDisplay(w, blocks(1), true)
	a := attach(t, w)
	for outcome, want := range map[Outcome]syscall.Errno{
		NoAck: syscall.ENXIO, DataNoAck: syscall.ENXIO, Broken: syscall.EIO, Short: syscall.EIO, Silent: syscall.EIO,
	} {
		w.SetFaults(At(len(w.Log()), Ends(outcome)))
		_, err := kernelRead(t, a.Device, 0)
		assert.ErrorIs(t, err, want, outcome.String())
		got, err := kernelRead(t, a.Device, 0)
		require.NoError(t, err, "after %s", outcome)
		assert.Equal(t, blocks(1), got)
	}
}

func TestKernelSurvivesAnUnplugInARead(t *testing.T) {
	w := NewWire()
	NewDisplay(w, blocks(1), true)
	w.SetFaults(At(1, Ends(Gone)))
	a := attach(t, w)
	_, err := kernelRead(t, a.Device, 0)
	assert.ErrorIs(t, err, syscall.EIO)
	assert.Eventually(t, func() bool {
		_, err := os.Stat(a.Device)
		return os.IsNotExist(err)
	}, 5*time.Second, 10*time.Millisecond, "the kernel kept the node")
	again := attach(t, w)
	got, err := kernelRead(t, again.Device, 0)
	require.NoError(t, err)
	assert.Equal(t, blocks(1), got)
}

func TestTwoAdaptersAtOnce(t *testing.T) {
	one, two := NewWire(), NewWire()
	NewDisplay(one, blocks(1), false)
	NewDisplay(two, blocks(2)[128:], false)
	a, b := attach(t, one), attach(t, two)
	require.NotEqual(t, a.Device, b.Device)
	got, err := kernelRead(t, a.Device, 0)
	require.NoError(t, err)
	assert.Equal(t, blocks(1), got)
	got, err = kernelRead(t, b.Device, 0)
	require.NoError(t, err)
	assert.Equal(t, blocks(2)[128:], got)
}

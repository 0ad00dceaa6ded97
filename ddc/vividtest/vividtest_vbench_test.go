//go:build vbench

package vividtest

import (
	"syscall"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"deadhop/ddc/internal/uapi"
)

// The errno for each state is that of VIDIOC_QUERY_DV_TIMINGS in the
// kernel's V4L2 documentation.
func TestSignalStatesReachTheDriver(t *testing.T) {
	r, err := Open("/dev/video0")
	require.NoError(t, err)
	defer r.Close()
	defer r.SetSignal(Good)
	require.NoError(t, r.Select(0))

	tests := []struct {
		signal Signal
		errno  error
		power  bool
	}{
		{Good, nil, true},
		{NoSignal, syscall.ENOLINK, false},
		{NoLock, syscall.ENOLCK, true},
		{OutOfRange, syscall.ERANGE, true},
	}
	for _, tt := range tests {
		require.NoError(t, r.SetSignal(tt.signal))
		_, err := uapi.V4L2QueryDVTimings(r.file)
		if tt.errno == nil {
			assert.NoError(t, err)
		} else {
			assert.ErrorIs(t, err, tt.errno, "signal mode %d", tt.signal)
		}
		mask, err := uapi.V4L2GCtrl(r.file, uapi.V4L2_CID_DV_RX_POWER_PRESENT)
		require.NoError(t, err)
		assert.Equal(t, tt.power, mask&1 != 0, "+5 V in signal mode %d", tt.signal)
	}
}

func TestUnknownControlIsRefused(t *testing.T) {
	r, err := Open("/dev/video0")
	require.NoError(t, err)
	defer r.Close()
	require.ErrorContains(t, r.Set("Colour of the wire", 1), `no control "Colour of the wire"`)
}

//go:build vbench

package ddc

import (
	"context"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// vivid's receiver loses its CEC address when its EDID is withdrawn.
func TestVBenchAddressChangesComeAsEvents(t *testing.T) {
	ctx, cancel := context.WithCancel(vbenchContext(t))
	defer cancel()
	r, bench := vividInput(t, ctx)
	edid, err := r.PresentedEDID(ctx)
	require.NoError(t, err)
	events, err := bench.Watch(ctx)
	require.NoError(t, err)
	next := func() Event {
		for {
			select {
			case e := <-events:
				if e.Kind == AddressChanged && e.Port == "cec:cec0" {
					return e
				}
			case <-time.After(5 * time.Second):
				t.Fatal("no event of the CEC adapter")
			}
		}
	}
	assert.NotEqual(t, uint16(0xffff), next().Address, "the state at the start")
	require.NoError(t, r.PresentEDID(ctx, nil))
	gone := next()
	assert.Equal(t, "f.f.f.f", AddressText(gone.Address))
	assert.Less(t, time.Since(gone.At), 50*time.Millisecond)
	require.NoError(t, r.PresentEDID(ctx, edid))
	assert.NotEqual(t, uint16(0xffff), next().Address)
}

package sim_test

import (
	"context"
	"os"
	"testing"

	"github.com/stretchr/testify/require"

	"deadhop/ddc"
	"deadhop/ddc/sim"
)

func loadFile(t *testing.T, path string) *sim.Bench {
	t.Helper()
	data, err := os.ReadFile(path)
	require.NoError(t, err)
	b, err := sim.Load(path, data)
	require.NoError(t, err)
	t.Cleanup(func() { b.Close() })
	return b
}

func in(t *testing.T, b *sim.Bench) ddc.In {
	t.Helper()
	ps, err := b.Ports(context.Background())
	require.NoError(t, err)
	return ps[0].(ddc.In)
}

func out(t *testing.T, b *sim.Bench) ddc.BusPort {
	t.Helper()
	ps, err := b.Ports(context.Background())
	require.NoError(t, err)
	return ps[1].(ddc.BusPort)
}

// The demonstration's hidden fault must take more than one hop to find: each
// board by itself is whole.
func TestDemonstrationNeedsSeveralHops(t *testing.T) {
	ctx := context.Background()
	b := loadFile(t, "../../testdata/sim/departure-board.yaml")
	require.Equal(t, sim.ScreenMessage, ask(t, b, sim.OwnScreen, "").Screen)
	require.True(t, ask(t, b, sim.MenuVisible, "").Yes)

	d := down(t, b, "c2.display")
	require.Equal(t, ddc.Got(true), d.HotPlug, "the scaler itself is whole")
	require.Equal(t, ddc.Got(true), d.Ack)
	golden := d.EDID.V
	require.NoError(t, in(t, b).PresentEDID(ctx, golden))
	for _, plug := range []string{"c1.source", "c1.display", "c2.source"} {
		u := up(t, b, plug)
		require.Equal(t, ddc.Got(ddc.Locked), u.Signal, plug)
		require.Equal(t, "1280x1024", u.Timing.V.Size(), plug)
	}
	u := up(t, b, "c2.display")
	require.Equal(t, ddc.Got(true), u.Power5V)
	require.Equal(t, ddc.Got(ddc.NoSignal), u.Signal)
	d = down(t, b, "c2.source")
	require.Equal(t, ddc.Got(false), d.HotPlug)
	require.Equal(t, golden, d.EDID.V, "DDC itself is whole")
	// The buffering switch lets DDC through only with a hot-plug that is high.
	d = down(t, b, "c1.source")
	require.Equal(t, ddc.Got(false), d.HotPlug)
	require.Equal(t, ddc.Known, d.Ack.State)
	require.False(t, d.Ack.V)

	require.NoError(t, b.Repair("c2", "swap"))
	require.Empty(t, b.Hidden())
	require.Equal(t, sim.ScreenPicture, ask(t, b, sim.OwnScreen, "").Screen)
}

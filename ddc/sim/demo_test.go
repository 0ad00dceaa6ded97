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

// The demonstration's hidden fault must take more than one hop to find: the
// ends of the chain look healthy.
func TestDemonstrationNeedsSeveralHops(t *testing.T) {
	ctx := context.Background()
	b := loadFile(t, "../../testdata/sim/departure-board.yaml")

	a, err := b.Ask(sim.OwnScreen, "")
	require.NoError(t, err)
	require.Equal(t, sim.ScreenMessage, a.Screen, "640x480 is below what the scaler takes")
	a, err = b.Ask(sim.MenuVisible, "")
	require.NoError(t, err)
	require.True(t, a.Yes)

	require.NoError(t, b.Connect("c2.display", "down"))
	d := out(t, b).LookDown(ctx, ddc.DownOptions{})
	require.Equal(t, ddc.Got(true), d.Ack, "the scaler itself answers")
	require.Equal(t, ddc.Got(true), d.Stable)
	golden := d.EDID.V
	require.Len(t, golden, 256)

	require.NoError(t, b.Connect("c1.display", "up"))
	require.NoError(t, in(t, b).PresentEDID(ctx, golden))
	u := in(t, b).LookUp(ctx, ddc.UpOptions{})
	require.Equal(t, ddc.Got(ddc.Locked), u.Signal)
	require.Equal(t, uint32(1920), u.Timing.V.H.Active)
	require.Equal(t, ddc.Got(true), u.Sound)

	require.NoError(t, b.Connect("c2.display", "up"))
	u = in(t, b).LookUp(ctx, ddc.UpOptions{})
	require.Equal(t, ddc.Got(ddc.Locked), u.Signal)
	require.Equal(t, uint32(640), u.Timing.V.H.Active, "the fallback when DDC is open")
	require.Equal(t, ddc.Got(false), u.Sound)

	require.NoError(t, b.Connect("c2.source", "down"))
	d = out(t, b).LookDown(ctx, ddc.DownOptions{})
	require.Equal(t, ddc.Got(true), d.HotPlug)
	require.Equal(t, ddc.Got(false), d.Ack)
	require.ErrorIs(t, d.EDID.Err, ddc.ErrNoAck)

	require.NoError(t, b.Repair("c2", "swap"))
	require.Empty(t, b.Hidden())
	a, err = b.Ask(sim.OwnScreen, "")
	require.NoError(t, err)
	require.Equal(t, sim.ScreenPicture, a.Screen)
}

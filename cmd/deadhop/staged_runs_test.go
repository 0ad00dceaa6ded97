package main

import (
	"bytes"
	"context"
	"crypto/sha256"
	"encoding/hex"
	"os"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"deadhop/chain"
	"deadhop/ddc"
	"deadhop/ddc/sim"
)

// stage puts the fault on its equipment, in place of the one that the bench
// file hides.
func stage(t *testing.T, f stagedFault) (*chain.Chain, *sim.Bench, []byte) {
	t.Helper()
	path := "../../testdata/chains/" + f.equipment + ".yaml"
	data, err := os.ReadFile(path)
	require.NoError(t, err)
	c, err := chain.Parse(path, data)
	require.NoError(t, err)

	path, whole := wholeBench(t, f.equipment)
	golden := goldenEDID(t, path, whole)
	b, err := sim.Load(path, []byte(withFault(whole, f)))
	require.NoError(t, err)
	t.Cleanup(func() { b.Close() })

	sum := sha256.Sum256(golden)
	for i := range c.Expect {
		c.Expect[i].EDIDSHA256 = hex.EncodeToString(sum[:])
	}
	return c, b, golden
}

// wholeBench is a bench file without the fault that it hides.
func wholeBench(t *testing.T, equipment string) (path, whole string) {
	t.Helper()
	path = "../../testdata/sim/" + equipment + ".yaml"
	data, err := os.ReadFile(path)
	require.NoError(t, err)
	whole, _, ok := strings.Cut(string(data), "faults:\n")
	require.True(t, ok)
	return path, whole
}

func withFault(whole string, f stagedFault) string {
	return whole + "faults:\n  - {part: '" + f.part + "', " + f.fault + "}\n"
}

// goldenEDID is read from the whole equipment, as a shop reads it from a unit
// that works.
func goldenEDID(t *testing.T, path, whole string) []byte {
	t.Helper()
	b, err := sim.Load(path, []byte(whole))
	require.NoError(t, err)
	defer b.Close()
	plugs := b.Plugs()
	require.NoError(t, b.Connect(plugs[len(plugs)-1], "down"))
	d := portOf[ddc.Out](t, b).LookDown(context.Background(), ddc.DownOptions{})
	require.NoError(t, d.EDID.Err)
	return d.EDID.V
}

func portOf[T any](t *testing.T, b *sim.Bench) T {
	t.Helper()
	ports, err := b.Ports(context.Background())
	require.NoError(t, err)
	for _, p := range ports {
		if q, ok := p.(T); ok {
			return q
		}
	}
	t.Fatal("no such port")
	panic("unreachable")
}

// inspectAll looks at every plug in both directions and answers every
// question, through the program's own mapping.
func inspectAll(t *testing.T, f stagedFault) (*chain.Chain, chain.Evidence) {
	t.Helper()
	c, b, golden := stage(t, f)
	a := &app{}
	var ev chain.Evidence
	for range max(1, f.rounds) {
		for _, name := range b.Plugs() {
			for _, facing := range []chain.Facing{chain.Up, chain.Down} {
				ev.Looks = append(ev.Looks, lookAt(t, a, c, b, name, facing, golden))
			}
		}
	}
	b.Disconnect()
	ask := func(kind chain.CheckKind, at string) {
		h := chain.HandCheck{Kind: kind, At: at}
		q, target, ok := simQuestion(&h)
		require.True(t, ok)
		got, err := b.Ask(q, target)
		require.NoError(t, err)
		simAnswer(&h, got)
		ev.Checks = append(ev.Checks, h)
	}
	for _, name := range b.Plugs() {
		ask(chain.CheckWiggle, name)
	}
	for _, s := range c.Stages {
		if s.Kind != chain.Panel {
			ask(chain.CheckIndicators, s.ID)
		}
	}
	for _, r := range c.Rails {
		ask(chain.CheckSupply, r.ID)
	}
	for _, kind := range []chain.CheckKind{chain.CheckBacklight, chain.CheckTorch, chain.CheckMenu, chain.CheckScreen, chain.CheckSpeaker} {
		ask(kind, "")
	}
	return c, ev
}

func lookAt(t *testing.T, a *app, c *chain.Chain, b *sim.Bench, name string, facing chain.Facing, golden []byte) chain.Look {
	t.Helper()
	ctx := context.Background()
	plug, err := c.Plug(name)
	require.NoError(t, err)
	require.NoError(t, connectSim(b, plug, facing))
	var p ddc.Port = portOf[ddc.Out](t, b)
	if facing == chain.Up {
		in := portOf[ddc.In](t, b)
		require.NoError(t, a.present(ctx, in, golden))
		p = in
	}
	return a.takeLook(ctx, p, plug, 2)
}

// A technician starts from a dead screen and follows the guided run. It must
// end with the unit cured, or with the faulty part in the named overlap.
func TestGuidedRunsFromADeadScreen(t *testing.T) {
	cat, err := chain.DefaultCatalogue()
	require.NoError(t, err)
	runs, cured, steps := 0, 0, 0
	for _, f := range stagedFaults {
		t.Run(f.equipment+"/"+f.part+"/"+f.fault, func(t *testing.T) {
			c, b, golden := stage(t, f)
			complaint := chain.HandCheck{Kind: chain.CheckScreen}
			got, err := b.Ask(sim.OwnScreen, "")
			require.NoError(t, err)
			if got.Yes {
				t.Skip("the screen shows a picture: no complaint to start from")
			}
			simAnswer(&complaint, got)
			var said bytes.Buffer
			a := &app{streams: streams{out: &said, err: &said}}
			g := &guided{a: a, c: &equipment{Chain: c}, cat: cat, bench: b, skipped: map[string]bool{}}
			g.ev.Checks = append(g.ev.Checks, complaint)
			require.NoError(t, portOf[ddc.In](t, b).PresentEDID(t.Context(), golden))
			require.NoError(t, g.choosePorts(t.Context()))
			g.hands = &simHands{bench: b, say: g.sayf}
			r, err := g.run(t.Context())
			require.NoError(t, err)
			runs, steps = runs+1, steps+g.taken
			if len(b.Hidden()) == 0 {
				cured++
				return
			}
			require.Contains(t, r.Overlap, f.part, said.String())
		})
	}
	t.Logf("%d runs, %d of them to the cured unit, %.1f steps each", runs, cured, float64(steps)/float64(runs))
}

// Common practice of the trade, no source: a known-good display fed from the
// cable that enters the scaler shows a picture, so the suspects are scaler,
// panel cable and panel, never anything upstream; it shows nothing, so they
// are source, switch and the cables between, never the panel.
func TestKnownGoodDisplayAtTheScaler(t *testing.T) {
	cat, err := chain.DefaultCatalogue()
	require.NoError(t, err)
	yes := chain.Reading[bool]{State: chain.Measured, Value: true}
	for _, f := range stagedFaults {
		if f.rounds > 0 || strings.HasPrefix(f.part, "rail:") || f.part == "lead" {
			continue // what feeds both sides, comes and goes, or is the bench's own
		}
		if f.part == "setting:mode" {
			// The rule is blind here: a good display takes modes that the
			// scaler does not, and the physics show it.
			continue
		}
		t.Run(f.equipment+"/"+f.part+"/"+f.fault, func(t *testing.T) {
			c, b, _ := stage(t, f)
			plugs := b.Plugs()
			complaint := chain.HandCheck{Kind: chain.CheckScreen}
			seen, err := b.Ask(sim.OwnScreen, "")
			require.NoError(t, err)
			if seen.Yes {
				t.Skip("the screen shows a picture: no complaint to start from")
			}
			simAnswer(&complaint, seen)
			display := chain.HandCheck{Kind: chain.CheckDisplay, At: plugs[len(plugs)-1]}
			q, target, ok := simQuestion(&display)
			require.True(t, ok)
			seen, err = b.Ask(q, target)
			require.NoError(t, err)
			simAnswer(&display, seen)
			display.InputSelected, display.CableProven, display.TimingAccepted = yes, yes, yes
			r := chain.Diagnose(c, cat, chain.Evidence{Checks: []chain.HandCheck{complaint, display}})
			require.NotEmpty(t, r.Overlap)
			require.Contains(t, r.Overlap, f.part)
			scaler := len(c.Stages) - 2
			upstream := append([]string{c.Links[scaler-1].ID}, "setting:mode")
			for i := range scaler {
				upstream = append(upstream, c.Stages[i].ID)
			}
			if seen.Yes {
				for _, part := range upstream {
					require.NotContains(t, r.Overlap, part)
				}
				return
			}
			require.NotContains(t, r.Overlap, "panel")
			require.NotContains(t, r.Overlap, "p1")
			require.NotContains(t, r.Overlap, "scaler")
		})
	}
}

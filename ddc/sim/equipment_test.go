package sim_test

import (
	"context"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"deadhop/ddc"
	"deadhop/ddc/sim"
)

// plain is a whole chain of every kind of stage but an extender; faults are
// added at its end.
const plain = `
name: test equipment
seed: 5
bench:
  presents: &edid
    built: {maker: QXJ, product: 7, serial: 9, name: TEST PANEL, timing: {vic: 16}, hdmi: true, sound: true}
stages:
  - {id: player, kind: source}
  - {id: selector, kind: switch, ddc: passes, hot_plug: passes}
  - id: scaler
    kind: scaler
    edid: *edid
    accepts: {max_clock_khz: 165000, line_khz: [30, 80], field_hz: [50, 76]}
    native: {vic: 16}
  - {id: panel, kind: panel}
links:
  - {id: c1, from: player, to: selector, kind: hdmi}
  - {id: c2, from: selector, to: scaler, kind: hdmi}
  - {id: p1, from: scaler, to: panel, kind: panel}
rails:
  - {id: main, volts: 24, feeds: [player, selector, scaler, panel]}
`

// with is the plain chain with faults, one a line in YAML's flow form.
func with(t *testing.T, faults ...string) *sim.Bench {
	t.Helper()
	return changed(t, nil, faults...)
}

// changed is the same with parts of the text replaced, in pairs.
func changed(t *testing.T, replace []string, faults ...string) *sim.Bench {
	t.Helper()
	text := strings.NewReplacer(replace...).Replace(plain)
	if len(faults) > 0 {
		text += "faults:\n"
	}
	for _, f := range faults {
		text += "  - " + f + "\n"
	}
	b, err := sim.Load("test.yaml", []byte(text))
	require.NoError(t, err)
	t.Cleanup(func() { b.Close() })
	return b
}

func up(t *testing.T, b *sim.Bench, plug string) ddc.Upstream {
	t.Helper()
	require.NoError(t, b.Connect(plug, "up"))
	return in(t, b).LookUp(context.Background(), ddc.UpOptions{})
}

func down(t *testing.T, b *sim.Bench, plug string) ddc.Downstream {
	t.Helper()
	require.NoError(t, b.Connect(plug, "down"))
	return out(t, b).LookDown(context.Background(), ddc.DownOptions{})
}

func ask(t *testing.T, b *sim.Bench, q sim.Question, target string) sim.Answer {
	t.Helper()
	a, err := b.Ask(q, target)
	require.NoError(t, err)
	return a
}

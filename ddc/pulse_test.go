package ddc_test

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"

	"deadhop/ddc"
)

// HDMI 1.4 clause 8.5: a hot-plug pulse lasts at least 100 ms.
func TestHotPlugPulsesAreMeasured(t *testing.T) {
	t0 := time.Date(2026, 3, 1, 12, 0, 0, 0, time.UTC)
	ms := func(v float64) time.Time { return t0.Add(time.Duration(v * float64(time.Millisecond))) }
	up, down := true, false
	edge := func(v float64, high bool) ddc.Edge { return ddc.Edge{At: ms(v), High: high} }
	for _, c := range []struct {
		name    string
		edges   []ddc.Edge
		pulses  []ddc.Pulse
		bounces int
		low     bool
	}{
		{"none", nil, nil, 0, false},
		{"plugged once", []ddc.Edge{edge(0, up)}, nil, 0, false},
		{"exactly 100 ms", []ddc.Edge{edge(0, up), edge(50, down), edge(150, up)}, []ddc.Pulse{{Start: ms(50), Width: 100 * time.Millisecond}}, 0, false},
		{"99 ms is too short", []ddc.Edge{edge(0, up), edge(50, down), edge(149, up)}, []ddc.Pulse{{Start: ms(50), Width: 99 * time.Millisecond, Short: true}}, 0, false},
		{"pulled", []ddc.Edge{edge(0, up), edge(50, down)}, nil, 0, true},
		{"bounce on the way in: over when it rests", []ddc.Edge{edge(0, down), edge(200, up), edge(201, down), edge(203, up), edge(204, down), edge(205, up)},
			[]ddc.Pulse{{Start: ms(0), Width: 205 * time.Millisecond}}, 2, false},
		{"a flicker of 2 ms is no pulse", []ddc.Edge{edge(0, up), edge(500, down), edge(502, up)}, nil, 1, false},
		{"a lost edge", []ddc.Edge{edge(0, up), edge(100, up), edge(300, down), edge(600, up)}, []ddc.Pulse{{Start: ms(300), Width: 300 * time.Millisecond}}, 0, false},
	} {
		t.Run(c.name, func(t *testing.T) {
			r := ddc.JudgePulses(c.edges)
			assert.Equal(t, c.pulses, r.Pulses)
			assert.Equal(t, c.bounces, r.Bounces)
			assert.Equal(t, c.low, r.Low)
		})
	}
}

//go:build vbench

package vbench

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"deadhop/ddc/usbiptest"
	"deadhop/ddc/vividtest"
)

// The diagnosis of a whole chain from looks that real drivers gave, with
// faults staged in the drivers.
func TestProgramNamesTheHop(t *testing.T) {
	type seen struct {
		plug   string
		signal vividtest.Signal
	}
	tests := []struct {
		name string
		up   []seen
		// down is where the scaler's socket is looked into, "" for nowhere.
		down    string
		ddc     usbiptest.Fault
		hop     string
		suspect []string // parts, one of which must come first
	}{
		{
			name: "cable into the scaler spoils the lanes",
			up: []seen{{"c1.display", vividtest.Good}, {"c2.source", vividtest.Good},
				{"c2.display", vividtest.NoLock}},
			down: "c2.display",
			hop:  "c2", suspect: []string{"c2", "c2.source", "c2.display"},
		},
		{
			name: "selector sends nothing to lock on",
			up:   []seen{{"c1.display", vividtest.Good}, {"c2.source", vividtest.NoLock}, {"c2.display", vividtest.NoLock}},
			down: "c2.display",
			hop:  "", suspect: []string{"selector"},
		},
		{
			name: "scaler does not answer DDC",
			up:   []seen{{"c1.display", vividtest.Good}, {"c2.display", vividtest.Good}},
			down: "c2.display", ddc: usbiptest.Ends(usbiptest.NoAck),
			hop: "", suspect: []string{"scaler", "c2.display"},
		},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			rx := receiver(t)
			w, bus := display(t, scalerEDID(t))
			looks := t.TempDir()
			take := func(plug, port string) {
				r := deadhop(t, "look", plug, "--chain", "testdata/medical-cart.yaml", "--port", port, "--save", looks)
				require.Zero(t, r.code, "stdout:\n%s\nstderr:\n%s", r.out, r.err)
			}
			for _, u := range tt.up {
				require.NoError(t, rx.SetSignal(u.signal))
				take(u.plug, receiverPort)
			}
			if tt.ddc != nil {
				w.SetFaults(tt.ddc)
			}
			take(tt.down, bus)

			r := deadhop(t, "diagnose", "--chain", "testdata/medical-cart.yaml", looks)
			assert.Equal(t, 1, r.code, "%s%s", r.out, r.err)
			var report struct {
				Verdict  string   `json:"verdict"`
				Overlap  []string `json:"overlap"`
				Hop      *struct{ Link string }
				Suspects []struct{ Part string }
			}
			deadhop(t, "diagnose", "--chain", "testdata/medical-cart.yaml", "--json", looks).into(t, &report)
			t.Cleanup(func() {
				if t.Failed() {
					t.Log(r.out)
				}
			})
			require.NotEmpty(t, report.Suspects)
			assert.Contains(t, tt.suspect, report.Suspects[0].Part)
			assert.Contains(t, report.Overlap, report.Suspects[0].Part)
			if tt.hop != "" {
				require.NotNil(t, report.Hop, "no hop was named")
				assert.Equal(t, tt.hop, report.Hop.Link)
			}
		})
	}
}

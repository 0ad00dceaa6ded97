package chain

import (
	"os"
	"testing"

	"deadhop/edid/timing"

	"github.com/stretchr/testify/require"
)

func loadTestChain(t testing.TB, name string) *Chain {
	t.Helper()
	path := "../testdata/chains/" + name + ".yaml"
	data, err := os.ReadFile(path)
	require.NoError(t, err)
	c, err := Parse(path, data)
	require.NoError(t, err)
	return c
}

func catalogueForTest(t testing.TB) *Catalogue {
	t.Helper()
	cat, err := DefaultCatalogue()
	require.NoError(t, err)
	return cat
}

func got[T any](v T) Reading[T] { return Reading[T]{State: Measured, Value: v} }

func goodUp(plug string, t timing.Timing) Look {
	return Look{Version: LookVersion, Plug: plug, Facing: Up, Presented: Presented{HotPlug: got(true)},
		Up: &UpReadings{Power5V: got(true), Signal: got(SignalLocked), Timing: got(t), Picture: got(PictureGood)}}
}

func darkUp(plug string) Look {
	return Look{Version: LookVersion, Plug: plug, Facing: Up, Presented: Presented{HotPlug: got(true)},
		Up: &UpReadings{Power5V: got(true), Signal: got(SignalNone)}}
}

func goodDown(plug string) Look {
	return Look{Version: LookVersion, Plug: plug, Facing: Down, Presented: Presented{Power5V: got(true)},
		Down: &DownReadings{HotPlug: got(true), Ack: got(true), EDID: got(EDIDReading{ChecksumsGood: true}), Stable: got(true), RxSense: got(true)}}
}

func badDown(plug string) Look {
	return Look{Version: LookVersion, Plug: plug, Facing: Down, Presented: Presented{Power5V: got(true)},
		Down: &DownReadings{HotPlug: got(false), Ack: got(false)}}
}

func TestForwardBoundaryNamesTheCable(t *testing.T) {
	c, cat := loadTestChain(t, "departure-board"), catalogueForTest(t)
	r := Diagnose(c, cat, Evidence{Looks: []Look{
		goodUp("c2.source", c.Expect[0].Timing), darkUp("c2.display"), goodDown("c2.source"),
	}})
	t.Log(r.Summary, r.Overlap, r.Forward.Sentence, r.Return.Sentence, r.NothingWrong)
	for _, s := range r.Next {
		t.Logf("%.1f min, total %.1f, gain %.2f: %s %s %v", s.Minutes, s.Total, s.Gain, s.Do, s.Why, s.If)
	}
	for _, s := range r.Suspects {
		t.Log(s.Sentence)
	}
	require.Equal(t, FaultFound, r.Verdict)
	require.Contains(t, r.Overlap, "c2")
	require.NotContains(t, r.Overlap, "scaler")
	require.Equal(t, "c2", r.Suspects[0].Part)
	require.Equal(t, "cable-tmds-open", r.Suspects[0].Mode)
}

func BenchmarkDiagnose(b *testing.B) {
	c, cat := loadTestChain(b, "departure-board"), catalogueForTest(b)
	ev := Evidence{Looks: []Look{goodUp("c2.source", c.Expect[0].Timing), darkUp("c2.display")}}
	for b.Loop() {
		Diagnose(c, cat, ev)
	}
}

package edid

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// requireTiled checks that the fields cover every byte once, in order.
func requireTiled(t testing.TB, raw []byte, name string) {
	e, err := Decode(raw)
	require.NoError(t, err)
	at := 0
	for _, f := range e.Fields() {
		require.Equal(t, at, f.Block*BlockSize+f.Offset, "%s: %s", name, f.Name)
		require.Positive(t, f.Len)
		require.NotEmpty(t, f.Name)
		at += f.Len
	}
	require.Equal(t, len(raw), at, name)
}

func TestFieldsCoverEveryByteOnce(t *testing.T) {
	for _, n := range exampleNames(t) {
		requireTiled(t, readExample(t, n), n)
	}
	for _, c := range readCorpus(t) {
		requireTiled(t, c.raw, c.ID)
	}
}

func TestFieldsSayWhatTheBytesMean(t *testing.T) {
	got := map[int]Field{}
	for _, f := range decodeExample(t, "linux612_vivid_hdmi").Fields() {
		got[f.Block*BlockSize+f.Offset] = f
	}
	for at, want := range map[int]string{
		0x08: "LNX", 0x10: "week 34 of 2016", 0x12: "1.3", 0x17: "2.20", 0x36: "594 MHz",
		0x80 + 4 + 18: "audio", 0x80 + 27: "FL/FR",
		0x80 + 31: "HDMI, CEC address 0.0.0.0, to 300 MHz, HDMI VIC 1 2 3",
		0x80 + 45: "HDMI Forum, TMDS to 600 MHz",
		255:       "right",
	} {
		assert.Equal(t, want, got[at].Value, "0x%02X", at)
	}
}

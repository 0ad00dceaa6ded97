package edid

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

func damaged(t *testing.T, name string, damage func([]byte)) *EDID {
	t.Helper()
	b := readExample(t, name)
	damage(b)
	e, err := Decode(b)
	require.NoError(t, err)
	return e
}

func TestRepairIsTheSmallestChange(t *testing.T) {
	const name = "linux612_vivid_hdmi"
	whole := readExample(t, name)
	for _, c := range []struct {
		what    string
		damage  func([]byte)
		golden  []byte
		changes int
	}{
		{"nothing", func(b []byte) {}, nil, 0},
		{"base checksum", func(b []byte) { b[127] ^= 1 }, nil, 1},
		{"extension checksum", func(b []byte) { b[255] ^= 1 }, nil, 1},
		{"two header bytes", func(b []byte) { b[1], b[7] = 0, 0xFF }, nil, 2},
		{"erased head", func(b []byte) { copy(b, "\xff\xff\xff\xff\xff\xff\xff\xff\xff\xff\xff\xff\xff\xff\xff\xff") }, whole, 10},
		{"extension count", func(b []byte) { b[126]--; b[127]++ }, nil, 2},
	} {
		e := damaged(t, name, c.damage)
		r := e.ProposeRepair(c.golden)
		require.Empty(t, r.Refused, c.what)
		assert.Equal(t, whole, r.Bytes, c.what)
		assert.Len(t, r.Changes, c.changes, c.what)
	}
}

// The timing offset of VESA's own example 2 is two short. The right one is
// 0x1A, where its five timings start (the example's text lists them).
func TestRepairOfVESAExample2(t *testing.T) {
	e := decodeExample(t, "vesa_eedid_a2_example2_lcd_dtv")
	r := e.ProposeRepair(nil)
	require.Empty(t, r.Refused)
	require.Len(t, r.Changes, 2)
	assert.Equal(t, Change{1, 2, 0x18, 0x1A, BlockOverrun, r.Changes[0].Why}, r.Changes[0])
	got, err := Decode(r.Bytes)
	require.NoError(t, err)
	c := got.Extensions[0].(*CTA)
	require.Len(t, c.Timings, 4)
	for _, x := range c.Timings {
		assert.InDelta(t, 27020000, x.Timing.PixelClock.Float(), 0)
	}
	assert.Equal(t, "1.0.0.0", c.Blocks[3].(*HDMI).PhysicalAddress.String())
	assert.Empty(t, got.IssuesAt(BreaksSound))
}

func TestRepairRefusesABadRead(t *testing.T) {
	for what, f := range map[string]func([]byte){
		"read": func(b []byte) {
			for i := range b {
				b[i] = 0xFF
			}
		},
		"read again": func(b []byte) { copy(b, b[1:]) },
		"golden":     func(b []byte) { copy(b, make([]byte, 16)) },
	} {
		r := damaged(t, "linux612_vivid_hdmi", f).ProposeRepair(nil)
		assert.Contains(t, r.Refused, what)
		assert.Empty(t, r.Changes)
	}
}

func TestCompareTellsWhatASwitchChanged(t *testing.T) {
	a := decodeExample(t, "linux612_vivid_hdmi")
	b := decodeExample(t, "linux612_vivid_hdmi")
	for _, x := range b.Extensions[0].(*CTA).Blocks {
		if h, ok := x.(*HDMI); ok {
			h.PhysicalAddress = 0x1000
		}
	}
	b.Extensions[0].(*CTA).Drop(func(x DataBlock) bool { return x.Tag() == SpeakerTag })
	raw, err := b.AppendBinary(nil)
	require.NoError(t, err)
	b, err = Decode(raw)
	require.NoError(t, err)
	var got []string
	for _, d := range Compare(a, b) {
		got = append(got, d.String())
	}
	assert.Equal(t, []string{
		"CEC address: 0.0.0.0 became 1.0.0.0; a device on the way has put in its own place in the tree, as it should",
		"speakers: FL/FR became none",
	}, got)
	assert.Empty(t, Compare(a, a))
	assert.Empty(t, CompareBytes(raw, raw))
	assert.NotEmpty(t, CompareBytes(a.Raw(), raw))
}

package timing

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// Every published timing, in every form, is found again as itself.
func TestEveryStandardMatchesItself(t *testing.T) {
	for _, src := range []Source{SourceCTA, SourceHDMI, SourceDMT, SourceEstablished} {
		for _, s := range Standards(src) {
			all := []Timing{s.Timing, s.Timing.Unrepeated()}
			if twin, ok := s.Twin(); ok {
				all = append(all, twin.Timing)
			}
			for _, tm := range all {
				found := false
				for _, c := range Match(tm, 10) {
					found = found || c.Exact() && c.Standard == s
				}
				require.True(t, found, "%s: %s", s, tm)
				c, ok := Nearest(tm)
				require.True(t, ok)
				c.Compare(tm)
				require.True(t, c.Exact(), "%s: %s", s, c)
			}
		}
	}
}

func TestMatchSaysWhatElseItCouldBe(t *testing.T) {
	s, _ := VIC(16)
	tm := s.Timing
	tm.PixelClock = Hz(148_425_000) // half-way between 60 and 59.94 Hz
	got := Match(tm, 600)
	var labels []string
	for _, c := range got {
		labels = append(labels, c.Standard.Label()+" "+c.Timing.FieldRate().InDecimals(1, 2))
	}
	assert.Equal(t, []string{"VIC 16 59.94", "VIC 76 59.94", "VIC 16 60", "VIC 76 60", "DMT 0x52 60"}, labels)
	assert.InDelta(t, 494.5, got[0].Off(), 0.1)
	assert.Empty(t, Match(tm, 400))
	assert.Contains(t, got[2].String(), "VIC 16, 1920x1080 60 Hz, 16:9: pixel clock 148.425 MHz, -505.1 ppm off")
	assert.Contains(t, got[0].String(), "VIC 16, 1920x1080 59.94 Hz, 16:9: pixel clock")

	tm = s.Timing
	tm.H.Front, tm.H.Back = 90, 146
	tm.V.Positive = false
	c := Match(tm, 1)[0]
	assert.Equal(t, []string{"horizontal front porch 90 instead of 88 pixels", "horizontal back porch 146 instead of 148 pixels",
		"vertical sync negative instead of positive"}, c.Differences)
}

// The 263-line form of the 240-line formats is in CTA-861 too.
func TestMatchLongerForm(t *testing.T) {
	s, _ := VIC(8)
	tm := s.Timing
	tm.V.Front++
	c, ok := Nearest(tm)
	require.True(t, ok)
	c.Compare(tm)
	assert.True(t, c.Exact(), c.String())
	assert.Equal(t, FormLonger, c.Form)
}

func TestNoStandardOfThatSize(t *testing.T) {
	tm := Timing{PixelClock: Hz(60e6), H: Axis{1111, 8, 8, 8, true}, V: Axis{777, 1, 2, 3, true}, Repeat: 1}
	_, ok := Nearest(tm)
	assert.False(t, ok)
	assert.Empty(t, Match(tm, 1e6))
	_, ok = Nearest(Timing{})
	assert.False(t, ok)
	tm.H.Active = 65535
	_, ok = Nearest(tm)
	assert.False(t, ok)
}

func BenchmarkNearest(b *testing.B) {
	s, _ := VIC(16)
	tm := s.Timing
	tm.PixelClock = Hz(148_490_000)
	Nearest(tm)
	b.ReportAllocs()
	for b.Loop() {
		Nearest(tm)
	}
}

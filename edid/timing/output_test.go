package timing

import (
	"encoding/hex"
	"encoding/xml"
	"io"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// The 18 bytes of 1920x1080 60 Hz as they stand in countless displays
// (E-EDID section 3.10.2; CTA-861 VIC 16), image size 0, and the bytes of
// 1920x1080i 60 Hz (VIC 5) as CTA-861's example prints them.
func TestDescriptor(t *testing.T) {
	s, _ := VIC(16)
	b, err := s.Timing.Descriptor(0, 0)
	require.NoError(t, err)
	assert.Equal(t, "023a801871382d40582c450000000000001e", hex.EncodeToString(b[:]))
	s, _ = VIC(5)
	b, err = s.Timing.Descriptor(0, 0)
	require.NoError(t, err)
	assert.Equal(t, "011d8018711c1620582c250000000000009e", hex.EncodeToString(b[:]))
	b, err = s.Timing.Descriptor(1025, 769)
	require.NoError(t, err)
	assert.Equal(t, []byte{0x01, 0x01, 0x43}, b[12:15])
	twin, _ := s.Twin()
	_, err = twin.Timing.Descriptor(0, 0)
	assert.ErrorContains(t, err, "no multiple of 10 kHz")
	s, _ = VIC(118)
	_, err = s.Timing.Descriptor(0, 0)
	assert.ErrorContains(t, err, "above")
	s, _ = VIC(93)
	_, err = s.Timing.Descriptor(0, 0)
	assert.ErrorContains(t, err, "H front porch 1276 is above 1023")
}

func TestModeline(t *testing.T) {
	s, _ := VIC(16)
	assert.Equal(t, `Modeline "board"  148.5  1920 2008 2052 2200  1080 1084 1089 1125  +hsync +vsync`, s.Timing.Modeline("board"))
	s, _ = VIC(5)
	assert.Equal(t, `Modeline "i"  74.25  1920 2008 2052 2200  1080 1084 1094 1125  +hsync +vsync interlace`, s.Timing.Modeline(`"i"`))
}

func TestCompare(t *testing.T) {
	sent, _ := VIC(31)
	asked, _ := VIC(16)
	l := panel(1920, 1080, [3]float64{120, 144, 175}, [3]float64{2000, 2176, 2240}, [3]float64{1090, 1100, 1160})
	c := Comparison{Sent: sent.Timing, Asked: asked.Timing, Panel: []Limits{l},
		Scaler: []Limits{{Origin: "board", List: []Limit{At(FieldRate, Hz(50), Hz(76))}}}}
	rows, first := c.Compare()
	assert.Equal(t, "line rate: the source sends 56.25 kHz, the EDID asks for 67.5 kHz", first)
	var total CompareRow
	for _, r := range rows {
		if r.What == "H total" {
			total = r
		}
	}
	assert.Equal(t, CompareRow{"H total", "2640 px", "2200 px", "any", "2000 to 2240 px", "H total: the source sends 2640 px, the panel accepts 2000 to 2240 px"}, total)
	c.Sent = asked.Timing
	_, first = c.Compare()
	assert.Empty(t, first)
	// 59.94 for 60 Hz is a mismatch of 1000 ppm, unless the receiver is worse.
	twin, _ := asked.Twin()
	c.Sent = twin.Timing
	_, first = c.Compare()
	assert.Contains(t, first, "pixel clock: the source sends 148.3516 MHz, the EDID asks for 148.5 MHz")
	c.ErrorPPM = 2000
	_, first = c.Compare()
	assert.Empty(t, first)
}

func TestFrameSVG(t *testing.T) {
	s, _ := VIC(31)
	l := panel(1920, 1080, [3]float64{120, 144, 175}, [3]float64{2000, 2176, 2240}, [3]float64{1090, 1100, 1160})
	svg := string(FrameSVG(s.Timing, []Limits{l}))
	requireXML(t, svg)
	for _, want := range []string{"active 1920 x 1080", "H total 2640 px", "V total 1125 lines", "panel sheet: H total 2000 to 2240 px", "broken"} {
		assert.Contains(t, svg, want)
	}
	// A hostile name stays text.
	l.Origin = `<script>"&`
	svg = string(FrameSVG(s.Timing, []Limits{l}))
	requireXML(t, svg)
	assert.NotContains(t, svg, "<script>")
}

func TestChromaticitySVG(t *testing.T) {
	svg := string(ChromaticitySVG(ColourPoints{RedX: 0.64, RedY: 0.33, GreenX: 0.30, GreenY: 0.60, BlueX: 0.15, BlueY: 0.06, WhiteX: 0.3127, WhiteY: 0.3290}))
	requireXML(t, svg)
	assert.Contains(t, svg, "red 0.640, 0.330")
	assert.Contains(t, svg, "white 0.313, 0.329")
	assert.Equal(t, svg, string(ChromaticitySVG(ColourPoints{0.64, 0.33, 0.30, 0.60, 0.15, 0.06, 0.3127, 0.3290})), "the same each time")
	assert.Equal(t, 1, strings.Count(svg, "<svg"))
}

// requireXML fails where the picture would not open.
func requireXML(t *testing.T, s string) {
	t.Helper()
	d := xml.NewDecoder(strings.NewReader(s))
	for {
		if _, err := d.Token(); err == io.EOF {
			return
		} else {
			require.NoError(t, err)
		}
	}
}

package timing

import (
	"os"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

func TestLimitsFile(t *testing.T) {
	b, err := os.ReadFile("../../testdata/timing/limits/departure-board.yaml")
	require.NoError(t, err)
	f, err := ParseLimits("departure-board.yaml", b)
	require.NoError(t, err)
	require.Len(t, f.Parts, 3)
	assert.Equal(t, []SequenceTime{{"supply to data", 500, 50_000}, {"data to backlight", 200_000, 0}}, f.Parts[2].Limits.Sequence)
	vic31, _ := VIC(31)
	got := f.Path(vic31.Timing, Timing{}, 0).Fit()
	require.Len(t, got, 1)
	assert.Equal(t, `limit of         what                            have         need                margin      verdict
old cable        link character rate             148.5 MHz    at most 165 MHz     +16.5 MHz   fits
interface board  pixel clock                     148.5 MHz    at most 165 MHz     +16.5 MHz   fits
interface board  line rate                       56.25 kHz    30 to 80 kHz        +23.75 kHz  fits
interface board  field rate                      50 Hz        50 to 76 Hz         +0 Hz       fits
interface board  scan                            progressive  progressive         -           fits
panel sheet      H active                        1920 px      exactly 1920 px     +0 px       fits
panel sheet      V active                        1080 lines   exactly 1080 lines  +0 lines    fits
panel sheet      pixel clock                     148.5 MHz    120 to 175 MHz      +26.5 MHz   fits
panel sheet      H total                         2640 px      2000 to 2240 px     -400 px     broken
panel sheet      V total                         1125 lines   1090 to 1160 lines  +35 lines   fits
panel sheet      H numbers for 2 pixels a clock  all          multiples of 2      -           fits
1920x1080 50 Hz does not fit: it breaks the H total of the panel sheet (2640 px, need 2000 to 2240 px, margin -400 px).
`, got[0].Report.Text())
	assert.Equal(t, "1920x1080 50 Hz does not fit: it breaks the H total of the panel sheet (2640 px, need 2000 to 2240 px, margin -400 px).", got[0].Report.Sentence)
	// Behind a frame buffer the same source fits, for the output is judged
	// against the panel.
	f.Buffers = true
	vic16, _ := VIC(16)
	got = f.Path(vic31.Timing, vic16.Timing, 0).Fit()
	require.Len(t, got, 2)
	assert.Equal(t, Fits, got[0].Report.Verdict, got[0].Report.Sentence)
	assert.Equal(t, Fits, got[1].Report.Verdict, got[1].Report.Sentence)
}

// A measured timing nearer to a limit than the receiver's error is no verdict.
func TestCannotTell(t *testing.T) {
	l := Limits{Origin: "scaler input", List: []Limit{At(PixelClock, Freq{}, Hz(148_600_000))}}
	s, _ := VIC(16)
	assert.Equal(t, Fits, Check(s.Timing, 500, l).Verdict)
	r := Check(s.Timing, 1000, l)
	assert.Equal(t, CannotTell, r.Verdict)
	assert.Contains(t, r.Sentence, "cannot tell")
	tm := s.Timing
	tm.PixelClock = Hz(148_650_000)
	assert.Equal(t, CannotTell, Check(tm, 1000, l).Verdict)
	assert.Equal(t, Broken, Check(tm, 0, l).Verdict)
}

func TestRules(t *testing.T) {
	s, _ := VIC(5)
	r := Check(s.Timing, 0, Limits{Origin: "board", Interlaced: Refused, HPositive: Refused, VPositive: Required, Channels: 4, Listed: Standards(SourceDMT)})
	var broken []string
	for _, row := range r.Broken() {
		broken = append(broken, row.What+": "+row.Have+" / "+row.Need)
	}
	assert.Equal(t, []string{"scan: interlaced / progressive", "H sync polarity: positive / negative",
		"listed mode: 1920x1080i 60 Hz / one of the listed"}, broken)
	odd := s.Timing
	odd.H.Front, odd.H.Back = 87, 149
	r = Check(odd, 0, Limits{Origin: "source", Channels: 2})
	assert.Equal(t, "front porch 87 and back porch 149 not", r.Rows[0].Have)
	assert.Equal(t, Fits, Check(odd, 0, Limits{Origin: "panel", Channels: 2, DEOnly: true}).Verdict, "the panel sees blanking alone")
}

// HDMI: 3840x2160 60 Hz needs 594 MHz, 8 bits; 4:2:0 halves it; 10 bits take
// a quarter more; 340 MHz is the ceiling without SCDC (HDMI 2.0 section 6).
func TestLinkLimits(t *testing.T) {
	s, _ := VIC(97)
	assert.Equal(t, Hz(594e6), s.Timing.CharacterRate(8, Sampling444))
	assert.Equal(t, Hz(742.5e6), s.Timing.CharacterRate(10, Sampling444))
	assert.Equal(t, Hz(297e6), s.Timing.CharacterRate(0, Sampling420))
	assert.Equal(t, Hz(594e6), s.Timing.CharacterRate(12, Sampling422))
	assert.Equal(t, Broken, Check(s.Timing, 0, TMDSLink(MaxTMDSWithoutSCDC, 8, Sampling444)).Verdict)
	assert.Equal(t, Fits, Check(s.Timing, 0, TMDSLink(MaxTMDSWithoutSCDC, 8, Sampling420)).Verdict)
	frl, err := FRLLink(4, 6, 10, Sampling444)
	require.NoError(t, err)
	assert.Equal(t, Fits, Check(s.Timing, 0, frl).Verdict)
	frl, err = FRLLink(3, 6, 10, Sampling444)
	require.NoError(t, err)
	assert.Equal(t, Broken, Check(s.Timing, 0, frl).Verdict, "742.5 M characters a second against 666.7 M")
	_, err = FRLLink(2, 6, 8, Sampling444)
	assert.ErrorContains(t, err, "3 lanes at 3 and 6")
}

func TestRangeLimits(t *testing.T) {
	l := RangeLimits(Hz(56), Hz(60), KHz(30), KHz(67), Hz(150e6))
	s, _ := VIC(16) // 67.5 kHz: stated as 67, 67.5 is still within
	assert.Equal(t, Fits, Check(s.Timing, 0, l).Verdict)
	s, _ = VIC(31)
	assert.Equal(t, "1920x1080 50 Hz does not fit: it breaks the field rate of the EDID range limits (50 Hz, need 55.5 to 60.5 Hz, margin -5.5 Hz).", Check(s.Timing, 0, l).Sentence)
}

func TestBadLimitsFiles(t *testing.T) {
	for _, c := range []struct{ name, text, want string }{
		{"empty", "", "x.yaml: the file is empty"},
		{"no parts", "parts: []\n", "x.yaml:1:8: there are no limits: list at least one part under parts"},
		{"unknown unit", "parts:\n  - kind: panel\n    pixel_clock: {max: 165 Mhz}\n", `x.yaml:3:24: pixel_clock: "165 Mhz" has the unknown unit "Mhz": wanted Hz, kHz, MHz or GHz`},
		{"no unit", "parts:\n  - kind: panel\n    h_total: {min: 2000}\n", `x.yaml:3:20: h_total: "2000" has no unit: write the number, a space and px`},
		{"negative", "parts:\n  - kind: panel\n    h_total: {min: -5 px}\n", `x.yaml:3:20: h_total: "-5 px" is negative`},
		{"zero total", "parts:\n  - kind: panel\n    v_total: {min: 0 lines}\n", `x.yaml:3:20: v_total: "0 lines": V total is above 0`},
		{"min above max", "parts:\n  - kind: panel\n    pixel_clock: {min: 175 MHz, max: 120 MHz}\n", "x.yaml:3:18: pixel_clock: pixel clock: minimum 175 MHz is above maximum 120 MHz"},
		{"too fast", "parts:\n  - kind: panel\n    pixel_clock: {max: 1000000000 MHz}\n", `x.yaml:3:24: pixel_clock: "1000000000 MHz" is above 100 GHz, more than any link carries`},
		{"power", "parts:\n  - kind: panel\n    pixel_clock: {max: 10^9 MHz}\n", `x.yaml:3:24: pixel_clock: "10^9" is not a plain number of at most 19 digits`},
		{"sync longer than blanking", "parts:\n  - kind: panel\n    h_blanking: {max: 100 px}\n    h_sync: {min: 120 px}\n", "panel: H sync of at least 120 px with its porches is longer than the H blanking of 100 px"},
		{"bad kind", "parts:\n  - kind: tv\n    h_total: {min: 5 px}\n", `x.yaml:2:11: kind is "tv": wanted source, link, scaler input or panel`},
		{"bad mode", "parts:\n  - kind: scaler input\n    listed: [VIC 16, VIC 500]\n", `x.yaml:3:22: "VIC 500": "500" is no code`},
		{"zero active", "parts:\n  - kind: panel\n    active: 1366x0\n", `x.yaml:3:13: active is "1366x0": wanted a size such as 1920x1080, both above 0`},
		{"bad scaler", "scaler: magic\nparts:\n  - {kind: link, character_rate: {max: 340 MHz}}\n", `x.yaml:1:9: scaler is "magic": wanted pass-through or frame buffer`},
		{"no limit", "parts:\n  - kind: link\n", "the part has no limit"},
	} {
		_, err := ParseLimits("x.yaml", []byte(c.text))
		if assert.Error(t, err, c.name) {
			assert.Contains(t, err.Error(), c.want, c.name)
			assert.Contains(t, err.Error(), "x.yaml:", c.name)
		}
	}
	_, err := ParseLimits("x.yaml", []byte("parts:\n  - kind: panel\n    h_totl: {min: 5 px}\n"))
	assert.ErrorContains(t, err, "x.yaml:3:5")
}

func FuzzParseLimits(f *testing.F) {
	b, _ := os.ReadFile("../../testdata/timing/limits/departure-board.yaml")
	f.Add(b)
	f.Fuzz(func(t *testing.T, b []byte) {
		got, err := ParseLimits("f.yaml", b)
		if err != nil {
			return
		}
		for _, p := range got.Parts {
			require.NoError(t, p.Limits.Validate())
		}
	})
}

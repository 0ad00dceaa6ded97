package edid

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

const totem = `# the panel of an information totem
maker: XQZ
product: 0x1501
serial: 4711
name: Totem 32
serial_text: T32-0004711
week: 7
year: 2024
size_mm: [698, 393]
bits: 8
interface: hdmi
timings:
  - vic: 16
  - dmt: 0x55
  - cvt: [1366, 768, 60]
    reduced: true
  - clock_khz: 76000
    h: [1366, 56, 56, 82]
    v: [768, 14, 4, 20]
    polarity: "+-"
limits: {v_hz: [50, 76], h_khz: [30, 80], clock_mhz: 165}
vics: [16, 4, 31, 19]
native_vic: 16
hdmi: {address: [1, 0, 0, 0], max_mhz: 165, deep_colour: [10, 12]}
sound:
  - {channels: 2, rates_hz: [32000, 44100, 48000], bits: [16, 20, 24]}
`

func TestBuiltEDIDIsLegalAndSaysWhatWasAsked(t *testing.T) {
	b, err := BuildYAML("totem.yaml", []byte(totem))
	require.NoError(t, err)
	require.Len(t, b, 256)
	e, err := Decode(b)
	require.NoError(t, err)
	assert.Empty(t, e.IssuesAt(Odd))
	assert.Equal(t, `XQZ 1501 "Totem 32" serial T32-0004711`, e.Identity().String())
	first, ok := e.Preferred()
	require.True(t, ok)
	// VIC 16 of CTA-861: 148.5 MHz, 2200 x 1125.
	assert.Equal(t, "1920x1080 60 Hz, 148.5 MHz, H 2200 (88+44+148) +, V 1125 (4+5+36) +", first.String())
	f := e.Formats()
	assert.True(t, f[0].Native)
	assert.Len(t, f[0].Places, 2)
	var sizes []string
	for _, x := range f {
		sizes = append(sizes, x.Timing.Size())
	}
	assert.Equal(t, []string{"1920x1080", "1280x720", "1360x768", "1366x768", "1920x1080", "1280x720", "640x480"}, sizes)
}

func TestBuildSaysWhereAndWhichClause(t *testing.T) {
	for _, c := range []struct{ yaml, want string }{
		{"maker: XQ\n", `d.yaml:1:8: maker code "XQ": it has three letters (E-EDID 3.4.1)`},
		{"maker: XQZ\ntimings: []\n", "d.yaml:2:10: at least the preferred timing is needed (E-EDID 3.10.1)"},
		{"maker: XQZ\nbits: 7\n", "d.yaml:2:7: 7 bits a colour; 6, 8, 10, 12, 14 and 16 can be coded (E-EDID 3.6.1)"},
		{"maker: XQZ\ntimings:\n  - vic: 97\n  - vic: 117\n",
			"d.yaml:4:8: detailed timing: the pixel clock 1188 MHz; 0.01 to 655.35 MHz can be coded (E-EDID 3.10.2)"},
		{"maker: XQZ\ntimings:\n  - vic: 16\nname: far too long a name\n",
			`d.yaml:4:7: product name: "far too long a name" is longer than 13 characters (E-EDID 3.10.3.1)`},
		{"maker: XQZ\ntimings:\n  - vic: 16\nsound:\n  - {channels: 2}\n",
			"d.yaml:5:3: sound needs the hdmi part: without it sources treat the display as DVI (HDMI 1.4b 8.3.2)"},
	} {
		b, err := BuildYAML("d.yaml", []byte(c.yaml))
		assert.EqualError(t, err, c.want)
		assert.Nil(t, b)
	}
}

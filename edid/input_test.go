package edid

import (
	"bytes"
	"encoding/hex"
	"fmt"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

func TestParseInputLayouts(t *testing.T) {
	want := readExample(t, "linux612_vivid_hdmi")
	lines := func(format, sep, head string) string {
		var s strings.Builder
		for i, v := range want {
			if i%16 == 0 {
				if i > 0 {
					s.WriteString("\n")
				}
				if head != "" {
					fmt.Fprintf(&s, head, i)
				}
			}
			fmt.Fprintf(&s, format, v)
			s.WriteString(sep)
		}
		return s.String()
	}
	for name, text := range map[string]string{
		"one run":              hex.EncodeToString(want),
		"upper case, spaces":   lines("%02X", " ", ""),
		"C array":              "{\n" + lines("0x%02x", ", ", "") + "\n};",
		"string escapes":       `"` + lines(`\x%02x`, "", "") + `"`,
		"colons":               lines("%02x", ":", ""),
		"offset with colon":    lines("%02x", " ", "%08x: "),
		"short offset":         lines("%02x", " ", "%02x: "),
		"comments and blanks":  "# a dump\n\n" + lines("%02x", " ", "") + " # end\n\n// more\n",
		"carriage returns":     strings.ReplaceAll(lines("%02x", " ", ""), "\n", "\r\n"),
		"offset and 0x bytes":  lines("0x%02x", ",", "0x%04x: "),
		"raw":                  string(want),
		"tabs and semicolons":  lines("%02x", ";\t", ""),
		"comma without spaces": lines("%02x", ",", ""),
	} {
		got, err := ParseInput([]byte(text))
		require.NoError(t, err, name)
		assert.True(t, bytes.Equal(want, got), "%s: %d bytes", name, len(got))
	}
}

func TestParseInputSaysWhere(t *testing.T) {
	for _, c := range []struct{ in, want string }{
		{"00 ff\nff fg ff", "2:5: 'g' is no hexadecimal digit"},
		{"00 ff zz", "1:7: 'z' is no hexadecimal digit"},
		{"00 f", "1:4: a single hexadecimal digit where a pair is needed"},
		{"00 0x", "1:6: hexadecimal digits must follow 0x"},
		{"# ok\n0010: 00 ü", "2:10: 'ü' is no hexadecimal digit"},
		{"00 0x123", "1:6: an odd number of hexadecimal digits"},
	} {
		_, err := ParseInput([]byte(c.in))
		require.EqualError(t, err, c.want, "%q", c.in)
	}
}

func TestDecodeRefusesWrongSizes(t *testing.T) {
	for n, want := range map[int]string{
		0:       "no EDID: nothing was read (0 bytes)",
		127:     "no EDID: 127 bytes, and an EDID block has 128",
		1 << 20: "no EDID: 1048576 bytes, and the largest EDID has 32768 (256 blocks)",
	} {
		e, err := Decode(make([]byte, n))
		assert.EqualError(t, err, want)
		assert.Nil(t, e)
	}
}

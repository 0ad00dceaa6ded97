package sim_test

import (
	"errors"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"deadhop/ddc/sim"
	"deadhop/edid/yamlfile"
)

func TestLoadSaysWhatIsWrongAndWhere(t *testing.T) {
	fault := func(s string) string { return plain + "faults:\n  - " + s + "\n" }
	for _, c := range []struct{ name, text, want string }{
		{"empty", "", "bench.yaml: the file is empty"},
		{"misspelt key", strings.Replace(plain, "seed:", "sede:", 1), "bench.yaml:3:1: "},
		{"unknown kind of stage", strings.Replace(plain, "kind: switch", "kind: swich", 1), `bench.yaml:9:26: unknown kind "swich"`},
		{"no source first", strings.Replace(plain, "kind: source", "kind: switch", 1), "the first stage, and only it, is of kind source"},
		{"links out of order", strings.Replace(plain, "from: selector, to: scaler", "from: player, to: scaler", 1), `bench.yaml:18:5: link "c2" joins "player" to "scaler"`},
		{"rail feeds nobody", strings.Replace(plain, "feeds: [player", "feeds: [plyer", 1), `feeds "plyer", which is no stage`},
		{"no such VIC", strings.Replace(plain, "native: {vic: 16}", "native: {vic: 180}", 1), "CTA-861 has no VIC 180"},
		{"two timings at once", strings.Replace(plain, "native: {vic: 16}", "native: {vic: 16, dmt: 4}", 1), "a timing is one of vic, dmt"},
		{"three limits", strings.Replace(plain, "[30, 80]", "[30, 80, 90]", 1), "line_khz is two numbers, least and most"},
		{"sound over DVI", strings.Replace(plain, "hdmi: true, ", "", 1), "sound needs the hdmi part"},
		{"maker of two letters", strings.Replace(plain, "maker: QXJ", "maker: QX", 1), "maker: "},
		{"bad delay", strings.Replace(plain, "seed: 5", "wire_delay: soon", 1), `bench.yaml:3:13: wire_delay "soon"`},
		{"unknown reading", strings.Replace(plain, "bench:\n", "bench:\n  cannot: [smell]\n", 1), `unknown reading "smell"`},
		{"fault on no part", fault("{part: c7, kind: pair-open}"), `bench.yaml:23:12: "c7" is no part of this equipment`},
		{"unknown fault", fault("{part: c1, kind: gnawed}"), `bench.yaml:23:22: unknown kind of fault "gnawed"; known are backlight, `},
		{"fault on the wrong part", fault("{part: scaler, kind: no-boot}"), `"no-boot" cannot sit on "scaler", which is of kind scaler, but on source`},
		{"fault without its detail", fault("{part: c1, kind: wire-open}"), `a fault of kind "wire-open" needs wires`},
		{"unknown wire", fault("{part: c1, kind: wire-open, wires: [tap]}"), `unknown wire "tap"`},
		{"chance above one", fault("{part: c1.source, kind: loose, chance: 1.5}"), "a chance is above 0 and at most 1"},
		{"intermittent without a chance", fault("{part: c1.source, kind: loose}"), "needs its chance to show"},
		{"unknown action", fault("{part: c1, kind: pair-open, cured_by: [prayer]}"), `unknown action "prayer"`},
		{"lane out of range", fault("{part: p1, kind: lane-open, lane: 4}"), "a lane is 0 to 3, not 4"},
		{"no such stage with an EDID", fault("{part: 'setting:edid:player', kind: corrupt, bytes: [{at: 0, is: 1}]}"), `"player" is no stage that can hold an EDID`},
	} {
		t.Run(c.name, func(t *testing.T) {
			b, err := sim.Load("bench.yaml", []byte(c.text))
			require.ErrorContains(t, err, c.want)
			assert.Nil(t, b)
			var place *yamlfile.Error
			assert.True(t, errors.As(err, &place))
		})
	}
}

func FuzzLoad(f *testing.F) {
	f.Add(plain)
	f.Add(plain + "faults:\n  - {part: c1, kind: pair-open, pair: red}\n")
	f.Fuzz(func(t *testing.T, text string) {
		b, err := sim.Load("bench.yaml", []byte(text))
		if (b == nil) != (err != nil) {
			t.Fatal("a bench with an error, or none without")
		}
	})
}

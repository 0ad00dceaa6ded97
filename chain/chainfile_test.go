package chain

import (
	"os"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

const wholeChain = `version: 1
equipment: test unit
stages:
  - {id: source, kind: source}
  - {id: switch, kind: switch}
  - {id: scaler, kind: scaler}
links:
  - {id: c1, kind: hdmi, from: source, to: switch}
  - {id: c2, kind: hdmi, from: switch, to: scaler}
rails:
  - {id: main, volts: 12, feeds: [source, switch]}
expect:
  - {at: scaler, timing: 1280x1024@60}
`

func TestChainFileErrors(t *testing.T) {
	_, err := Parse("unit.yaml", []byte(wholeChain))
	require.NoError(t, err)
	for _, tt := range []struct{ name, old, new, want string }{
		{"unknown stage", "from: switch, to: scaler", "from: swich, to: scaler",
			`unit.yaml:9:32: link "c2": unknown stage "swich": this file has source, switch, scaler`},
		{"unknown stage of a rail", "feeds: [source, switch]", "feeds: [source, amp]",
			`unit.yaml:11:43: rail "main": unknown stage "amp": this file has source, switch, scaler`},
		{"duplicate stage", "id: switch, kind: switch", "id: source, kind: switch",
			`unit.yaml:5:10: duplicate id "source": stage 1 has it already`},
		{"duplicate across kinds", "{id: c2,", "{id: switch,",
			`unit.yaml:9:10: duplicate id "switch": stage 2 has it already`},
		{"cycle", "from: switch, to: scaler", "from: switch, to: source",
			`unit.yaml:9:44: link "c2" leads back to stage "source": a cycle`},
		{"fork", "from: switch, to: scaler", "from: source, to: scaler",
			`unit.yaml:9:32: the chain forks: links "c1" and "c2" both start at stage "source"; describe one path`},
		{"gap", "  - {id: c2, kind: hdmi, from: switch, to: scaler}\n", "",
			`unit.yaml:6:5: stage "scaler" is joined by no link: the chain has a gap`},
		{"missing expectation", "expect:\n  - {at: scaler, timing: 1280x1024@60}\n", "",
			`missing expectation: say under expect what stage "scaler" needs (timing or limits)`},
		{"unknown timing", "1280x1024@60", "1281x1024@60",
			`1281x1024@60 is in neither DMT nor CTA-861: state limits instead`},
		{"no timing", "1280x1024@60", "fast", `"fast" is no timing: write it like "1280x1024@60"`},
		{"limits without unit", "timing: 1280x1024@60", "limits: {fh: 30 to 80}",
			`fh: "30 to 80" is no range: write it like "30 to 80 kHz", with Hz, kHz or MHz`},
		{"misspelt key", "equipment:", "equipmnet:", "equipmnet"},
		{"tab", "  - {id: switch", "\t- {id: switch", "unit.yaml:5:1: a tab in the indentation"},
		{"version", "version: 1", "version: 9", "unit.yaml:1:10: chain file version 9: this program reads version 1"},
		{"kind", "kind: switch", "kind: router", `the stage kind "router" is not known: use source, switch, extender, scaler, panel`},
		{"volts", "volts: 12", "volts: 0", `rail "main": volts must be above 0`},
		{"reserved", "{id: c2,", "{id: lead,", `the id "lead" cannot be used`},
	} {
		t.Run(tt.name, func(t *testing.T) {
			text := strings.Replace(wholeChain, tt.old, tt.new, 1)
			require.NotEqual(t, wholeChain, text)
			_, err := Parse("unit.yaml", []byte(text))
			require.ErrorContains(t, err, tt.want)
			require.ErrorContains(t, err, "unit.yaml:")
		})
	}
}

func TestPlugNamesTheOnesThereAre(t *testing.T) {
	c, err := Parse("unit.yaml", []byte(wholeChain))
	require.NoError(t, err)
	_, err = c.Plug("c9.display")
	require.EqualError(t, err, `unknown plug "c9.display": this chain has c1.source, c1.display, c2.source, c2.display`)
}

func TestSavedLookRoundTripsAndRefusesWhatItDoesNotKnow(t *testing.T) {
	c := loadTestChain(t, "departure-board")
	l := goodUp("c2.source", c.Expect[0].Timing)
	b, err := l.Encode()
	require.NoError(t, err)
	back, err := ParseLook("look.json", b)
	require.NoError(t, err)
	require.Equal(t, l, *back)

	for _, tt := range []struct{ old, new, want string }{
		{`"version": 1`, `"version": 7`, "look.json: look version 7: this program reads version 1"},
		{`"facing": "up"`, `"facing": "left"`, `the look faces "left": use "up" or "down"`},
		{`"power_5v"`, `"power5"`, "unknown field"},
	} {
		_, err := ParseLook("look.json", []byte(strings.Replace(string(b), tt.old, tt.new, 1)))
		require.ErrorContains(t, err, tt.want)
	}
	_, err = ParseLook("look.json", nil)
	require.EqualError(t, err, "look.json: the file is empty: a saved look is JSON")

	l.Plug = "c7.source"
	require.ErrorContains(t, l.Fits(c), `unknown plug "c7.source"`)
	l.Plug = "p1.source"
	require.ErrorContains(t, l.Fits(c), "panel link")
}

func TestEvidenceThatFitsNoChain(t *testing.T) {
	c, cat := loadTestChain(t, "departure-board"), catalogueForTest(t)
	for _, tt := range []struct {
		ev   Evidence
		want string
	}{
		{Evidence{Looks: []Look{darkUp("c9.display")}}, `look 1: unknown plug "c9.display"`},
		{Evidence{Checks: []HandCheck{{Kind: "smell"}}}, `check 1: unknown check "smell"`},
		{Evidence{Checks: []HandCheck{{Kind: CheckSupply, At: "aux"}}}, `supply: unknown rail "aux"`},
		{Evidence{Checks: []HandCheck{{Kind: CheckMenu, Answer: "maybe"}}}, `menu: unknown answer "maybe": use shows, missing`},
		{Evidence{Actions: []Action{{Part: "c8", Repair: "reseat"}}}, `action 1: unknown part "c8"`},
		{Evidence{Actions: []Action{{Part: "c1", Repair: "hammer"}}}, `action 1: unknown repair "hammer"`},
	} {
		require.ErrorContains(t, tt.ev.Validate(c, cat), tt.want)
		r := Diagnose(c, cat, tt.ev)
		require.Equal(t, NothingSeen, r.Verdict)
		require.Len(t, r.Contradictions, 1)
		require.Contains(t, r.Contradictions[0].Sentence, "Set aside")
	}
}

func TestCatalogueErrors(t *testing.T) {
	base := catalogueForTest(t)
	whole := string(builtIn)
	for _, tt := range []struct{ name, text, want string }{
		{"over one", strings.Replace(whole, "no_fault: 0.15", "no_fault: 1.15", 1), "mine.yaml:5:11: the probability 1.15 is not between 0 and 1"},
		{"no part", strings.Replace(whole, "part: source\n", "part: antenna\n", 1), `mode "source-dead" is for no part: "antenna" is not one of source, switch`},
		{"no source", strings.Replace(whole, "no_fault: 0.15 estimate, 10 to 20 % of jobs are no-fault-found", "no_fault: 0.15", 1), `the number 0.15 does not say where it comes from`},
		{"negative minutes", strings.Replace(whole, "minutes: 3 estimate", "minutes: -3 estimate", 1), `contradictory costs: the repair "reseat" takes -3 minutes`},
		{"twice", strings.Replace(whole, "id: set-mode", "id: reseat", 1), `contradictory costs: the repair "reseat" is listed twice`},
		{"reading", strings.Replace(whole, "no_power_5v: 0.93", "no_power_6v: 0.93", 1), `the reading "no_power_6v" is not known here: use no_power_5v, no_signal`},
		{"repair", strings.Replace(whole, "repair: swap-source\n", "repair: pray\n", 1), `mode "source-dead": unknown repair "pray"`},
	} {
		t.Run(tt.name, func(t *testing.T) {
			require.NotEqual(t, whole, tt.text)
			_, err := ParseCatalogue("mine.yaml", []byte(tt.text), nil)
			require.ErrorContains(t, err, tt.want)
			require.Regexp(t, `mine\.yaml:[0-9]+:[0-9]+:`, err.Error())
		})
	}
	// A shop's own file adds to the built-in one.
	more, err := ParseCatalogue("shop.yaml", []byte(`version: 1
modes:
  - id: cable-crushed
    part: hdmi-cable
    name: crushed at the hinge
    prior: 9 the shop's own count, 2019 to 2025
    up: {no_lock: 0.8 estimate}
    repair: swap-hdmi-cable
`), base)
	require.NoError(t, err)
	require.Len(t, more.Modes, len(base.Modes)+1)
	require.Equal(t, "the shop's own count, 2019 to 2025", more.Modes[len(more.Modes)-1].Prior.From)
}

func TestBuiltInFilesStandOnTheirOwn(t *testing.T) {
	for _, name := range []string{"departure-board", "totem-long"} {
		loadTestChain(t, name)
	}
	require.GreaterOrEqual(t, len(catalogueForTest(t).Modes), 26)
	_, err := os.Stat("catalogue.yaml")
	require.NoError(t, err)
}

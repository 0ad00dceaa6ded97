package yamlfile_test

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"deadhop/edid/yamlfile"
)

type doc struct {
	Name  string `yaml:"name"`
	Parts []part `yaml:"parts"`
}

type part struct {
	ID    string  `yaml:"id"`
	Volts float64 `yaml:"volts"`
}

func TestErrorsSayWhere(t *testing.T) {
	for name, c := range map[string]struct{ text, want string }{
		"empty":         {"", "f.yaml: the file is empty"},
		"only comments": {"# nothing\n", "f.yaml: the file is empty"},
		"tab":           {"name: x\nparts:\n\t- {id: a}\n", "f.yaml:3:1: a tab in the indentation: YAML allows only spaces there"},
		"unknown key":   {"name: x\nparts:\n  - {id: a, volt: 3}\n", `f.yaml:3:13: unknown key "volt"`},
		"duplicate key": {"name: x\nname: y\n", `f.yaml:2:1: the key "name" stands here twice, first on line 1`},
		"wrong type":    {"name: x\nparts:\n  - {id: a, volts: many}\n", "f.yaml:3:20: text where a number is expected"},
		"no mapping":    {"- a\n- b\n", "f.yaml:1:1: sequence was used where mapping is expected"},
		"two documents": {"name: x\n---\nname: y\n", "f.yaml: holds 2 YAML documents where one is expected"},
		"broken":        {"name: [x\n", "f.yaml:1:7: sequence end token ']' not found"},
	} {
		t.Run(name, func(t *testing.T) {
			var d doc
			_, err := yamlfile.Decode("f.yaml", []byte(c.text), &d)
			assert.EqualError(t, err, c.want)
		})
	}
}

func TestAListLongerThanItsArrayIsAnError(t *testing.T) {
	var d struct {
		Pair [2]float64 `yaml:"pair"`
	}
	_, err := yamlfile.Decode("f.yaml", []byte("pair: [1, 2, 3]\n"), &d)
	assert.ErrorContains(t, err, "f.yaml: a value does not fit its place")
}

func TestErrorfFindsThePlaceOfAPath(t *testing.T) {
	var d doc
	f, err := yamlfile.Decode("f.yaml", []byte("name: x\nparts:\n  - id: a\n    volts: 3\n  - id: b\n"), &d)
	require.NoError(t, err)
	assert.EqualError(t, f.Errorf("$.parts[0].volts", "too %s", "low"), "f.yaml:4:12: too low")
	// A key that is absent is reported at its parent.
	assert.EqualError(t, f.Errorf("$.parts[1].volts", "missing"), "f.yaml:5:7: missing")
	assert.EqualError(t, f.Errorf("$.rails", "missing"), "f.yaml:1:1: missing")
}

// FuzzDecode: no text makes the reader panic, and what it reads has places.
func FuzzDecode(f *testing.F) {
	for _, s := range []string{"name: x", "a: &x [*x]", "{", "\xff\xfe", "? a", "parts: [{id: a}]", "- - -", "name: !!binary x"} {
		f.Add([]byte(s))
	}
	f.Fuzz(func(t *testing.T, b []byte) {
		var d doc
		file, err := yamlfile.Decode("f.yaml", b, &d)
		if err == nil {
			assert.NotEmpty(t, file.Errorf("$.name", "x").Error())
		}
	})
}

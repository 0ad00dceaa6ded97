package edid

import (
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

const exampleDir = "../testdata/edid/standard"

// readExample reads one of the published EDIDs; testdata/edid/README.md names
// their sources.
func readExample(t testing.TB, name string) []byte {
	t.Helper()
	text, err := os.ReadFile(filepath.Join(exampleDir, name+".hex"))
	require.NoError(t, err)
	b, err := ParseInput(text)
	require.NoError(t, err)
	return b
}

func exampleNames(t testing.TB) []string {
	t.Helper()
	files, err := filepath.Glob(filepath.Join(exampleDir, "*.hex"))
	require.NoError(t, err)
	require.NotEmpty(t, files)
	for i, f := range files {
		files[i] = strings.TrimSuffix(filepath.Base(f), ".hex")
	}
	return files
}

func decodeExample(t testing.TB, name string) *EDID {
	t.Helper()
	e, err := Decode(readExample(t, name))
	require.NoError(t, err)
	return e
}

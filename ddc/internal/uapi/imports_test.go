package uapi

import (
	"go/parser"
	"go/token"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// Everything that depends on layouts and raw calls stays in this package.
func TestNobodyElseImportsUnsafe(t *testing.T) {
	root := "../../.."
	if _, err := os.Stat(filepath.Join(root, "go.mod")); err != nil {
		t.Skip("the source tree is not there")
	}
	seen := 0
	err := filepath.WalkDir(root, func(path string, d fs.DirEntry, err error) error {
		if err != nil {
			return err
		}
		if d.IsDir() && strings.HasPrefix(d.Name(), ".") && path != root {
			return filepath.SkipDir
		}
		if !strings.HasSuffix(path, ".go") || strings.HasSuffix(path, "_test.go") || filepath.Dir(path) == filepath.Join(root, "ddc/internal/uapi") {
			return nil
		}
		seen++
		f, err := parser.ParseFile(token.NewFileSet(), path, nil, parser.ImportsOnly)
		if err != nil {
			return nil // the compiler will say so
		}
		for _, i := range f.Imports {
			if p := strings.Trim(i.Path.Value, `"`); p == "unsafe" || p == "golang.org/x/sys/unix" {
				t.Errorf("%s imports %s", path, p)
			}
		}
		return nil
	})
	if err != nil || seen == 0 {
		t.Fatalf("%d files, %v", seen, err)
	}
}

package main

import (
	"context"
	"flag"
	"os"
	"path/filepath"
	"testing"

	"github.com/rogpeppe/go-internal/testscript"
)

var update = flag.Bool("update", false, "rewrite what the scripts compare with")

func TestMain(m *testing.M) {
	testscript.Main(m, map[string]func(){
		"deadhop": func() { os.Exit(int(run(context.Background(), os.Args[1:], systemStreams()))) },
	})
}

// TestScripts runs the program as a user does, one script a behaviour.
// $DATA is the project's testdata folder.
func TestScripts(t *testing.T) {
	data, err := filepath.Abs("../../testdata")
	if err != nil {
		t.Fatal(err)
	}
	testscript.Run(t, testscript.Params{
		Dir:                 "testdata/script",
		UpdateScripts:       *update,
		RequireExplicitExec: true,
		Setup: func(e *testscript.Env) error {
			e.Setenv("DATA", data)
			return nil
		},
		Cmds: map[string]func(*testscript.TestScript, bool, []string){
			"code": wantCode,
			"fill": fill,
		},
	})
}

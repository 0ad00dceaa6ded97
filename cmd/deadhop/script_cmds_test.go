package main

import (
	"bytes"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"

	"github.com/rogpeppe/go-internal/testscript"
)

// wantCode is the script command "code N PROGRAM ARGS...": it runs the
// program, wants exactly that exit code, and leaves its output in the files out and
// err. "code N < FILE PROGRAM ..." gives it FILE as input.
func wantCode(ts *testscript.TestScript, neg bool, args []string) {
	if neg || len(args) < 2 {
		ts.Fatalf("usage: code N [< FILE] PROGRAM ARGS...")
	}
	want, err := strconv.Atoi(args[0])
	ts.Check(err)
	args = args[1:]
	var stdin []byte
	if args[0] == "<" {
		stdin = []byte(ts.ReadFile(args[1]))
		args = args[2:]
	}
	cmd := exec.Command(args[0], args[1:]...)
	cmd.Dir = ts.Getenv("PWD")
	if cmd.Dir == "" {
		cmd.Dir = ts.MkAbs(".")
	}
	cmd.Env = []string{"PATH=" + ts.Getenv("PATH"), "HOME=" + ts.Getenv("HOME"), "TMPDIR=" + ts.Getenv("TMPDIR")}
	cmd.Stdin = bytes.NewReader(stdin)
	var out, errs bytes.Buffer
	cmd.Stdout, cmd.Stderr = &out, &errs
	if path, err := lookPath(ts, args[0]); err == nil {
		cmd.Path = path
		cmd.Err = nil
	}
	err = cmd.Run()
	if cmd.ProcessState == nil {
		ts.Fatalf("cannot run %s: %v", args[0], err)
	}
	ts.Logf("[stdout]\n%s[stderr]\n%s", out.String(), errs.String())
	if got := cmd.ProcessState.ExitCode(); got != want {
		ts.Fatalf("exit code %d where %d is right", got, want)
	}
	ts.Check(writeFile(ts, "out", out.Bytes()))
	ts.Check(writeFile(ts, "err", errs.Bytes()))
}

// fill is the script command "fill FILE SIZE noise|VALUE": it makes a file of
// SIZE bytes.
func fill(ts *testscript.TestScript, neg bool, args []string) {
	if neg || len(args) != 3 {
		ts.Fatalf("usage: fill FILE SIZE noise|VALUE")
	}
	size, err := strconv.Atoi(args[1])
	ts.Check(err)
	b := make([]byte, size)
	if args[2] == "noise" {
		r := rand.NewChaCha8([32]byte{1})
		_, _ = r.Read(b)
	} else {
		v, err := strconv.ParseUint(args[2], 0, 8)
		ts.Check(err)
		for i := range b {
			b[i] = byte(v)
		}
	}
	ts.Check(writeFile(ts, args[0], b))
}

func writeFile(ts *testscript.TestScript, name string, b []byte) error {
	return os.WriteFile(ts.MkAbs(name), b, 0o644)
}

// lookPath finds a program on the script's own PATH.
func lookPath(ts *testscript.TestScript, name string) (string, error) {
	for _, dir := range filepath.SplitList(ts.Getenv("PATH")) {
		path := filepath.Join(dir, name)
		if info, err := os.Stat(path); err == nil && !info.IsDir() {
			return path, nil
		}
	}
	return "", exec.ErrNotFound
}

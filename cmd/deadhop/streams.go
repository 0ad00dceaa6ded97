package main

import (
	"io"
	"os"

	"github.com/mattn/go-isatty"
)

// streams are the program's ways in and out, so that tests can hold them.
type streams struct {
	in          io.Reader
	out, err    io.Writer
	interactive bool // input and output are a person's terminal
}

func systemStreams() streams {
	return streams{
		in: os.Stdin, out: os.Stdout, err: os.Stderr,
		interactive: isatty.IsTerminal(os.Stdin.Fd()) && isatty.IsTerminal(os.Stdout.Fd()),
	}
}

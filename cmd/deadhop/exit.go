package main

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"strings"

	"deadhop/ddc"
	"deadhop/edid/yamlfile"
)

// exitCode is what a script learns. The numbers are one table, from which the
// help topic is made.
type exitCode int

const (
	exitPass         exitCode = 0
	exitFault        exitCode = 1
	exitBadInput     exitCode = 2
	exitCannotTest   exitCode = 3
	exitInconclusive exitCode = 4
)

// exitTable is in order of precedence: where several hold, the first one wins.
var exitTable = []struct {
	code    exitCode
	meaning string
}{
	{exitBadInput, "wrong call or bad input: nothing was judged"},
	{exitFault, "a fault was found; it stands whatever else could not be measured"},
	{exitCannotTest, "the bench could not measure, or deadhop itself failed"},
	{exitInconclusive, "no answer yet: too little was looked at, or the run was interrupted"},
	{exitPass, "healthy: everything asked for was measured and is as it should be"},
}

// worst gives the code that stands for all of codes. No codes at all are
// inconclusive, since nothing was looked at.
func worst(codes ...exitCode) exitCode {
	for _, row := range exitTable {
		for _, c := range codes {
			if c == row.code {
				return c
			}
		}
	}
	return exitInconclusive
}

func exitCodesHelp() string {
	var b strings.Builder
	b.WriteString("deadhop ends with one of these codes. Where several hold, the one higher in\nthis list is given.\n\n")
	for _, row := range exitTable {
		fmt.Fprintf(&b, "  %d  %s\n", row.code, row.meaning)
	}
	return b.String()
}

// outcome ends a verb with a code and no message: the result is on the screen
// already, and finding a fault is a result, not an error.
type outcome exitCode

func (o outcome) Error() string { return fmt.Sprintf("outcome %d", int(o)) }

// finish turns a code into what a verb returns.
func finish(code exitCode) error {
	if code == exitPass {
		return nil
	}
	return outcome(code)
}

// usageError is a wrong call.
type usageError struct {
	verb string
	err  error
}

func (u *usageError) Error() string { return u.err.Error() }
func (u *usageError) Unwrap() error { return u.err }

// inputError is a file, hex text or name that cannot be used.
type inputError struct{ err error }

func (i *inputError) Error() string { return i.err.Error() }
func (i *inputError) Unwrap() error { return i.err }

func badInput(err error) error {
	if err == nil {
		return nil
	}
	return &inputError{err}
}

func badInputf(format string, args ...any) error {
	return &inputError{fmt.Errorf(format, args...)}
}

// codeOf sorts an error into the table.
func codeOf(err error) exitCode {
	var (
		out   outcome
		usage *usageError
		input *inputError
		yml   *yamlfile.Error
		op    *ddc.OpError
		path  *fs.PathError
	)
	switch {
	case err == nil:
		return exitPass
	case errors.As(err, &out):
		return exitCode(out)
	case errors.As(err, &usage), errors.As(err, &input), errors.As(err, &yml):
		return exitBadInput
	case errors.Is(err, context.Canceled):
		return exitInconclusive
	case errors.As(err, &op):
		return exitCannotTest
	case errors.As(err, &path):
		return exitBadInput
	}
	return exitCannotTest
}

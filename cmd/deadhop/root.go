package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"strings"

	"github.com/rs/zerolog"
	"github.com/spf13/cobra"
	"github.com/spf13/pflag"
)

// version is set by the build (-ldflags "-X main.version=...").
var version = "development build"

// app is what every verb shares in one run of the program.
type app struct {
	streams
	log       zerolog.Logger
	benchFile string
	logFile   string
	json      bool
}

// run is the whole program: it parses args, runs one verb, prints an error
// once, and gives the exit code.
func run(ctx context.Context, args []string, s streams) exitCode {
	a := &app{streams: s, log: zerolog.Nop()}
	root := newRoot(a)
	root.SetArgs(args)
	root.SetIn(s.in)
	root.SetOut(s.out)
	root.SetErr(s.err)
	cmd, err := root.ExecuteContextC(ctx)
	code := codeOf(err)
	var done outcome
	if err == nil || errors.As(err, &done) {
		return code
	}
	fmt.Fprintln(s.err, "deadhop: "+err.Error())
	var usage *usageError
	if errors.As(err, &usage) || strings.HasPrefix(err.Error(), "unknown command") {
		fmt.Fprintf(s.err, "See: %s --help\n", cmd.CommandPath())
		return exitBadInput
	}
	return code
}

func newRoot(a *app) *cobra.Command {
	root := &cobra.Command{
		Use:   "deadhop",
		Short: "Find the hop at which a video signal dies",
		Long: `deadhop turns this machine into both ends of the HDMI cable. It looks up the
chain as if it were the display, and down the chain as if it were the source,
compares every hop with what the scaler and the panel expect, and names the hop
where the signal dies, the suspects, and the next step.`,
		Example: `  deadhop guide --chain board.yaml              ask for one plug after another until the hop is named
  deadhop ports                                 what this machine can plug into, and what it sees now
  deadhop decode out:HDMI-A-1                   read and judge the EDID behind a port
  deadhop look c2.display --chain board.yaml --port in:video0 --save looks/
  deadhop diagnose --chain board.yaml looks/`,
		Version:       version,
		SilenceErrors: true,
		SilenceUsage:  true,
		PersistentPreRunE: func(cmd *cobra.Command, _ []string) error {
			a.tellUnfinished(cmd)
			return a.openLog()
		},
	}
	root.SetFlagErrorFunc(func(cmd *cobra.Command, err error) error {
		return &usageError{cmd.CommandPath(), err}
	})
	root.PersistentFlags().StringVar(&a.benchFile, "bench", "", "bench file: what this machine does not say of its ports, or a simulated bench")
	root.PersistentFlags().StringVar(&a.logFile, "log", "", "append a log of every transaction to this file (\"-\" for standard error)")
	root.CompletionOptions.HiddenDefaultCmd = true
	// One slip of a finger only: "reseat", a repair, is not meant as "present".
	root.SuggestionsMinimumDistance = 1
	root.AddCommand(newPorts(a), newDecode(a), newLook(a), newDiagnose(a), newGuide(a), newCompare(a), newBuild(a), newRepair(a), newIssues(a))
	root.AddCommand(newFit(a), newSolve(a), newName(a), newAgree(a), newColours(a))
	root.AddCommand(newShow(a), newPresent(a), newRestore(a), newListen(a), newTone(a), newQuery(a), newAccess(a), newLoop(a))
	root.AddCommand(&cobra.Command{Use: "exit-codes", Short: "What the exit codes mean", Long: exitCodesHelp()})
	return root
}

// openLog points the log where the user asked. Results go to standard output
// and the log never does.
func (a *app) openLog() error {
	var w io.Writer
	switch a.logFile {
	case "":
		return nil
	case "-":
		w = zerolog.ConsoleWriter{Out: a.err, NoColor: true}
	default:
		f, err := os.OpenFile(a.logFile, os.O_CREATE|os.O_APPEND|os.O_WRONLY, 0o644)
		if err != nil {
			return badInputf("cannot open the log: %w", err)
		}
		w = f
	}
	a.log = zerolog.New(w).With().Timestamp().Logger()
	return nil
}

// exactly wants the named arguments, no more and no fewer.
func exactly(names ...string) cobra.PositionalArgs {
	return func(cmd *cobra.Command, args []string) error {
		switch {
		case len(args) < len(names):
			return &usageError{cmd.CommandPath(), fmt.Errorf("%s is missing", names[len(args)])}
		case len(args) > len(names):
			return &usageError{cmd.CommandPath(), fmt.Errorf("%q is one argument too many", args[len(names)])}
		}
		return nil
	}
}

// atLeastOne wants one or more of what.
func atLeastOne(what string) cobra.PositionalArgs {
	return func(cmd *cobra.Command, args []string) error {
		if len(args) == 0 {
			return &usageError{cmd.CommandPath(), fmt.Errorf("%s is missing", what)}
		}
		return nil
	}
}

// jsonFlag adds --json to a verb.
func jsonFlag(a *app, fs *pflag.FlagSet) {
	fs.BoolVar(&a.json, "json", false, "print the result as JSON for scripts")
}

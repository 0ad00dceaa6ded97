package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"strings"

	"github.com/spf13/cobra"

	"deadhop/chain"
	"deadhop/ddc"
	"deadhop/edid"
)

type decodeOptions struct {
	failAt string
	reads  int
	bytes  bool
}

// failLevels are the words of --fail-at, gravest first.
var failLevels = []struct {
	word  string
	worst edid.Severity
}{
	{"picture", edid.BreaksPicture},
	{"sound", edid.BreaksSound},
	{"standard", edid.BreaksStandard},
	{"odd", edid.Odd},
	{"note", edid.Note},
}

func newDecode(a *app) *cobra.Command {
	o := decodeOptions{failAt: "sound"}
	cmd := &cobra.Command{
		Use:   "decode FILE|FOLDER|PORT|- ...",
		Short: "Read and judge EDIDs from files, ports or standard input",
		Long: `Reads an EDID and says who the display is, what it asks for, what it accepts,
what is wrong with it, and what to do next. A file or standard input may hold
raw bytes or hex text in any layout. A port (out:..., bus:...) is read over its
DDC wire. Several files, or a folder with all the files in it, give one line
each and a summary.

The exit code is 1 when something breaks the picture or the sound; --fail-at
sets another threshold.`,
		Example: `  deadhop decode out:HDMI-A-1
  deadhop decode dump.bin
  xxd -p dump.bin | deadhop decode -
  deadhop decode dumps/                     every file in the folder, a line each
  deadhop decode --fail-at standard --json dump.bin`,
		Args: atLeastOne("the file, the port, or - for standard input"),
		RunE: func(cmd *cobra.Command, args []string) error {
			threshold, err := o.threshold()
			if err != nil {
				return err
			}
			files, many, err := decodeList(args)
			switch {
			case err != nil:
				return err
			case o.bytes && a.json:
				return &usageError{cmd.CommandPath(), errors.New("--bytes and --json are two views: choose one")}
			case o.bytes && many:
				return &usageError{cmd.CommandPath(), errors.New("--bytes shows one EDID at a time")}
			case many:
				return a.decodeMany(cmd.Context(), files, threshold)
			}
			return a.decode(cmd.Context(), args[0], o, threshold)
		},
	}
	f := cmd.Flags()
	f.StringVar(&o.failAt, "fail-at", o.failAt, "end with code 1 from this on: picture, sound, standard, odd, note")
	f.IntVar(&o.reads, "reads", 2, "how often to read a port's EDID")
	f.BoolVar(&o.bytes, "bytes", false, "show every byte with its field, and the issues beside them")
	jsonFlag(a, f)
	return cmd
}

// threshold is the severity from which on decode fails.
func (o decodeOptions) threshold() (edid.Severity, error) {
	var words []string
	for _, l := range failLevels {
		if l.word == o.failAt {
			return l.worst, nil
		}
		words = append(words, l.word)
	}
	return 0, &usageError{"deadhop decode", fmt.Errorf("--fail-at %q: use one of %s", o.failAt, strings.Join(words, ", "))}
}

func (a *app) decode(ctx context.Context, source string, o decodeOptions, threshold edid.Severity) error {
	in, err := a.readEDID(ctx, source, o.reads)
	if err != nil {
		return err
	}
	e, err := edid.Decode(in.bytes)
	if err != nil {
		return badInputf("%s: %w", in.name, err)
	}
	report := newEDIDReport(in, e)
	switch {
	case a.json:
		if err := a.printJSON(report); err != nil {
			return err
		}
	case o.bytes:
		printBytes(a.out, e)
	default:
		report.print(a.out)
	}
	codes := []exitCode{exitPass}
	if len(e.IssuesAt(threshold)) > 0 {
		codes = append(codes, exitFault)
	}
	if in.unsure != nil {
		codes = append(codes, exitCannotTest)
	}
	return finish(worst(codes...))
}

// input is an EDID as it came in.
type input struct {
	name  string
	bytes []byte
	// unsure says why the bytes may not be all there is; nil where nothing
	// does.
	unsure error
	// port is what the port saw, nil where the bytes came from a file.
	port *chain.DownReadings
	wire []ddc.WireFault
}

// mostInput bounds what is read: 256 blocks in the most talkative hex text.
const mostInput = 1 << 20

func (a *app) readEDID(ctx context.Context, source string, reads int) (input, error) {
	if isPortName(source) {
		return a.readPortEDID(ctx, source, reads)
	}
	in := input{name: source}
	var r io.Reader = a.in
	if source == "-" {
		in.name = "standard input"
	} else {
		f, err := os.Open(source)
		if err != nil {
			return in, badInputf("cannot read the EDID: %w", err)
		}
		defer f.Close()
		r = f
	}
	data, err := io.ReadAll(io.LimitReader(r, mostInput+1))
	if err != nil {
		return in, badInputf("cannot read %s: %w", in.name, err)
	}
	if len(data) > mostInput {
		return in, badInputf("%s: more than 1 MiB, which no EDID is", in.name)
	}
	in.bytes, err = edid.ParseInput(data)
	var at *edid.InputError
	if errors.As(err, &at) {
		return in, badInputf("%s:%w", in.name, err)
	}
	return in, badInput(err)
}

func (a *app) readPortEDID(ctx context.Context, id string, reads int) (input, error) {
	in := input{name: id}
	bench, _, err := a.openBench(ctx)
	if err != nil {
		return in, err
	}
	defer bench.Close()
	port, err := findPort(ctx, bench, id, nil)
	if err != nil {
		return in, err
	}
	out, ok := port.(ddc.Out)
	if !ok {
		return in, badInputf("%s is a receiver: it shows an EDID and cannot read one. Read from an out: or bus: port", id)
	}
	ctx, cancel := context.WithTimeout(ctx, lookTime)
	defer cancel()
	seen := out.LookDown(ctx, ddc.DownOptions{Reads: reads})
	a.logAttempts(seen)
	in.port, in.wire = downReadings(seen), seen.Wire
	in.bytes = seen.EDID.V
	switch {
	case seen.EDID.State == ddc.Known:
		return in, nil
	case len(in.bytes) >= edid.BlockSize:
		in.unsure = seen.EDID.Err
		return in, nil
	case seen.EDID.Err != nil:
		return in, fmt.Errorf("no EDID from %s: %w", id, seen.EDID.Err)
	}
	return in, fmt.Errorf("no EDID from %s: %w", id, ddc.ErrUnsupported)
}

package main

import (
	"bufio"
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"deadhop/ddc"
	"deadhop/edid"
)

// writeTime bounds a write: 32 pages with their waits, three double reads and
// a way back take about a second on a healthy bus.
const writeTime = 60 * time.Second

const restoreCautions = `  - A display whose EDID is wrong can stay dark with every source until it is
    written again. Restore only what was read from this display, or from one of
    the same make, model and input.
  - Nothing may be unplugged or switched off until the end is reported.
  - Work from outside, at the socket. An open unit can hold mains, high voltage
    for the backlight and stored charge: local codes and a licensed person decide
    who may open it. Do not bridge a write-protect pin on a live board.`

type restoreOptions struct {
	port, keep   string
	back, forget bool
}

func newRestore(a *app) *cobra.Command {
	var o restoreOptions
	cmd := &cobra.Command{
		Use:   "restore DUMP",
		Short: "Write a saved EDID back into a display's own store",
		Long: `Writes an EDID of one or two blocks into the store of the display at a port. It
is the only verb that changes anything on a display.

What the store holds is saved first and compared again before the first byte is
written. The write needs a typed line that names the bus and the display; only
a bus that is certain to lead to a display is written to. It goes page by page,
is read back twice, and is undone where it does not hold. A display may forbid
it by a write-protect pin or in its firmware, which is said then.

A write that broke off is named at the next start: --back puts the old content
back, --forget gives it up (the saved dump stays).

` + restoreCautions,
		Example: `  deadhop restore scaler.bin --port bus:i2c-5
  deadhop restore --back --port bus:i2c-5       after a write that broke off`,
		Args: func(cmd *cobra.Command, args []string) error {
			if o.back || o.forget {
				return exactly()(cmd, args)
			}
			return exactly("the dump to restore")(cmd, args)
		},
		RunE: func(cmd *cobra.Command, args []string) error {
			if o.back && o.forget {
				return &usageError{cmd.CommandPath(), errors.New("--back and --forget exclude each other")}
			}
			if o.port == "" {
				return &usageError{cmd.CommandPath(), errors.New("--port is missing: a write is never aimed by guess")}
			}
			jobs, err := writeJobs(o.keep)
			switch {
			case err != nil:
				return err
			case o.forget:
				return a.forgetWrite(jobs, o.port)
			case o.back:
				return a.restoreBack(cmd.Context(), jobs, o.port)
			}
			return a.restore(cmd.Context(), jobs, args[0], o.port)
		},
	}
	f := cmd.Flags()
	f.StringVar(&o.port, "port", "", "port with the display: bus:... or out:...")
	f.StringVar(&o.keep, "keep", "", "folder for the saved content (usually ~/.local/state/deadhop/restore)")
	f.BoolVar(&o.back, "back", false, "put back what a write that broke off had found")
	f.BoolVar(&o.forget, "forget", false, "give up a write that broke off; its saved dump stays")
	return cmd
}

// writeJobs is where writes and their ways back are kept.
func writeJobs(folder string) (*ddc.WriteJobs, error) {
	if folder != "" {
		return &ddc.WriteJobs{Dir: folder}, nil
	}
	state := os.Getenv("XDG_STATE_HOME")
	if state == "" {
		home, err := os.UserHomeDir()
		if err != nil {
			return nil, badInputf("no folder for the saved content, name one with --keep: %w", err)
		}
		state = filepath.Join(home, ".local", "state")
	}
	return &ddc.WriteJobs{Dir: filepath.Join(state, "deadhop", "restore")}, nil
}

func (a *app) restore(ctx context.Context, jobs *ddc.WriteJobs, source, portName string) error {
	if isPortName(source) {
		return badInputf("%s is a port: only a saved dump is restored", source)
	}
	if source == "-" {
		return badInputf("standard input is for the typed confirmation: name the dump's file")
	}
	in, err := a.readEDID(ctx, source, 1)
	if err != nil {
		return err
	}
	fresh, err := edid.Decode(in.bytes)
	switch n := len(in.bytes); {
	case err != nil:
		return badInputf("%s: %w", in.name, err)
	case n != edid.BlockSize && n != 2*edid.BlockSize:
		return badInputf("%s: %d bytes: a store of 128 or 256 bytes can be written", in.name, n)
	case !fresh.ChecksumsGood():
		return badInputf("%s: a checksum is wrong: `deadhop repair` proposes what to do", in.name)
	}
	port, bus, done, err := a.openForWriting(ctx, portName)
	if err != nil {
		return err
	}
	defer done()
	if job, err := unfinishedAt(jobs, port.Info().ID); err != nil {
		return err
	} else if job != nil {
		return badInputf("a write to %s broke off before: finish that first with `deadhop restore --back --port %s`, or give it up with --forget", job.Port, job.Port)
	}
	old, err := a.oldContent(ctx, bus, len(in.bytes))
	if err != nil {
		return fmt.Errorf("read what %s holds: %w", port.Info().ID, err)
	}
	if bytes.Equal(old, in.bytes) {
		fmt.Fprintf(a.out, "%s holds this EDID already: nothing is written.\n", port.Info().ID)
		return nil
	}
	job := ddc.WriteJob{Port: port.Info().ID, Display: modelOf(fresh), Old: old, New: in.bytes}
	holds := "nothing that names a display"
	if e, err := edid.Decode(old); err == nil && soundBase(old) {
		job.Display, holds = modelOf(e), e.Identity().String()
	}
	dump, err := saveDump(jobs, &job)
	if err != nil {
		return err
	}
	fmt.Fprintf(a.out, "Before a display's store is written:\n%s\n\n", restoreCautions)
	fmt.Fprintf(a.out, "At %s   %s\n", job.Port, holds)
	fmt.Fprintf(a.out, "To write   %s, %d bytes, %d of them other than now\n", fresh.Identity(), len(job.New), len(differentAt(old, in.bytes)))
	fmt.Fprintf(a.out, "Saved      what it holds now, as %s\n", dump)
	if err := a.confirm(ctx, job.Phrase(), "write"); err != nil {
		return err
	}
	if err := jobs.Save(job); err != nil {
		return fmt.Errorf("keep the way back: %w", err)
	}
	// From here on Ctrl-C must not stop it halfway.
	ctx, cancel := context.WithTimeout(context.WithoutCancel(ctx), writeTime)
	defer cancel()
	fmt.Fprintln(a.out, "Writing; do not unplug anything.")
	report, err := ddc.WriteEDID(ctx, bus, jobs, job, job.Phrase())
	a.logAttempts(ddc.Downstream{Port: job.Port, Log: report.Log})
	if errors.Is(err, ddc.ErrNoDump) {
		// Seen before the first byte was written: there is nothing to go back from.
		return errors.Join(fmt.Errorf("nothing was written to %s: %w", job.Port, err), os.Remove(filepath.Join(jobs.Dir, job.Name())))
	}
	return a.afterWrite(&job, report, err)
}

func (a *app) afterWrite(job *ddc.WriteJob, r ddc.WriteReport, err error) error {
	switch {
	case err == nil:
		fmt.Fprintf(a.out, "Written in %d pages and read back twice. Unplug the display and plug it in again, so that the source reads it anew.\n", r.Pages)
		return nil
	case errors.Is(err, ddc.ErrNotWritten):
		fmt.Fprintf(a.out, "Not written: %v.\n", err)
		if r.RolledBack || bytes.Equal(r.ReadBack, job.Old) {
			fmt.Fprintln(a.out, "The store holds what it held before.")
		}
		return finish(exitFault)
	}
	return fmt.Errorf("the write to %s did not end: %w\nPut the old content back with: deadhop restore --back --port %s", job.Port, err, job.Port)
}

// openForWriting opens a port's bus if it is certain to be a display's.
func (a *app) openForWriting(ctx context.Context, portName string) (port ddc.Port, bus ddc.Bus, done func(), err error) {
	bench, simulated, err := a.openBench(ctx)
	if err != nil {
		return nil, nil, nil, err
	}
	port, err = findPort(ctx, bench, portName, nil)
	switch {
	case err != nil:
	case port.Info().Kind == ddc.InPort:
		err = badInputf("%s is a receiver: it has no display's store. To show an EDID there, use `deadhop present`", portName)
	case simulated != nil:
		err = cannotDo("write a display's store", port, "a simulated bench has no display that keeps what is written")
	default:
		if bus, err = ddc.Writable(port); err != nil {
			err = fmt.Errorf("%s is not written to: %w", portName, err)
		}
	}
	if err != nil {
		bench.Close()
		return nil, nil, nil, err
	}
	return port, bus, func() {
		if c, ok := bus.(io.Closer); ok {
			c.Close()
		}
		bench.Close()
	}, nil
}

// oldContent reads as many bytes as are to be written, whatever the damaged
// content announces.
func (a *app) oldContent(ctx context.Context, bus ddc.Bus, n int) ([]byte, error) {
	ctx, cancel := context.WithTimeout(ctx, lookTime)
	defer cancel()
	r, err := ddc.ReadEDID(ctx, bus, ddc.ReadOptions{Blocks: n / edid.BlockSize, Extra: 1})
	switch {
	case err != nil:
		return nil, err
	case len(r.Bytes) != n:
		return nil, &ddc.OpError{Op: fmt.Sprintf("read %d bytes", n), Addr: ddc.EDIDAddr, Kind: ddc.ErrBroken,
			Do: fmt.Sprintf("the store gave %d only: it may be smaller than the dump", len(r.Bytes))}
	}
	return r.Bytes, nil
}

// soundBase reports whether the base block can be believed.
func soundBase(b []byte) bool {
	var sum byte
	for _, v := range b[:edid.BlockSize] {
		sum += v
	}
	return sum == 0
}

// modelOf is a display's maker and product, which can always be typed.
func modelOf(e *edid.EDID) string {
	i := e.Identity()
	return fmt.Sprintf("%s %04X", i.Maker, i.Product)
}

// saveDump puts the old content beside the job as plain bytes, for other
// programs and other buses. The name holds its hash, so that a file of that
// name is the same dump.
func saveDump(jobs *ddc.WriteJobs, job *ddc.WriteJob) (string, error) {
	if err := os.MkdirAll(jobs.Dir, 0o755); err != nil {
		return "", badInputf("cannot save the old content: %w", err)
	}
	path := filepath.Join(jobs.Dir, strings.TrimSuffix(job.Name(), ".json")+".bin")
	if has, err := os.ReadFile(path); err == nil && bytes.Equal(has, job.Old) {
		return path, nil
	}
	return path, writeNew(path, job.Old)
}

// confirm wants the phrase typed.
func (a *app) confirm(ctx context.Context, phrase, what string) error {
	fmt.Fprintf(a.out, "\nTo %s, type this line; anything else leaves the display as it is:\n  %s\n> ", what, phrase)
	lines := make(chan string, 1)
	go func() {
		line, _ := bufio.NewReader(a.in).ReadString('\n')
		lines <- strings.TrimRight(line, "\r\n")
	}()
	select {
	case <-ctx.Done():
		fmt.Fprintln(a.out)
		return ctx.Err()
	case line := <-lines:
		if !a.interactive {
			fmt.Fprintln(a.out)
		}
		if line != phrase {
			return badInputf("%w: %q is not the line; nothing was written", ddc.ErrNotConfirmed, line)
		}
	}
	return nil
}

package main

import (
	"bytes"
	"context"
	"fmt"
	"os"
	"path/filepath"

	"github.com/spf13/cobra"

	"deadhop/ddc"
)

// storePage is the step in which a store is written.
const storePage = 8

// unfinishedAt finds the write to a port that broke off, nil where none did.
func unfinishedAt(jobs *ddc.WriteJobs, port string) (*ddc.WriteJob, error) {
	left, err := jobs.Unfinished()
	for i := range left {
		if left[i].Port == port {
			return &left[i], nil
		}
	}
	if err != nil {
		return nil, fmt.Errorf("read the saved writes: %w", err)
	}
	return nil, nil
}

// tellUnfinished names at the start of any other verb the writes that broke
// off, since a display may hold half of something.
func (a *app) tellUnfinished(cmd *cobra.Command) {
	if cmd.Name() == "restore" {
		return
	}
	jobs, err := writeJobs("")
	if err != nil {
		return // no home, so nothing was saved there
	}
	left, _ := jobs.Unfinished() // a file that cannot be read is told by restore
	for _, j := range left {
		fmt.Fprintf(a.err, "deadhop: the write to %s (%s) broke off. Put the old content back with: deadhop restore --back --port %s\n", j.Port, j.Display, j.Port)
	}
}

func (a *app) restoreBack(ctx context.Context, jobs *ddc.WriteJobs, portName string) error {
	job, err := unfinishedAt(jobs, portName)
	if err != nil {
		return err
	}
	if job == nil {
		return badInputf("no write to %s broke off. Where the port has another number now, restore the saved dump: the files are in %s", portName, jobs.Dir)
	}
	_, bus, done, err := a.openForWriting(ctx, portName)
	if err != nil {
		return err
	}
	defer done()
	now, err := a.oldContent(ctx, bus, len(job.Old))
	if err != nil {
		return fmt.Errorf("read what %s holds: %w", job.Port, err)
	}
	if n := foreignPages(now, job); n > 1 {
		return &ddc.OpError{Op: "put the old content back", Path: job.Port, Kind: ddc.ErrNotThere,
			Do: fmt.Sprintf("%d pages hold neither the old nor the new content: is this another display? Nothing was written", n)}
	}
	fmt.Fprintf(a.out, "Before a display's store is written:\n%s\n\n", restoreCautions)
	fmt.Fprintf(a.out, "A write to %s broke off. Of %d bytes, %d are other than before it.\n", job.Port, len(job.Old), len(differentAt(job.Old, now)))
	if err := a.confirm(ctx, job.Phrase(), "put the old content back"); err != nil {
		return err
	}
	ctx, cancel := context.WithTimeout(context.WithoutCancel(ctx), writeTime)
	defer cancel()
	fmt.Fprintln(a.out, "Writing; do not unplug anything.")
	report, err := ddc.RestoreOld(ctx, bus, jobs, *job)
	a.logAttempts(ddc.Downstream{Port: job.Port, Log: report.Log})
	if err != nil {
		return fmt.Errorf("%s: %w", job.Port, err)
	}
	fmt.Fprintf(a.out, "The old content is back: %d pages written, read back twice.\n", report.Pages)
	return nil
}

// foreignPages counts the pages that are neither the old nor the new ones. A
// write that broke off leaves one at most; more are another display's.
func foreignPages(now []byte, job *ddc.WriteJob) int {
	n := 0
	for at := 0; at+storePage <= len(now); at += storePage {
		page := now[at : at+storePage]
		if !bytes.Equal(page, job.Old[at:at+storePage]) && !bytes.Equal(page, job.New[at:at+storePage]) {
			n++
		}
	}
	return n
}

func (a *app) forgetWrite(jobs *ddc.WriteJobs, portName string) error {
	job, err := unfinishedAt(jobs, portName)
	if err != nil {
		return err
	}
	if job == nil {
		return badInputf("no write to %s broke off", portName)
	}
	dump, err := saveDump(jobs, job)
	if err != nil {
		return err
	}
	if err := os.Remove(filepath.Join(jobs.Dir, job.Name())); err != nil {
		return fmt.Errorf("forget the write: %w", err)
	}
	fmt.Fprintf(a.out, "Forgotten. What the display held before stays saved as %s\n", dump)
	return nil
}

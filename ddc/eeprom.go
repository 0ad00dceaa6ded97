package ddc

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"syscall"
	"time"
)

const (
	// eepromPage is the smallest page of the 2 kbit EEPROMs that hold EDIDs;
	// chips with larger pages take pages of this size too.
	eepromPage = 8
	// eepromCycle is how long a chip may be busy with a page: 5 ms is usual,
	// 10 ms the slowest that data sheets name (common practice, no source).
	// Meanwhile it does not acknowledge, which tells when it has finished.
	eepromCycle = 50 * time.Millisecond
	eepromPoll  = time.Millisecond
)

var (
	// ErrNotConfirmed means that the typed confirmation is not the phrase.
	ErrNotConfirmed = errors.New("not confirmed")
	// ErrNoDump means that the old content is not saved, or is not what the
	// display holds now.
	ErrNoDump = errors.New("the old content is not saved")
	// ErrNotWritten means that the display did not take the bytes.
	ErrNotWritten = errors.New("the display did not take the bytes")
)

// WriteReport is what a write did.
type WriteReport struct {
	Pages    int    // pages that were written, those of a way back included
	ReadBack []byte // what the store holds at the end
	// RolledBack means that the new bytes did not hold and that the old ones
	// were put back and read back right.
	RolledBack bool
	Log        []Attempt
}

// WriteEDID writes a display's own EDID store, block 0 and block 1 at most.
// It is the one function of this package that changes anything on a display.
//
// The job must be saved (WriteJobs.Save) before: it holds the old content,
// which must be what the display holds now, and stays unfinished until the
// new bytes, or the old ones again, have been read back twice. The typed
// confirmation must be the job's phrase. A display may forbid writing by a
// pin or by its firmware; ErrNotWritten says so.
//
// The bus must be a display's. That is the caller's to see to by taking it
// from a port; Writable tells.
func WriteEDID(ctx context.Context, bus Bus, store *WriteJobs, job WriteJob, typed string) (WriteReport, error) {
	w := eepromWriter{queries: queries{ctx: ctx, bus: bus}}
	if typed != job.Phrase() {
		return w.report(), fmt.Errorf("%w: type exactly %q", ErrNotConfirmed, job.Phrase())
	}
	if err := job.check(); err != nil {
		return w.report(), err
	}
	saved, err := store.load(job.Name())
	if err != nil || !bytes.Equal(saved.Old, job.Old) || !bytes.Equal(saved.New, job.New) {
		return w.report(), fmt.Errorf("%w: save the job first (%v)", ErrNoDump, err)
	}
	now := w.twice(len(job.Old))
	if w.err != nil {
		return w.report(), fmt.Errorf("read the old content again: %w", w.err)
	}
	if !bytes.Equal(now, job.Old) {
		return w.report(), fmt.Errorf("%w: the display holds other bytes than the dump; take a new one", ErrNoDump)
	}
	w.write(now, job.New)
	back := w.twice(len(job.New))
	switch {
	case w.err != nil:
		// Whatever was reached, the dump is on disk and the job unfinished.
		return w.report(), fmt.Errorf("%w; the old content is saved: restore it once the bus works again", w.err)
	case bytes.Equal(back, job.New):
		w.out.ReadBack = back
		return w.report(), store.finish(job)
	case bytes.Equal(back, job.Old):
		w.out.ReadBack = back
		return w.report(), errors.Join(notWritten(), store.finish(job))
	}
	r, err := w.goBack(store, job, back)
	if err == nil {
		err = fmt.Errorf("%w: what was read back differed, and the old content was put back", ErrNotWritten)
	}
	return r, err
}

// RestoreOld puts the old content of an unfinished job back, whatever the
// display holds now.
func RestoreOld(ctx context.Context, bus Bus, store *WriteJobs, job WriteJob) (WriteReport, error) {
	w := eepromWriter{queries: queries{ctx: ctx, bus: bus}}
	w.awaitReady(0) // the chip may still be busy with the last page
	now := w.twice(len(job.Old))
	if w.err != nil {
		return w.report(), fmt.Errorf("read what the display holds: %w", w.err)
	}
	return w.goBack(store, job, now)
}

func notWritten() error {
	return fmt.Errorf("%w: a write-protect pin or its firmware forbids it", ErrNotWritten)
}

// goBack writes the old content over what is there.
func (w *eepromWriter) goBack(store *WriteJobs, job WriteJob, now []byte) (WriteReport, error) {
	w.write(now, job.Old)
	back := w.twice(len(job.Old))
	if w.err != nil {
		return w.report(), fmt.Errorf("put the old content back: %w; it stays saved", w.err)
	}
	w.out.ReadBack = back
	if !bytes.Equal(back, job.Old) {
		return w.report(), fmt.Errorf("put the old content back: %w; it stays saved", notWritten())
	}
	w.out.RolledBack = true
	return w.report(), store.finish(job)
}

// eepromWriter is one run of writing. After the first error it does nothing.
type eepromWriter struct {
	queries
	out WriteReport
}

func (w *eepromWriter) report() WriteReport {
	w.out.Log = w.log
	return w.out
}

// twice reads n bytes two times; they must agree before anything is judged or
// written by them.
func (w *eepromWriter) twice(n int) []byte {
	a, b := w.read(n), w.read(n)
	if w.err == nil && !bytes.Equal(a, b) {
		w.err = &OpError{Op: "read the store twice", Addr: EDIDAddr, Kind: ErrBroken, Err: syscall.EIO,
			Do: "the reads differ: mend the DDC lines before writing over them"}
	}
	return a
}

func (w *eepromWriter) read(n int) []byte {
	var all []byte
	for at := 0; at < n; at += blockLen {
		all = append(all, w.registers(EDIDAddr, byte(at), blockLen)...)
	}
	return all
}

// write brings the store from now to want, page by page where they differ.
func (w *eepromWriter) write(now, want []byte) {
	for at := 0; at+eepromPage <= len(want); at += eepromPage {
		page := want[at : at+eepromPage]
		if at+eepromPage <= len(now) && bytes.Equal(now[at:at+eepromPage], page) {
			continue
		}
		w.transfer([]Msg{{Addr: EDIDAddr, Data: append([]byte{byte(at)}, page...)}})
		if w.err != nil {
			if errors.Is(w.err, ErrBroken) || errors.Is(w.err, ErrNoAnswer) {
				// A protected chip may refuse the data byte: read back and
				// see what it holds instead of giving up here.
				w.err = nil
				return
			}
			w.err = fmt.Errorf("write page %d: %w", at/eepromPage, w.err)
			return
		}
		w.out.Pages++
		w.awaitReady(byte(at))
	}
}

// awaitReady polls for the acknowledge that ends the chip's write cycle.
func (w *eepromWriter) awaitReady(offset byte) {
	until := time.Now().Add(eepromCycle)
	for w.err == nil {
		w.transfer([]Msg{{Addr: EDIDAddr, Data: []byte{offset}}})
		if w.err == nil {
			return
		}
		busy := errors.Is(w.err, ErrNoAck) || errors.Is(w.err, ErrNoAnswer)
		if !busy || time.Now().After(until) || !sleep(w.ctx, eepromPoll) {
			w.err = fmt.Errorf("wait for the end of the page's write: %w", w.err)
			return
		}
		w.err = nil
	}
}

package main

import (
	"bufio"
	"context"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"runtime"
	"sync"
	"time"

	"deadhop/edid"
)

// decodeList expands folders. many is false for a single source, which gets
// the full view.
func decodeList(args []string) (files []string, many bool, err error) {
	many = len(args) > 1
	for _, arg := range args {
		info, err := os.Stat(arg)
		if err != nil || !info.IsDir() {
			if many && (arg == "-" || isPortName(arg)) {
				return nil, false, badInputf("%s: standard input and ports are decoded one at a time", arg)
			}
			files = append(files, arg)
			continue
		}
		many = true
		before := len(files)
		err = filepath.WalkDir(arg, func(path string, d fs.DirEntry, err error) error {
			if err == nil && d.Type().IsRegular() {
				files = append(files, path)
			}
			return err
		})
		if err != nil {
			return nil, false, badInputf("cannot read the folder: %w", err)
		}
		if len(files) == before {
			return nil, false, badInputf("the folder %s holds no files", arg)
		}
	}
	return files, many, nil
}

// lineReport is one EDID of many. Error is set where it is none.
type lineReport struct {
	Source  string `json:"source"`
	Verdict string `json:"verdict"`
	Who     string `json:"who,omitempty"`
	Issues  int    `json:"issues"`
	First   string `json:"gravest,omitempty"` // code of the gravest issue
	SHA256  string `json:"sha256,omitempty"`
	Error   string `json:"error,omitempty"`
	code    exitCode
}

type manyReport struct {
	Version int            `json:"version"`
	Files   []lineReport   `json:"files"`
	Summary map[string]int `json:"summary"` // files by verdict
}

const unreadable = "no EDID"

func (a *app) judgeFile(ctx context.Context, path string, threshold edid.Severity) lineReport {
	r := lineReport{Source: path, Verdict: unreadable, code: exitBadInput}
	in, err := a.readEDID(ctx, path, 1)
	if err != nil {
		r.Error = err.Error()
		return r
	}
	e, err := edid.Decode(in.bytes)
	if err != nil {
		r.Error = err.Error()
		return r
	}
	r.Verdict, r.code = "clean", exitPass
	r.Who, r.Issues, r.SHA256 = e.Identity().String(), len(e.Issues), hashOf(in.bytes)
	if w, any := e.Worst(); any {
		r.Verdict = w.String()
		for _, i := range e.Issues {
			if i.Severity == w {
				r.First = i.Code.String()
				break
			}
		}
		if w <= threshold {
			r.code = exitFault
		}
	}
	return r
}

// decodeMany judges the files on all processors and prints them in their
// order.
func (a *app) decodeMany(ctx context.Context, files []string, threshold edid.Severity) error {
	lines := make([]lineReport, len(files))
	next := make(chan int)
	var wg sync.WaitGroup
	var done progress
	done.start(a, len(files))
	for range runtime.GOMAXPROCS(0) {
		wg.Go(func() {
			for i := range next {
				lines[i] = a.judgeFile(ctx, files[i], threshold)
				done.add()
			}
		})
	}
	for i := range files {
		if ctx.Err() != nil {
			break
		}
		next <- i
	}
	close(next)
	wg.Wait()
	done.stop()
	if ctx.Err() != nil {
		return ctx.Err()
	}
	report := manyReport{Version: 1, Files: lines, Summary: map[string]int{}}
	codes := []exitCode{exitPass}
	for _, l := range lines {
		report.Summary[l.Verdict]++
		codes = append(codes, l.code)
	}
	if a.json {
		if err := a.printJSON(report); err != nil {
			return err
		}
	} else {
		a.printMany(report)
	}
	return finish(worst(codes...))
}

func (a *app) printMany(r manyReport) {
	w := bufio.NewWriter(a.out)
	defer w.Flush()
	for _, l := range r.Files {
		switch {
		case l.Error != "":
			fmt.Fprintf(w, "%s: %s\n", l.Source, l.Error)
		case l.First != "":
			fmt.Fprintf(w, "%s: %s (%s); %s\n", l.Source, l.Verdict, l.First, l.Who)
		default:
			fmt.Fprintf(w, "%s: %s; %s\n", l.Source, l.Verdict, l.Who)
		}
	}
	fmt.Fprintf(w, "%d files:", len(r.Files))
	words := []string{"clean"}
	for s := edid.BreaksPicture; s <= edid.Note; s++ {
		words = append(words, s.String())
	}
	sep := " "
	for _, v := range append(words, unreadable) {
		if n := r.Summary[v]; n > 0 {
			fmt.Fprintf(w, "%s%d %s", sep, n, v)
			sep = ", "
		}
	}
	fmt.Fprintln(w)
}

// progress counts on standard error while long work runs in a terminal.
type progress struct {
	mu      sync.Mutex
	a       *app
	n, all  int
	shown   time.Time
	printed bool
}

func (p *progress) start(a *app, all int) { p.a, p.all, p.shown = a, all, time.Now() }

func (p *progress) add() {
	p.mu.Lock()
	defer p.mu.Unlock()
	p.n++
	if !p.a.interactive || time.Since(p.shown) < 200*time.Millisecond {
		return
	}
	p.shown, p.printed = time.Now(), true
	fmt.Fprintf(p.a.err, "\r%d of %d", p.n, p.all)
}

func (p *progress) stop() {
	if p.printed {
		fmt.Fprint(p.a.err, "\r                    \r")
	}
}

package main

import (
	"context"
	"errors"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"deadhop/ddc"
	"deadhop/edid/timing"
)

// fakeLink is a sender and a receiver with a path between them that spoils a
// pixel from one clock on and gives nothing from another one on. It stands in
// for two real ports with a cable between, which no virtual machine has: the
// comparison itself is run on real drivers in package ddc.
type fakeLink struct {
	spoils, silent, beyond float64 // Hz; 0 is never
	clock                  float64
	shown                  ddc.Frame
	open                   int
	none                   bool // nothing arrives at all
	grabs, breaksAfter     int
}

func (f *fakeLink) drive(_ context.Context, t timing.Timing) (*sending, error) {
	if f.beyond > 0 && t.PixelClock.Float() >= f.beyond {
		return nil, &ddc.OpError{Op: "set a mode", Kind: ddc.ErrUnsupported}
	}
	f.open++
	f.clock = t.PixelClock.Float()
	return &sending{int(t.H.Active), int(t.FrameActive()),
		func(p ddc.Frame) error { f.shown = p; return nil },
		func() error { f.open--; return nil }}, nil
}

func (f *fakeLink) Info() ddc.PortInfo                            { return ddc.PortInfo{ID: "in:fake", Kind: ddc.InPort} }
func (f *fakeLink) PresentEDID(context.Context, []byte) error     { return nil }
func (f *fakeLink) PresentedEDID(context.Context) ([]byte, error) { return nil, nil }
func (f *fakeLink) reaches() bool                                 { return !f.none && (f.silent == 0 || f.clock < f.silent) }
func (f *fakeLink) LookUp(context.Context, ddc.UpOptions) (u ddc.Upstream) {
	u.Signal = ddc.Got(ddc.Locked)
	if !f.reaches() {
		u.Signal = ddc.Got(ddc.NoSignal)
		u.Timing = ddc.CannotMeasure[timing.Timing](&ddc.OpError{Op: "measure", Kind: ddc.ErrNoSignal})
	}
	return u
}

func (f *fakeLink) Grab(_ context.Context, n int) ([]ddc.Frame, error) {
	if !f.reaches() {
		return nil, errors.New("grabbed without a signal")
	}
	if f.grabs++; f.breaksAfter > 0 && f.grabs > f.breaksAfter {
		return nil, errors.New("no frames")
	}
	var all []ddc.Frame
	for i := range n {
		got := f.shown
		got.RGB = slices.Clone(got.RGB)
		if f.spoils > 0 && f.clock >= f.spoils && i == n-1 {
			got.RGB[3*100] ^= 0x80 // red of pixel 100, in the last frame
		}
		if i < staleFrames {
			clear(got.RGB) // what was there before must not count
		}
		all = append(all, got)
	}
	return all, nil
}

func climb(t *testing.T, f *fakeLink, asked bool, labels ...string) (*loopReport, exitCode) {
	t.Helper()
	var steps []givenTiming
	for _, l := range labels {
		s, err := timing.ParseStandard(l)
		require.NoError(t, err)
		steps = append(steps, givenTiming{Timing: s.Timing})
	}
	l := loopRun{drive: f.drive, in: f, frames: 2, asked: asked, progress: func(givenTiming) {}}
	r, err := l.run(context.Background(), steps)
	require.NoError(t, err)
	assert.Zero(t, f.open, "each step gives the screen back")
	return r, l.code(r)
}

func states(r *loopReport) (all []string) {
	for _, s := range r.Steps {
		all = append(all, s.State)
	}
	return all
}

func TestLoopClearsAGoodPath(t *testing.T) {
	r, code := climb(t, &fakeLink{}, true, "VIC 1", "VIC 4")
	assert.Equal(t, exitPass, code)
	assert.Equal(t, []string{loopSame, loopSame}, states(r))
	p := r.Steps[1].Pictures[1]
	assert.Equal(t, "alternate", p.Picture)
	assert.Equal(t, 2*1280*720, p.Pixels)
	// With no event among n, the 95 % bound is -ln(0.05)/n: 2.9957/n, the
	// "rule of three".
	assert.InEpsilon(t, 2.9957/float64(p.Pixels), p.Bound, 1e-4)
}

func TestLoopConvictsAPathThatFailsAboveAClock(t *testing.T) {
	r, code := climb(t, &fakeLink{spoils: 70e6}, false, "VIC 1", "VIC 4")
	assert.Equal(t, exitFault, code)
	assert.Equal(t, []string{loopSame, loopDifferent}, states(r))
	for _, p := range r.Steps[1].Pictures {
		assert.Equal(t, 1, p.Wrong, p.Picture)
		assert.Equal(t, [3]int{1, 0, 0}, p.Lanes, "the red lane")
	}
	r, code = climb(t, &fakeLink{silent: 70e6}, false, "VIC 1", "VIC 4")
	assert.Equal(t, exitFault, code)
	assert.Equal(t, []string{loopSame, loopNoLock}, states(r))
}

// A proven fault stands whatever could not be measured after it.
func TestLoopKeepsAFaultThatWasSeen(t *testing.T) {
	f := &fakeLink{spoils: 1, breaksAfter: 1}
	r, code := climb(t, f, true, "VIC 1")
	assert.Equal(t, exitFault, code)
	assert.Equal(t, []string{loopDifferent}, states(r))
	assert.Contains(t, r.Steps[0].Why, "no frames")
	_, code = climb(t, &fakeLink{silent: 70e6}, true, "VIC 4", "VIC 1")
	assert.Equal(t, exitFault, code, "downhill too")
}

func TestLoopAccusesNobodyWhereNothingArrives(t *testing.T) {
	r, code := climb(t, &fakeLink{none: true}, false, "VIC 1", "VIC 4")
	assert.Equal(t, exitCannotTest, code)
	assert.Equal(t, []string{loopNoLock, loopNoLock}, states(r))
}

func TestLoopCountsAStepBeyondThePortsOnlyWhereItWasAskedFor(t *testing.T) {
	for asked, want := range map[bool]exitCode{false: exitPass, true: exitCannotTest} {
		r, code := climb(t, &fakeLink{beyond: 70e6}, asked, "VIC 1", "VIC 4")
		assert.Equal(t, want, code)
		assert.Equal(t, []string{loopSame, loopUnable}, states(r))
	}
	_, code := climb(t, &fakeLink{beyond: 1}, false, "VIC 1", "VIC 4")
	assert.Equal(t, exitCannotTest, code, "no step at all is no pass")
}

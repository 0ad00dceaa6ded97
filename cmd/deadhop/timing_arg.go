package main

import (
	"cmp"
	"context"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"time"

	"github.com/spf13/pflag"

	"deadhop/chain"
	"deadhop/ddc"
	"deadhop/edid"
	"deadhop/edid/timing"
)

// timingHelp says how a timing is given, for the help of every verb that
// takes one.
const timingHelp = `A TIMING is one of:
  "VIC 16", "DMT 0x52", "HDMI VIC 1"    a code of a published table
  1920x1080@60, 1920x1080i@59.94        a size and rate out of those tables
  cvt:1366x768@60, gtf:1024x768@75      a formula; also cvt-rb, cvt-rb2, cvt-rb3
  "1920x1080 60 Hz, 148.5 MHz, H 2200 (88+44+148) +, V 1125 (4+5+36) +"
                                        all its numbers: total (front porch +
                                        sync + back porch) sync polarity
  measured.yaml                         all its numbers in a file, with units
  looks/c2.display-up.json              what a saved look measured
  in:video0                             what a receiver measures now
  edid:FILE, edid:out:HDMI-A-1          what an EDID asks for`

// usualErrorPPM is what the clock measurement of a receiver is taken to be
// good to where nobody says better: two crystals of 50 ppm each, the source's
// and the receiver's own (common practice, no source).
const usualErrorPPM = 100

// givenTiming is a timing as the user gave it.
type givenTiming struct {
	timing.Timing
	// from says where a timing comes from that has no name of its own.
	from string
	// ppm is the error of the measurement, 0 where nothing was measured.
	ppm float64
}

// words are the timing and, where it was measured, where and how well.
func (g givenTiming) words() string {
	switch {
	case g.ppm > 0:
		return fmt.Sprintf("%s (%s, good to %s ppm)", g.Timing, g.from, strconv.FormatFloat(g.ppm, 'f', -1, 64))
	case g.from != "":
		return fmt.Sprintf("%s (%s)", g.Timing, g.from)
	}
	return g.Timing.String()
}

// errorFlag adds --error to a verb that takes a measured timing.
func errorFlag(fs *pflag.FlagSet, text *string) {
	fs.StringVar(text, "error", "", fmt.Sprintf("how good the measurement of the clock is, such as \"250 ppm\" (%d ppm for a look or a port)", usualErrorPPM))
}

// readTiming reads a timing in any of its forms. errorText is --error.
func (a *app) readTiming(ctx context.Context, text, errorText string) (givenTiming, error) {
	g, err := a.anyTiming(ctx, text)
	if err == nil && errorText != "" {
		g.ppm, err = parsePPM(errorText)
		if err != nil {
			return g, badInputf("--error: %w", err)
		}
		if g.from == "" {
			g.from = "given"
		}
	}
	if err != nil {
		return g, err
	}
	if err := g.Validate(); err != nil {
		return g, badInputf("%s: %w", text, err)
	}
	return g, nil
}

func (a *app) anyTiming(ctx context.Context, text string) (givenTiming, error) {
	name, isEDID := strings.CutPrefix(text, "edid:")
	switch ext := filepath.Ext(text); {
	case isEDID:
		return a.preferredTiming(ctx, name)
	case isPortName(text):
		return a.incomingTiming(ctx, text)
	case ext == ".yaml" || ext == ".yml":
		return readTimingFile(text)
	case ext == ".json":
		return savedTiming(text)
	}
	var t timing.Timing
	var err error
	formula, mode, isFormula := strings.Cut(text, ":")
	switch {
	case strings.Contains(text, "Hz,"):
		t, err = parseFullTiming(text)
	case isFormula:
		t, err = parseFormula(formula, mode)
	case strings.Contains(text, "@"):
		t, err = parseSizeRate(text)
	default:
		var s timing.Standard
		s, err = timing.ParseStandard(text)
		t = s.Timing
		if err != nil && !standardLabel.MatchString(text) {
			err = fmt.Errorf("%q is no timing: write a code (VIC 16), a size and rate (1920x1080@60), all its numbers, a file or a port", text)
		}
	}
	return givenTiming{Timing: t}, badInput(err)
}

var standardLabel = regexp.MustCompile(`^(HDMI VIC|VIC|DMT)\b`)

func parsePPM(text string) (float64, error) {
	number, unit, _ := strings.Cut(strings.TrimSpace(text), " ")
	v, err := strconv.ParseFloat(number, 64)
	switch {
	case unit != "ppm":
		return 0, fmt.Errorf("%q: write a number, a space and ppm", text)
	case err != nil || math.IsNaN(v) || v < 0 || v > 100_000:
		return 0, fmt.Errorf("%q: 0 to 100000 ppm are possible", text)
	}
	return v, nil
}

func (a *app) preferredTiming(ctx context.Context, source string) (givenTiming, error) {
	in, err := a.readEDID(ctx, source, 2)
	if err != nil {
		return givenTiming{}, err
	}
	e, err := edid.Decode(in.bytes)
	if err != nil {
		return givenTiming{}, badInputf("%s: %w", in.name, err)
	}
	t, ok := e.Preferred()
	if !ok {
		return givenTiming{}, badInputf("%s: this EDID asks for no timing", in.name)
	}
	return givenTiming{Timing: t, from: "asked for by " + in.name}, nil
}

// incomingTiming measures what comes into a receiver. It shows the source
// nothing new: the question is what is sent now.
func (a *app) incomingTiming(ctx context.Context, id string) (givenTiming, error) {
	bench, _, err := a.openBench(ctx)
	if err != nil {
		return givenTiming{}, err
	}
	defer bench.Close()
	port, err := findPort(ctx, bench, id, nil)
	if err != nil {
		return givenTiming{}, err
	}
	in, ok := port.(ddc.In)
	if !ok {
		return givenTiming{}, badInputf("%s is no receiver: only an in: port measures a timing. For what a display asks for, write edid:%s", id, id)
	}
	ctx, cancel := context.WithTimeout(ctx, lookTime)
	defer cancel()
	seen := in.LookUp(ctx, ddc.UpOptions{Settle: time.Second, Frames: -1})
	switch {
	case seen.Timing.State == ddc.Known:
		return givenTiming{Timing: seen.Timing.V, from: "measured at " + id, ppm: usualErrorPPM}, nil
	case seen.Timing.Err != nil:
		return givenTiming{}, fmt.Errorf("no timing from %s: %w", id, seen.Timing.Err)
	}
	return givenTiming{}, fmt.Errorf("no timing from %s: %w", id, ddc.ErrUnsupported)
}

func savedTiming(file string) (givenTiming, error) {
	data, err := os.ReadFile(file)
	if err != nil {
		return givenTiming{}, badInputf("cannot read the look: %w", err)
	}
	l, err := chain.ParseLook(file, data)
	if err != nil {
		return givenTiming{}, badInput(err)
	}
	switch {
	case l.Up == nil:
		return givenTiming{}, badInputf("%s: this look was taken looking down, where no timing comes in", file)
	case l.Up.Timing.State != chain.Measured:
		return givenTiming{}, badInputf("%s: no timing was measured in this look: %s", file, why(l.Up.Timing))
	}
	return givenTiming{Timing: l.Up.Timing.Value, from: "measured at " + l.Plug, ppm: usualErrorPPM}, nil
}

var sizeRate = regexp.MustCompile(`^(\d{1,5})x(\d{1,5})(i?)@(\d{1,4}(?:\.\d{1,6})?)(m?)$`)

// mode is a size with its rate: of fields where it is interlaced, as a
// timing's name has it.
type mode struct {
	width, height uint32
	interlaced    bool
	rate          timing.Freq
	margins       bool
}

func parseMode(text string) (mode, error) {
	m := sizeRate.FindStringSubmatch(text)
	if m == nil {
		return mode{}, fmt.Errorf("%q is no size and rate: write them as 1920x1080@60 or 1920x1080i@59.94", text)
	}
	w, _ := strconv.ParseUint(m[1], 10, 32) // the pattern lets only digits through
	h, _ := strconv.ParseUint(m[2], 10, 32)
	rate, err := timing.ParseFreq(m[4] + " Hz")
	if err != nil {
		return mode{}, fmt.Errorf("%q: %w", text, err)
	}
	return mode{uint32(w), uint32(h), m[3] != "", rate, m[5] != ""}, nil
}

func parseFormula(formula, text string) (timing.Timing, error) {
	blanking, isCVT := map[string]timing.CVTBlanking{"cvt": timing.CVTStandard, "cvt-rb": timing.CVTReduced1,
		"cvt-rb2": timing.CVTReduced2, "cvt-rb3": timing.CVTReduced3}[formula]
	if !isCVT && formula != "gtf" {
		return timing.Timing{}, fmt.Errorf("%q is no formula: wanted cvt, cvt-rb, cvt-rb2, cvt-rb3 or gtf", formula)
	}
	m, err := parseMode(text)
	if err != nil {
		return timing.Timing{}, err
	}
	r := timing.Request{Width: m.width, Height: m.height, Rate: m.rate, Interlaced: m.interlaced, Margins: m.margins}
	if m.interlaced {
		r.Rate = m.rate.Div(2) // the formulas take the rate of frames
	}
	if isCVT {
		return timing.CVT(r, blanking)
	}
	return timing.GTF(r, nil)
}

// parseSizeRate finds the timing of that size and rate in the published
// tables. A rate written out to a decimal is met to half of the second one; a
// whole one is the name of a mode, as in DMT's 1366x768 at 60 Hz, which runs
// at 59.79 Hz. Where a format has a 1000/1001 partner, the nearer one is meant.
func parseSizeRate(text string) (timing.Timing, error) {
	m, err := parseMode(text)
	if err != nil {
		return timing.Timing{}, err
	}
	_, den := m.rate.Fraction()
	within := 0.5
	if den > 1 {
		within = 0.005
	}
	off := func(t timing.Timing) float64 { return math.Abs(t.FieldRate().Float() - m.rate.Float()) }
	var all, hits []timing.Standard
	for _, source := range []timing.Source{timing.SourceCTA, timing.SourceHDMI, timing.SourceDMT, timing.SourceEstablished} {
		for _, s := range timing.Standards(source) {
			if s.Timing.H.Active != m.width || s.Timing.FrameActive() != m.height || s.Timing.Interlaced != m.interlaced {
				continue
			}
			if twin, ok := s.Twin(); ok && off(twin.Timing) < off(s.Timing) {
				s = twin
			}
			all = append(all, s)
			if off(s.Timing) <= within && !slices.ContainsFunc(hits, func(h timing.Standard) bool { return h.Timing == s.Timing }) {
				hits = append(hits, s)
			}
		}
	}
	switch {
	case len(all) == 0:
		return timing.Timing{}, fmt.Errorf("%q: no published table has that size. Use a formula, such as cvt-rb:%s, or give all its numbers", text, text)
	case len(hits) == 0:
		near := slices.MinFunc(all, func(a, b timing.Standard) int { return cmp.Compare(off(a.Timing), off(b.Timing)) })
		return timing.Timing{}, fmt.Errorf("%q: no published table has that rate at that size; the nearest is %s (%s)", text, near.Label(), near.Timing)
	case len(hits) > 1:
		var labels []string
		for _, h := range hits {
			labels = append(labels, fmt.Sprintf("%s (%s)", h.Label(), h.Timing))
		}
		return timing.Timing{}, fmt.Errorf("%q is the name of several timings; say which: %s", text, strings.Join(labels, "; "))
	}
	return hits[0].Timing, nil
}

package main

import (
	"errors"
	"fmt"
	"math"
	"os"
	"regexp"
	"strconv"
	"strings"

	"deadhop/edid/timing"
	"deadhop/edid/yamlfile"
)

// axisNumbers are the numbers of one axis as a user gave them: signed, and
// not yet agreeing with each other.
type axisNumbers struct {
	active, total, front, sync, back int64
	hasTotal, hasBack                bool // one of the two may be left out
	positive                         bool
}

// wrongNumber is a number that no axis can have, with its key.
type wrongNumber struct{ key, msg string }

func (w *wrongNumber) Error() string { return w.msg }

// axis makes the axis, or says which number is wrong. name is "H" or "V".
func (n axisNumbers) axis(name, unit string) (timing.Axis, error) {
	wrong := func(key, format string, args ...any) (timing.Axis, error) {
		return timing.Axis{}, &wrongNumber{key, fmt.Sprintf(format, args...)}
	}
	for _, x := range []struct {
		key, name string
		v         int64
		needed    bool // above 0
	}{{"active", "active", n.active, true}, {"total", "total", n.total, n.hasTotal}, {"front_porch", "front porch", n.front, false},
		{"sync", "sync", n.sync, true}, {"back_porch", "back porch", n.back, false}} {
		switch {
		case x.v < 0:
			return wrong(x.key, "%s %s of %d %s is negative", name, x.name, x.v, unit)
		case x.v == 0 && x.needed:
			return wrong(x.key, "%s %s is 0", name, x.name)
		case x.v > math.MaxUint16:
			return wrong(x.key, "%s %s of %d %s is above 65535", name, x.name, x.v, unit)
		}
	}
	if n.hasTotal {
		blank := n.total - n.active
		used := n.front + n.sync
		switch {
		case blank <= 0:
			return wrong("total", "%s total of %d %s leaves no blanking beside %d active ones", name, n.total, unit, n.active)
		case n.sync > blank:
			return wrong("sync", "%s sync of %d %s is longer than the blanking of %d %s", name, n.sync, unit, blank, unit)
		case used > blank:
			return wrong("front_porch", "%s front porch and sync, %d %s, are longer than the blanking of %d %s", name, used, unit, blank, unit)
		case n.hasBack && used+n.back != blank:
			return wrong("total", "%s total of %d %s is not %d + %d + %d + %d = %d", name, n.total, unit, n.active, n.front, n.sync, n.back, n.active+used+n.back)
		}
		n.back = blank - used
	}
	return timing.Axis{Active: uint32(n.active), Front: uint32(n.front), Sync: uint32(n.sync), Back: uint32(n.back), Positive: n.positive}, nil
}

var fullTiming = regexp.MustCompile(`^(\d{1,5})x(\d{1,5})(i?)(?: ([\d.]+) Hz)?, ([^,]+), ` +
	`H (-?\d{1,9}) \((-?\d{1,9})\+(-?\d{1,9})\+(-?\d{1,9})\) ([+-]), V (-?\d{1,9}) \((-?\d{1,9})\+(-?\d{1,9})\+(-?\d{1,9})\) ([+-])` +
	`(, half line a field)?(?:, each pixel sent (\d{1,2}) times)?$`)

// parseFullTiming reads what [timing.Timing.String] writes. The rate follows
// from the other numbers and may be left out; where it is given it has to
// agree.
func parseFullTiming(text string) (timing.Timing, error) {
	m := fullTiming.FindStringSubmatch(text)
	if m == nil {
		return timing.Timing{}, fmt.Errorf("%q: wanted all numbers in the form \"1920x1080, 148.5 MHz, H 2200 (88+44+148) +, V 1125 (4+5+36) +\"", text)
	}
	number := func(i int) int64 {
		v, _ := strconv.ParseInt(m[i], 10, 64) // the pattern lets only numbers through
		return v
	}
	clock, err := timing.ParseFreq(m[5])
	if err != nil {
		return timing.Timing{}, fmt.Errorf("pixel clock: %w", err)
	}
	t := timing.Timing{PixelClock: clock, Interlaced: m[3] != "", HalfLine: m[16] != "", Repeat: 1}
	if m[17] != "" {
		t.Repeat = uint8(number(17))
	}
	v := axisNumbers{active: number(2), total: number(11), front: number(12), sync: number(13), back: number(14), hasTotal: true, hasBack: true, positive: m[15] == "+"}
	if t.Interlaced {
		if v.active%2 != 0 {
			return timing.Timing{}, fmt.Errorf("%q: an interlaced frame has an even number of active lines", text)
		}
		v.active /= 2 // the numbers behind V are those of a field
	}
	h := axisNumbers{active: number(1), total: number(6), front: number(7), sync: number(8), back: number(9), hasTotal: true, hasBack: true, positive: m[10] == "+"}
	if t.H, err = h.axis("H", "px"); err != nil {
		return timing.Timing{}, err
	}
	if t.V, err = v.axis("V", "lines"); err != nil {
		return timing.Timing{}, err
	}
	if m[4] != "" {
		rate, err := timing.ParseFreq(m[4] + " Hz")
		if err != nil {
			return timing.Timing{}, err
		}
		if is := t.FieldRate(); math.Abs(is.Float()-rate.Float()) > 0.01 {
			return timing.Timing{}, fmt.Errorf("%s over %d x %d gives %s Hz and not %s Hz", t.PixelClock, t.H.Total(), t.V.Total(), is.InDecimals(1, 3), m[4])
		}
	}
	return t, nil
}

type axisYAML struct {
	Active   string `yaml:"active"`
	Total    string `yaml:"total"`
	Front    string `yaml:"front_porch"`
	Sync     string `yaml:"sync"`
	Back     string `yaml:"back_porch"`
	Polarity string `yaml:"polarity"`
}

// timingYAML is a timing in a file, as measured or as a sheet gives it. The
// numbers of v are those of a field where it is interlaced.
type timingYAML struct {
	PixelClock string   `yaml:"pixel_clock"`
	Error      string   `yaml:"error"`
	H          axisYAML `yaml:"h"`
	V          axisYAML `yaml:"v"`
	Interlaced bool     `yaml:"interlaced"`
	HalfLine   bool     `yaml:"half_line"`
}

func readTimingFile(file string) (givenTiming, error) {
	data, err := os.ReadFile(file)
	if err != nil {
		return givenTiming{}, badInputf("cannot read the timing: %w", err)
	}
	var w timingYAML
	f, err := yamlfile.Decode(file, data, &w)
	if err != nil {
		return givenTiming{}, badInput(err)
	}
	g := givenTiming{Timing: timing.Timing{Interlaced: w.Interlaced, HalfLine: w.HalfLine, Repeat: 1}, from: "from " + file}
	var errs []error
	fail := func(path string, err error) { errs = append(errs, f.Errorf(path, "%v", err)) }
	if g.PixelClock, err = timing.ParseFreq(w.PixelClock); err != nil {
		fail("$.pixel_clock", fmt.Errorf("pixel_clock: %w", err))
	}
	if w.Error != "" {
		if g.ppm, err = parsePPM(w.Error); err != nil {
			fail("$.error", fmt.Errorf("error: %w", err))
		}
	}
	for _, x := range []struct {
		path, name, unit string
		w                *axisYAML
		into             *timing.Axis
	}{{"$.h", "H", "px", &w.H, &g.H}, {"$.v", "V", "lines", &w.V, &g.V}} {
		if *x.into, err = x.w.axis(x.name, x.unit); err != nil {
			var at *wrongNumber
			errors.As(err, &at)
			fail(x.path+"."+at.key, err)
		}
	}
	return g, badInput(errors.Join(errs...))
}

func (w *axisYAML) axis(name, unit string) (timing.Axis, error) {
	n := axisNumbers{hasTotal: w.Total != "", hasBack: w.Back != ""}
	for _, x := range []struct {
		key, text string
		into      *int64
		needed    bool
	}{{"active", w.Active, &n.active, true}, {"total", w.Total, &n.total, w.Back == ""}, {"front_porch", w.Front, &n.front, true},
		{"sync", w.Sync, &n.sync, true}, {"back_porch", w.Back, &n.back, w.Total == ""}} {
		if x.text == "" {
			if x.needed {
				return timing.Axis{}, &wrongNumber{x.key, fmt.Sprintf("%s: %s is missing", name, x.key)}
			}
			continue
		}
		number, u, _ := strings.Cut(strings.TrimSpace(x.text), " ")
		v, err := strconv.ParseInt(number, 10, 64)
		switch {
		case err != nil:
			return timing.Axis{}, &wrongNumber{x.key, fmt.Sprintf("%s: %q is no whole number of %s", x.key, x.text, unit)}
		case u == "":
			return timing.Axis{}, &wrongNumber{x.key, fmt.Sprintf("%s: %q has no unit: write the number, a space and %s", x.key, x.text, unit)}
		case u != unit:
			return timing.Axis{}, &wrongNumber{x.key, fmt.Sprintf("%s: %q has the unknown unit %q: wanted %s", x.key, x.text, u, unit)}
		}
		*x.into = v
	}
	switch w.Polarity {
	case "positive":
		n.positive = true
	case "negative":
	default:
		return timing.Axis{}, &wrongNumber{"polarity", fmt.Sprintf("%s: polarity is %q: wanted positive or negative", name, w.Polarity)}
	}
	return n.axis(name, unit)
}

package timing

import (
	"fmt"
	"strings"
)

// ParseFreq reads a frequency with its unit written out: "148.5 MHz",
// "59.94 Hz", "340 MHz". Nothing above 100 GHz is taken, nor zero.
func ParseFreq(s string) (Freq, error) {
	v, err := parseUnit(s, map[string]uint64{"Hz": 1, "kHz": 1e3, "MHz": 1e6, "GHz": 1e9}, "Hz, kHz, MHz or GHz")
	switch {
	case err != nil:
		return Freq{}, err
	case v.IsZero():
		return Freq{}, fmt.Errorf("%q: a frequency is above 0", s)
	case v.Cmp(Hz(100e9)) > 0:
		return Freq{}, fmt.Errorf("%q is above 100 GHz, more than any link carries", s)
	}
	return v, nil
}

// parseCount reads "2200 px" or "1125 lines".
func parseCount(s, unit string) (Freq, error) {
	v, err := parseUnit(s, map[string]uint64{unit: 1}, unit)
	switch {
	case err != nil:
		return Freq{}, err
	case !v.IsZero() && v.den != 1:
		return Freq{}, fmt.Errorf("%q is no whole number", s)
	case v.Cmp(Hz(65535)) > 0:
		return Freq{}, fmt.Errorf("%q is above 65535 %s", s, unit)
	}
	return v, nil
}

// parseTime reads "0.5 ms", "20 us" or "1 s" in µs.
func parseTime(s string) (uint64, error) {
	v, err := parseUnit(s, map[string]uint64{"us": 1, "ms": 1e3, "s": 1e6}, "us, ms or s")
	if err != nil {
		return 0, err
	}
	if v.Cmp(Hz(3600e6)) > 0 {
		return 0, fmt.Errorf("%q is above an hour", s)
	}
	return v.Round(1), nil
}

func parseUnit(s string, units map[string]uint64, known string) (Freq, error) {
	number, unit, ok := strings.Cut(strings.TrimSpace(s), " ")
	switch {
	case strings.HasPrefix(number, "-"):
		return Freq{}, fmt.Errorf("%q is negative", s)
	case !ok:
		return Freq{}, fmt.Errorf("%q has no unit: write the number, a space and %s", s, known)
	}
	size, ok := units[unit]
	if !ok {
		return Freq{}, fmt.Errorf("%q has the unknown unit %q: wanted %s", s, unit, known)
	}
	v, err := parseDecimal(number, 1)
	if err != nil {
		return Freq{}, err
	}
	return v.Mul(size), nil
}

// ParseStandard finds a standard timing by its label: "VIC 16",
// "DMT 0x52", "HDMI VIC 1".
func ParseStandard(label string) (Standard, error) {
	for _, src := range []struct {
		prefix string
		get    func(uint8) (Standard, bool)
	}{{"HDMI VIC ", HDMIVIC}, {"VIC ", VIC}, {"DMT ", DMT}} {
		rest, ok := strings.CutPrefix(label, src.prefix)
		if !ok {
			continue
		}
		var code uint8
		if _, err := fmt.Sscanf(rest, "%v", &code); err != nil || strings.ContainsAny(rest, " \t") {
			return Standard{}, fmt.Errorf("%q: %q is no code", label, rest)
		}
		if s, ok := src.get(code); ok {
			return s, nil
		}
		return Standard{}, fmt.Errorf("%q: the document has no such code", label)
	}
	return Standard{}, fmt.Errorf("%q names no standard timing: write VIC 16, DMT 0x52 or HDMI VIC 1", label)
}

package timing

import (
	"encoding/json"
	"fmt"
	"strconv"
	"strings"
)

// freqJSON is the wire form. Hz is there for scripts; Exact alone carries the
// value where it is no whole number of hertz.
type freqJSON struct {
	Hz    json.Number `json:"hz"`
	Exact string      `json:"exact,omitempty"`
}

// MarshalJSON writes {"hz":148500000}, or with the exact fraction beside the
// rounded number {"hz":74175824.176,"exact":"74250000000/1001"}; null for the
// zero Freq.
func (f Freq) MarshalJSON() ([]byte, error) {
	if f.IsZero() {
		return []byte("null"), nil
	}
	if f.den == 1 {
		return json.Marshal(freqJSON{Hz: json.Number(strconv.FormatUint(f.num, 10))})
	}
	return json.Marshal(freqJSON{Hz: json.Number(f.InDecimals(1, 3)), Exact: fmt.Sprintf("%d/%d", f.num, f.den)})
}

// UnmarshalJSON reads what MarshalJSON wrote, and for hand-written files a
// bare number of hertz too.
func (f *Freq) UnmarshalJSON(b []byte) error {
	text := strings.TrimSpace(string(b))
	if text == "null" {
		*f = Freq{}
		return nil
	}
	var w freqJSON
	if !strings.HasPrefix(text, "{") {
		w.Hz = json.Number(text)
	} else if err := json.Unmarshal(b, &w); err != nil {
		return fmt.Errorf("frequency %s: %w", text, err)
	}
	if w.Exact != "" {
		num, den, ok := strings.Cut(w.Exact, "/")
		n, errN := strconv.ParseUint(num, 10, 64)
		d, errD := strconv.ParseUint(den, 10, 64)
		if !ok || errN != nil || errD != nil || d == 0 {
			return fmt.Errorf("frequency: %q is no fraction of two whole numbers", w.Exact)
		}
		*f = Ratio(n, d)
		return nil
	}
	v, err := parseDecimal(string(w.Hz), 1)
	if err != nil {
		return fmt.Errorf("frequency: %w", err)
	}
	*f = v
	return nil
}

// parseDecimal reads a plain non-negative decimal number, exactly, as that
// many units.
func parseDecimal(s string, unit uint64) (Freq, error) {
	whole, frac, _ := strings.Cut(s, ".")
	if len(frac) > 12 {
		return Freq{}, fmt.Errorf("%q has more than 12 decimals", s)
	}
	n, err := strconv.ParseUint(whole+frac, 10, 64)
	if err != nil {
		return Freq{}, fmt.Errorf("%q is not a plain number of at most 19 digits", s)
	}
	den := uint64(1)
	for range frac {
		den *= 10
	}
	return Ratio(n, den).Mul(unit), nil
}

package timing

import (
	"encoding/json"
	"fmt"
)

type axisPxJSON struct {
	Active   uint32 `json:"active_px"`
	Front    uint32 `json:"front_porch_px"`
	Sync     uint32 `json:"sync_px"`
	Back     uint32 `json:"back_porch_px"`
	Total    uint32 `json:"total_px"`
	Polarity string `json:"sync_polarity"`
}

type axisLinesJSON struct {
	Active   uint32 `json:"active_lines"`
	Front    uint32 `json:"front_porch_lines"`
	Sync     uint32 `json:"sync_lines"`
	Back     uint32 `json:"back_porch_lines"`
	Total    uint32 `json:"total_lines"`
	Polarity string `json:"sync_polarity"`
}

type timingJSON struct {
	PixelClock Freq          `json:"pixel_clock"`
	H          axisPxJSON    `json:"horizontal"`
	V          axisLinesJSON `json:"vertical"`
	Interlaced bool          `json:"interlaced"`
	HalfLine   bool          `json:"half_line_per_field,omitempty"`
	Repeat     uint8         `json:"pixel_repetition"`
	// Derived, written for scripts and ignored when read.
	LineRate  float64 `json:"line_rate_hz"`
	FieldRate float64 `json:"field_rate_hz"`
}

// MarshalJSON writes the timing with its units in the names of its fields.
// Totals, line_rate_hz and field_rate_hz are there for scripts; reading
// ignores them.
func (t Timing) MarshalJSON() ([]byte, error) {
	return json.Marshal(timingJSON{
		PixelClock: t.PixelClock,
		H:          axisPxJSON{t.H.Active, t.H.Front, t.H.Sync, t.H.Back, t.H.Total(), polarity(t.H.Positive)},
		V:          axisLinesJSON{t.V.Active, t.V.Front, t.V.Sync, t.V.Back, t.V.Total(), polarity(t.V.Positive)},
		Interlaced: t.Interlaced,
		HalfLine:   t.HalfLine,
		Repeat:     t.Repeat,
		LineRate:   t.LineRate().Float(),
		FieldRate:  t.FieldRate().Float(),
	})
}

// UnmarshalJSON reads what MarshalJSON wrote, exactly.
func (t *Timing) UnmarshalJSON(b []byte) error {
	var w timingJSON
	if err := json.Unmarshal(b, &w); err != nil {
		return fmt.Errorf("timing: %w", err)
	}
	h, errH := positive(w.H.Polarity)
	v, errV := positive(w.V.Polarity)
	if errH != nil || errV != nil {
		return fmt.Errorf("timing: sync_polarity is %q and %q, wanted positive or negative", w.H.Polarity, w.V.Polarity)
	}
	*t = Timing{
		PixelClock: w.PixelClock,
		H:          Axis{w.H.Active, w.H.Front, w.H.Sync, w.H.Back, h},
		V:          Axis{w.V.Active, w.V.Front, w.V.Sync, w.V.Back, v},
		Interlaced: w.Interlaced,
		HalfLine:   w.HalfLine,
		Repeat:     w.Repeat,
	}
	return nil
}

func polarity(positive bool) string {
	if positive {
		return "positive"
	}
	return "negative"
}

func positive(s string) (bool, error) {
	switch s {
	case "positive":
		return true, nil
	case "negative", "":
		return false, nil
	}
	return false, fmt.Errorf("polarity %q", s)
}

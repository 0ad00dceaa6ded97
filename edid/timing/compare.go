package timing

import (
	"fmt"
	"strings"
)

// Comparison sets side by side what a source sends, what the EDID that it saw
// asks for, and what scaler and panel accept.
type Comparison struct {
	Sent  Timing // at the hop
	Asked Timing // the preferred timing of the EDID, zero where there is none
	// Scaler and Panel are what is accepted.
	Scaler, Panel []Limits
	ErrorPPM      float64 // of the receiver that measured Sent
}

// CompareRow is one quantity of a comparison, in the units of the data sheet.
type CompareRow struct {
	What   string `json:"what"`
	Sent   string `json:"sent"`
	Asked  string `json:"asked"`
	Scaler string `json:"scaler"`
	Panel  string `json:"panel"`
	// Mismatch says in words what does not agree here, "" for nothing.
	Mismatch string `json:"mismatch,omitempty"`
}

// Compare gives the rows, and the first mismatch in words; "" where all agree.
// A rate within the receiver's error of another, or of a limit, is no
// mismatch.
func (c Comparison) Compare() (rows []CompareRow, first string) {
	none := Limits{}
	asked := c.Asked != (Timing{})
	for _, q := range []Quantity{HActive, VActive, PixelClock, LineRate, FieldRate, HTotal, VTotal, HBlank, VBlank, HFront, HSync, HBack, VFront, VSync, VBack} {
		sent := none.value(c.Sent, q)
		row := CompareRow{What: q.String(), Sent: q.text(sent), Asked: "-"}
		if asked {
			want := none.value(c.Asked, q)
			row.Asked = q.text(want)
			off := sent.PPM(want)
			same := sent == want || q <= FieldRate && max(off, -off) <= max(c.ErrorPPM, 1)
			if !same {
				row.Mismatch = fmt.Sprintf("%s: the source sends %s, the EDID asks for %s", q, row.Sent, row.Asked)
			}
		}
		row.Scaler = c.accepted(&row, q, c.Scaler, "scaler")
		row.Panel = c.accepted(&row, q, c.Panel, "panel")
		rows = append(rows, row)
		if first == "" {
			first = row.Mismatch
		}
	}
	for _, polar := range []struct {
		what        string
		sent, asked bool
	}{{"H sync polarity", c.Sent.H.Positive, c.Asked.H.Positive}, {"V sync polarity", c.Sent.V.Positive, c.Asked.V.Positive}} {
		row := CompareRow{What: polar.what, Sent: polarity(polar.sent), Asked: "-", Scaler: "any", Panel: "any"}
		if asked {
			row.Asked = polarity(polar.asked)
			if polar.sent != polar.asked {
				row.Mismatch = fmt.Sprintf("%s: the source sends %s, the EDID asks for %s", polar.what, row.Sent, row.Asked)
			}
		}
		rows = append(rows, row)
		if first == "" {
			first = row.Mismatch
		}
	}
	return rows, first
}

// accepted is the bound of one side; a broken one outweighs what the EDID
// asks for.
func (c Comparison) accepted(row *CompareRow, q Quantity, limits []Limits, side string) string {
	var bounds []string
	for i := range limits {
		l := &limits[i]
		for _, x := range l.List {
			if x.Quantity != q || l.ignores(q) {
				continue
			}
			bounds = append(bounds, x.bounds())
			if j := x.judge(l.Origin, l.value(c.Sent, q), c.ErrorPPM); j.Verdict == Broken {
				row.Mismatch = fmt.Sprintf("%s: the source sends %s, the %s accepts %s", q, row.Sent, side, j.Need)
			}
		}
	}
	if len(bounds) == 0 {
		return "any"
	}
	return strings.Join(bounds, " and ")
}

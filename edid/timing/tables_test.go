package timing

import (
	"encoding/csv"
	"fmt"
	"math"
	"os"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// csvRow is one row of a published table, by column name.
type csvRow map[string]string

func (r csvRow) num(t *testing.T, key string) uint32 {
	t.Helper()
	n, err := strconv.ParseUint(r[key], 0, 32)
	require.NoError(t, err, "%s of %v", key, r)
	return uint32(n)
}

func readTable(t *testing.T, name string) []csvRow {
	t.Helper()
	f, err := os.Open("../../testdata/timing/" + name)
	require.NoError(t, err)
	defer f.Close()
	r := csv.NewReader(f)
	r.Comment, r.LazyQuotes = '#', true
	all, err := r.ReadAll()
	require.NoError(t, err)
	rows := make([]csvRow, 0, len(all))
	for _, rec := range all[1:] {
		row := csvRow{}
		for i, key := range all[0] {
			row[key] = rec[i]
		}
		rows = append(rows, row)
	}
	return rows
}

// requireRow compares a timing with the columns that all tables share.
// Vertical active is the frame's in every table.
func requireRow(t *testing.T, r csvRow, got Timing) {
	t.Helper()
	require.Equal(t, KHz(uint64(r.num(t, "pixel_clock_khz"))), got.PixelClock)
	require.Equal(t, Axis{r.num(t, "hactive"), r.num(t, "hfront"), r.num(t, "hsync"), r.num(t, "hback"), r["hpol"] == "+"}, got.H)
	require.Equal(t, r.num(t, "vactive"), got.FrameActive())
	require.Equal(t, [3]uint32{r.num(t, "vfront"), r.num(t, "vsync"), r.num(t, "vback")}, [3]uint32{got.V.Front, got.V.Sync, got.V.Back})
	require.Equal(t, r["vpol"] == "+", got.V.Positive)
	require.Equal(t, r["interlaced"] == "i", got.Interlaced)
	require.NoError(t, got.Validate())
}

func decimals(f Freq, unit float64) string { return strconv.FormatFloat(f.Float()/unit, 'f', 3, 64) }

// Source: VESA DMT 1.0 rev. 13 by way of testdata/timing/dmt_timings.csv.
func TestDMTTable(t *testing.T) {
	rows := readTable(t, "dmt_timings.csv")
	require.Len(t, rows, 88)
	for _, r := range rows {
		s, ok := DMT(uint8(r.num(t, "id")))
		require.True(t, ok, r["id"])
		requireRow(t, r, s.Timing)
		assert.Equal(t, r.num(t, "htotal"), s.Timing.H.Total(), r["id"])
		assert.Equal(t, r.num(t, "vtotal"), s.Timing.FrameLines(), r["id"])
		assert.Equal(t, r["refresh_hz"], decimals(s.Timing.FieldRate(), 1), r["id"])
		if r["std_code"] != "" {
			by, ok := DMTByStandardCode(s.STDCode)
			require.True(t, ok)
			assert.Equal(t, s, by, r["id"])
			assert.Equal(t, r["std_code"], fmt.Sprintf("%02X %02X", s.STDCode[0], s.STDCode[1]))
			c, ok := ParseStandardCode(s.STDCode, false)
			require.True(t, ok)
			assert.EqualValues(t, s.Timing.H.Active, c.H, r["id"])
			assert.EqualValues(t, s.Timing.V.Active, c.V, r["id"])
			assert.EqualValues(t, r.num(t, "nominal_hz"), c.RateHz, r["id"])
		}
	}
	for _, id := range []uint8{0, 0x59, 0xFF} {
		_, ok := DMT(id)
		assert.False(t, ok, id)
	}
}

// Source: CTA-861-F to -I by way of testdata/timing/vic_timings.csv.
func TestVICTable(t *testing.T) {
	rows := readTable(t, "vic_timings.csv")
	require.Len(t, rows, 154)
	for _, r := range rows {
		s, ok := VIC(uint8(r.num(t, "vic")))
		require.True(t, ok)
		require.Equal(t, "VIC "+r["vic"], s.Label())
		requireRow(t, r, s.Timing)
		assert.Equal(t, r["aspect"], s.Aspect)
		assert.Equal(t, r.num(t, "vtotal_frame"), s.Timing.FrameLines(), s)
		assert.Equal(t, r["refresh_hz"], decimals(s.Timing.FieldRate(), 1), s)
		twin, ok := s.Twin()
		require.Equal(t, r["alt_pixel_clock_khz"] != "", ok, s)
		if ok {
			assert.Equal(t, r["alt_pixel_clock_khz"], decimals(twin.Timing.PixelClock, 1e3), s)
			back, _ := twin.Twin()
			assert.Equal(t, s.Timing, back.Timing)
			// VIC 1 alone is no exact pair: CTA-861 rounds 25.2/1.001.
			if s.Code != 1 {
				hi, lo := twin.Timing.PixelClock, s.Timing.PixelClock
				if hi.Cmp(lo) < 0 {
					hi, lo = lo, hi
				}
				assert.Equal(t, hi, lo.Scale(1001, 1000), s)
			}
		}
		if r["unrepeated_hactive"] != "" {
			u := s.Timing.Unrepeated()
			assert.Equal(t, r.num(t, "unrepeated_hactive"), u.H.Active)
			assert.Equal(t, KHz(uint64(r.num(t, "unrepeated_pixel_clock_khz"))), u.PixelClock)
			assert.Equal(t, s.Timing.FieldRate(), u.FieldRate())
		}
	}
	for _, n := range []uint8{0, 128, 192, 220, 255} {
		_, ok := VIC(n)
		assert.False(t, ok, n)
	}
}

// Source: HDMI 1.4b section 8.2.3.1; each is the same timing as a VIC.
func TestHDMIVICTable(t *testing.T) {
	rows := readTable(t, "hdmi_vic_timings.csv")
	require.Len(t, rows, 4)
	for _, r := range rows {
		s, ok := HDMIVIC(uint8(r.num(t, "hdmi_vic")))
		require.True(t, ok)
		requireRow(t, r, s.Timing)
		cta, ok := VIC(uint8(r.num(t, "cta_vic")))
		require.True(t, ok)
		assert.Equal(t, cta.Timing, s.Timing)
	}
	_, ok := HDMIVIC(5)
	assert.False(t, ok)
}

// Source: E-EDID Release A rev. 2, tables of established timings I to III.
// 1152x870 is from memory of its makers' documents and is checked against the
// file only.
func TestEstablishedTable(t *testing.T) {
	seen := 0
	for _, r := range readTable(t, "established_timings.csv") {
		if r["hactive"] == "" {
			continue
		}
		seen++
		var s Standard
		var ok bool
		if at, isIII := strings.CutPrefix(r["location"], "desc["); isIII {
			n, err := strconv.Atoi(strings.TrimSuffix(at, "]"))
			require.NoError(t, err)
			s, ok = EstablishedIII(uint8(n), uint8(r.num(t, "bit")))
		} else {
			s, ok = Established(uint8(r.num(t, "location")), uint8(r.num(t, "bit")))
		}
		require.True(t, ok, r)
		requireRow(t, r, s.Timing)
		assert.InDelta(t, float64(r.num(t, "refresh_hz")), s.Timing.FieldRate().Float(), 0.81, s)
		if r["dmt_id"] != "" {
			d, ok := DMT(uint8(r.num(t, "dmt_id")))
			require.True(t, ok)
			assert.Equal(t, d.Timing, s.Timing, s)
		}
	}
	assert.Equal(t, 61, seen)
	_, ok := Established(0x25, 6)
	assert.False(t, ok, "bits 6 to 0 of 0x25 are the maker's own")
	_, ok = EstablishedIII(11, 3)
	assert.False(t, ok, "reserved")
}

func TestStandardsIsACopy(t *testing.T) {
	a := Standards(SourceCTA)
	require.Len(t, a, 154)
	a[0].Name = "changed"
	b, _ := VIC(1)
	assert.NotEqual(t, "changed", b.Name)
	total := len(a) + len(Standards(SourceDMT)) + len(Standards(SourceHDMI)) + len(Standards(SourceEstablished))
	assert.Equal(t, 154+88+4+61, total)
	assert.Nil(t, Standards(Source(99)))
	assert.False(t, math.IsNaN(a[0].Timing.FieldRate().Float()))
}

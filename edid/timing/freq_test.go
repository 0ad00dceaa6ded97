package timing

import (
	"encoding/json"
	"math"
	"math/big"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

func TestFreqArithmeticIsExact(t *testing.T) {
	rng := rand.New(rand.NewPCG(1, 2))
	rat := func(f Freq) *big.Rat {
		n, d := f.Fraction()
		return new(big.Rat).SetFrac(new(big.Int).SetUint64(n), new(big.Int).SetUint64(d))
	}
	for range 2000 {
		f := Ratio(rng.Uint64N(1e13), 1+rng.Uint64N(1001))
		g := Ratio(rng.Uint64N(1e13), 1+rng.Uint64N(1001))
		n, d := 1+rng.Uint64N(20000), 1+rng.Uint64N(9000)
		require.Zero(t, rat(f.Scale(n, d)).Cmp(new(big.Rat).Mul(rat(f), big.NewRat(int64(n), int64(d)))))
		require.Zero(t, rat(f.Add(g)).Cmp(new(big.Rat).Add(rat(f), rat(g))))
		require.Equal(t, rat(f).Cmp(rat(g)), f.Cmp(g))
		require.Zero(t, f.Cmp(f))
	}
}

func TestTwinsNeverBlur(t *testing.T) {
	a := Hz(74_250_000)
	b := a.Scale(1000, 1001)
	assert.NotEqual(t, a, b)
	assert.Equal(t, a, b.Scale(1001, 1000))
	assert.InDelta(t, -999.001, b.PPM(a), 1e-3)
	assert.InDelta(t, 1000, a.PPM(b), 1e-9)
	assert.Equal(t, 1, a.Cmp(b))
	assert.Equal(t, "74.175824 MHz", b.String())
	assert.Equal(t, "74.25 MHz", a.String())
	assert.Equal(t, "59.94006 Hz", Ratio(60000, 1001).String())
	assert.Equal(t, "31.46875 kHz", Hz(25_175_000).Div(800).String())
	assert.Equal(t, "unknown", Freq{}.String())
}

func TestFreqRound(t *testing.T) {
	assert.EqualValues(t, 74_175_824, Ratio(74_250_000_000, 1001).Round(1))
	assert.EqualValues(t, 74_180_000, Ratio(74_250_000_000, 1001).Round(10_000))
	assert.EqualValues(t, 3, Ratio(5, 2).Round(0))
	assert.Zero(t, Freq{}.Round(1))
}

func TestFreqBeyondItsBounds(t *testing.T) {
	f := Ratio(math.MaxUint64, 3).Scale(math.MaxUint64, 7)
	assert.False(t, f.IsZero(), "a rounded answer, no wrap-around")
	g := Ratio(math.MaxUint64, 1001).Scale(1, math.MaxUint64-1)
	assert.InDelta(t, 1.0/1001, g.Float(), 1e-9)
	assert.True(t, Hz(5).Div(0).IsZero())
	assert.True(t, math.IsInf(Hz(5).PPM(Freq{}), 1))
}

func TestFreqJSONRoundTrip(t *testing.T) {
	for _, f := range []Freq{{}, Hz(148_500_000), Hz(74_250_000).Scale(1000, 1001), Ratio(1, 3), Ratio(60000, 1001)} {
		b, err := json.Marshal(f)
		require.NoError(t, err)
		var back Freq
		require.NoError(t, json.Unmarshal(b, &back))
		assert.Equal(t, f, back, string(b))
	}
	b, _ := json.Marshal(Hz(74_250_000).Scale(1000, 1001))
	assert.JSONEq(t, `{"hz":74175824.176,"exact":"6750000000/91"}`, string(b))
	var f Freq
	require.NoError(t, json.Unmarshal([]byte(`59.94`), &f))
	assert.Equal(t, Ratio(5994, 100), f)
	for _, bad := range []string{`{"hz":-5}`, `{"hz":1,"exact":"1/0"}`, `{"exact":"x/2"}`, `"60"`, `{"hz":1e9}`} {
		assert.Error(t, json.Unmarshal([]byte(bad), &f), bad)
	}
}

func TestTimingJSONRoundTrip(t *testing.T) {
	for _, src := range []Source{SourceCTA, SourceDMT, SourceEstablished} {
		for _, s := range Standards(src) {
			if tw, ok := s.Twin(); ok && s.Code%2 == 0 {
				s = tw
			}
			b, err := json.Marshal(s.Timing)
			require.NoError(t, err)
			var back Timing
			require.NoError(t, json.Unmarshal(b, &back))
			require.Equal(t, s.Timing, back, string(b))
		}
	}
	var tm Timing
	assert.ErrorContains(t, json.Unmarshal([]byte(`{"horizontal":{"sync_polarity":"up"}}`), &tm), "positive or negative")
}

func TestTimingString(t *testing.T) {
	s, _ := VIC(5)
	assert.Equal(t, "1920x1080i 60 Hz, 74.25 MHz, H 2200 (88+44+148) +, V 562 (2+5+15) +, half line a field", s.Timing.String())
	assert.Equal(t, "VIC 5, 1920x1080i 60 Hz, 16:9", s.String())
	assert.Equal(t, "33.75 kHz", s.Timing.LineRate().String())
	assert.Equal(t, Hz(30), s.Timing.FrameRate())
}

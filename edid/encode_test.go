package edid

import (
	"bytes"
	"testing"

	"deadhop/edid/timing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

func TestUntouchedEncodesToItsBytes(t *testing.T) {
	check := func(name string, raw []byte) {
		e, err := Decode(raw)
		require.NoError(t, err, name)
		got, err := e.AppendBinary([]byte("head"))
		require.NoError(t, err, name)
		require.True(t, bytes.Equal(append([]byte("head"), raw...), got), name)
	}
	for _, n := range exampleNames(t) {
		check(n, readExample(t, n))
	}
	for _, c := range readCorpus(t) {
		check(c.ID, c.raw)
		check(c.ID+" and 5 bytes", append(c.raw[:len(c.raw):len(c.raw)], 1, 2, 3, 4, 5))
	}
}

// Every descriptor and data block of the corpus is encoded from its fields
// alone. Where the encoder takes it, decoding gives back the same bytes when
// encoded once more, and well-formed blocks give their own bytes at once.
func TestFieldsEncodeToTheirBytes(t *testing.T) {
	same, differ, refused := map[string]int{}, map[string]int{}, map[string]int{}
	for _, c := range readCorpus(t) {
		e, err := Decode(c.raw)
		require.NoError(t, err)
		for i, x := range e.Base.Descriptors {
			raw := c.raw[0x36+18*i : 0x36+18*i+18]
			got, err := appendDescriptor(nil, x, e.Base.Version)
			if err != nil {
				refused[x.Tag().String()]++
				continue
			}
			require.Len(t, got, 18, "%s %s", c.ID, x.Tag())
			block := make([]byte, BlockSize)
			copy(block[0x36:], got)
			d := decoder{e: &EDID{raw: block}, text: string(block)}
			again, err := appendDescriptor(nil, d.decodeDescriptor(block, 0x36), e.Base.Version)
			require.NoError(t, err)
			require.Equal(t, got, again, "%s %s", c.ID, x.Tag())
			if bytes.Equal(got, raw) {
				same[x.Tag().String()]++
			} else {
				differ[x.Tag().String()]++
			}
		}
		for _, x := range e.CTAs() {
			for _, b := range x.Blocks {
				p, err := payload(b)
				if err != nil {
					refused[b.Tag().String()]++
					continue
				}
				head := 1
				if b.Tag() >= ExtendedTag {
					head = 2
				}
				if bytes.HasPrefix(b.Raw()[head:], p) || bytes.HasPrefix(p, b.Raw()[head:]) && zero(p[len(b.Raw())-head:]) {
					same[b.Tag().String()]++
				} else {
					differ[b.Tag().String()]++
				}
			}
		}
	}
	t.Log("same", same)
	t.Log("differ", differ)
	t.Log("refused", refused)
	ns, nd := 0, 0
	for _, n := range same {
		ns += n
	}
	for _, n := range differ {
		nd += n
	}
	assert.Less(t, nd*25, ns, "more than a twenty-fifth differs")
}

func TestEditsSetLengthsAndChecksums(t *testing.T) {
	e := decodeExample(t, "linux612_vivid_hdmi")
	e.Base.Serial = 77
	e.Base.Descriptors[2].(*Text).Text = "Totem 15"
	cta := e.Extensions[0].(*CTA)
	require.Equal(t, 1, cta.Drop(func(b DataBlock) bool { return b.Tag() == HDRStaticTag }))
	cta.Blocks = append(cta.Blocks, &Video{SVDs: []SVD{63, 64}})
	b, err := e.AppendBinary(nil)
	require.NoError(t, err)
	require.Len(t, b, 256)
	got, err := Decode(b)
	require.NoError(t, err)
	assert.True(t, got.ChecksumsGood())
	assert.Equal(t, uint32(77), got.Base.Serial)
	assert.Equal(t, "Totem 15", got.Identity().Name)
	x := got.Extensions[0].(*CTA)
	// 63 in the original, less 4 of the HDR block, plus 3 of the new one.
	assert.Equal(t, uint8(62), x.TimingOffset)
	assert.Len(t, x.Timings, 3)
	assert.Equal(t, []SVD{63, 64}, x.Blocks[len(x.Blocks)-1].(*Video).SVDs)
	// What was not touched kept its bytes.
	assert.Equal(t, readExample(t, "linux612_vivid_hdmi")[128+4:128+55], b[128+4:128+55])
}

func TestEditsRefuseWhatTheStandardForbids(t *testing.T) {
	edit := func(f func(*EDID)) error {
		e := decodeExample(t, "linux612_vivid_hdmi")
		f(e)
		b, err := e.AppendBinary(nil)
		if err != nil {
			assert.Empty(t, b)
		}
		return err
	}
	first := func(e *EDID) *DetailedTiming { return e.Base.Descriptors[0].(*DetailedTiming) }
	cta := func(e *EDID) *CTA { return e.Extensions[0].(*CTA) }
	for _, c := range []struct {
		f    func(*EDID)
		want string
	}{
		{func(e *EDID) { e.Base.Maker = 0 }, "block 0, maker: the code 0000 is no three letters (E-EDID 3.4.1)"},
		{func(e *EDID) { e.Base.Made.Year = 1989 }, "block 0, year: 1989; 1990 to 2245 can be coded (E-EDID 3.4.4)"},
		{func(e *EDID) { e.Base.Made.ModelYear = true }, "block 0, model year: a model year needs version 1.4 (E-EDID 3.4.4)"},
		{func(e *EDID) { first(e).Timing.PixelClock = timing.Hz(148351648) },
			"block 0, detailed timing: the pixel clock 148.351648 MHz is no multiple of 10 kHz (E-EDID 3.10.2)"},
		{func(e *EDID) { first(e).Timing.H.Active = 4096 },
			"block 0, detailed timing: 4096 active pixels; 4095 is the most that can be coded (E-EDID 3.10.2)"},
		{func(e *EDID) { e.Base.Descriptors[2].(*Text).Text = "a name too long" },
			`block 0, product name: "a name too long" is longer than 13 characters (E-EDID 3.10.3.1)`},
		{func(e *EDID) { e.RangeLimits().MaxVHz = 300 },
			"block 0, range limits: 300 needs the offsets of version 1.4 (E-EDID 3.10.3.3)"},
		{func(e *EDID) { e.RangeLimits().MinVHz = 90 },
			"block 0, range limits: 90 to 85; limits run from 1 to 510, the lower one first (E-EDID 3.10.3.3)"},
		{func(e *EDID) { cta(e).Blocks = append(cta(e).Blocks, &Video{SVDs: []SVD{128}}) },
			"block 1, video: the video code 128 is reserved (CTA-861 7.5.1)"},
		{func(e *EDID) {
			cta(e).Blocks = append(cta(e).Blocks, &Video{SVDs: make([]SVD, 0)}, &UnknownBlock{Kind: 9, Payload: make([]byte, 40)})
		},
			"block 1, block 9: 40 bytes of payload; a data block has at most 31 (CTA-861 7.4)"},
		{func(e *EDID) { cta(e).Timings = append(cta(e).Timings, cta(e).Timings[0]) },
			"block 1, detailed timings: data blocks and 4 timings need 135 bytes; 127 fit (CTA-861 7.1)"},
		{func(e *EDID) {
			for _, b := range cta(e).Blocks {
				if h, ok := b.(*HDMI); ok {
					h.DeepColour = Deep10
				}
			}
		}, "block 1, HDMI: deep colour must include 12 bits a component (36 bit) (HDMI 1.4b 6.5.2)"},
		{func(e *EDID) {
			for _, b := range cta(e).Blocks {
				if h, ok := b.(*HDMIForum); ok {
					h.MaxTMDSMHz = 500
				}
			}
		}, "block 1, HDMI Forum: a rate above 340 MHz needs SCDC (HDMI 2.1 10.4)"},
	} {
		assert.EqualError(t, edit(c.f), c.want)
	}
}

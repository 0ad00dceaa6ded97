package edid

import (
	"bufio"
	"encoding/hex"
	"encoding/json"
	"fmt"
	"os"
	"strings"
	"testing"

	"deadhop/edid/timing"

	"github.com/stretchr/testify/require"
)

// corpusEDID is one real EDID with the mode list that the Linux 6.1 kernel's
// own parser made of it; testdata/edid/README.md says how and from where.
type corpusEDID struct {
	ID    string   `json:"id"`
	Hex   string   `json:"hex"`
	Modes []string `json:"kernel_modes"`
	raw   []byte
}

func readCorpus(t testing.TB) []corpusEDID {
	t.Helper()
	f, err := os.Open("../testdata/edid/corpus/edids.jsonl")
	require.NoError(t, err)
	defer f.Close()
	var out []corpusEDID
	s := bufio.NewScanner(f)
	s.Buffer(nil, 1<<20)
	for s.Scan() {
		var c corpusEDID
		require.NoError(t, json.Unmarshal(s.Bytes(), &c))
		c.raw, err = hex.DecodeString(c.Hex)
		require.NoError(t, err)
		out = append(out, c)
	}
	require.NoError(t, s.Err())
	require.Len(t, out, 933)
	return out
}

// kernelMode is one row of the kernel's list.
type kernelMode struct {
	kHz           uint64
	h, hs, he, ht uint32
	v, vs, ve, vt uint32
	flags         uint32
	preferred     bool
	text          string
}

func parseMode(t testing.TB, s string) kernelMode {
	t.Helper()
	m := kernelMode{text: s}
	var f string
	n, err := fmt.Sscanf(s, "%d %d %d %d %d %d %d %d %d %s",
		&m.kHz, &m.h, &m.hs, &m.he, &m.ht, &m.v, &m.vs, &m.ve, &m.vt, &f)
	require.NoError(t, err, s)
	require.Equal(t, 10, n)
	_, err = fmt.Sscanf(f, "f%x", &m.flags)
	require.NoError(t, err, s)
	m.preferred = strings.HasSuffix(s, " P")
	return m
}

// kernelForm is a timing as the kernel would write it, without the clock:
// porches as positions, and pixels counted once.
type kernelForm struct{ h, hs, he, ht, v, vs, ve, vt uint32 }

func formOf(t timing.Timing) kernelForm {
	t = t.Unrepeated()
	a := func(x timing.Axis) (uint32, uint32, uint32, uint32) {
		return x.Active, x.Active + x.Front, x.Active + x.Front + x.Sync, x.Total()
	}
	var k kernelForm
	k.h, k.hs, k.he, k.ht = a(t.H)
	k.v, k.vs, k.ve, k.vt = a(t.V)
	return k
}

func (m kernelMode) form() kernelForm {
	return kernelForm{m.h, m.hs, m.he, m.ht, m.v, m.vs, m.ve, m.vt}
}

func kHzOf(f timing.Freq) int64 { return int64(f.Float()/1000 + 0.5) }

func near(a, b, tol int64) bool { return a-b <= tol && b-a <= tol }

// emulatorsOwn is the first row of the mode list of the emulator's own
// display, which the kernel kept where it refused an EDID file: drm_edid_load
// refuses a file whose size is not what its byte 0x7E announces.
const emulatorsOwn = "107300 1280 1600 1638 1728 800 804 808 828 fa P"

func refused(c corpusEDID, e *EDID) bool {
	return len(c.raw) != BlockSize*(1+int(e.Base.ExtensionCount))
}

func TestFormatsAgreeWithTheKernel(t *testing.T) {
	absent, present := map[string]int{}, map[string]int{}
	var odd []string
	for _, c := range readCorpus(t) {
		e, err := Decode(c.raw)
		require.NoError(t, err)
		if len(c.Modes) > 0 && c.Modes[0] == emulatorsOwn {
			if !refused(c, e) {
				odd = append(odd, "refused "+c.ID)
			}
			absent["the kernel refused the file"]++
			continue
		}
		k := kernelView{e: e, formats: e.Formats()}
		for _, m := range c.Modes {
			k.modes = append(k.modes, parseMode(t, m))
		}
		for i := range k.formats {
			f := &k.formats[i]
			if f.Timing.Interlaced || f.Chroma == ChromaOnly420 {
				continue
			}
			why := k.whyAbsent(f)
			absent[why]++
			if why == "" {
				odd = append(odd, fmt.Sprintf("%s stated, not in the kernel's list: %v (%s at block %d offset 0x%02X)",
					c.ID, f.Timing, f.Places[0].Kind, f.Places[0].Block, f.Places[0].Offset))
			}
		}
		for _, m := range k.modes {
			why := k.whyPresent(m)
			present[why]++
			if why == "" {
				odd = append(odd, fmt.Sprintf("%s in the kernel's list, not explained: %s", c.ID, m.text))
			}
		}
	}
	t.Log("stated formats:", absent)
	t.Log("kernel modes:", present)
	require.Empty(t, odd)
	// The rules must stay exceptions.
	require.Greater(t, absent["listed"], 13800)
	require.Greater(t, present["stated"]+present["the 1000/1001 twin"], 16400)
}

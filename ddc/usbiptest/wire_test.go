package usbiptest

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// blocks makes n EDID blocks in which every byte tells where it came from.
func blocks(n int) []byte {
	store := make([]byte, n*128)
	for i := range store {
		store[i] = byte(i*7 + i/256*3)
	}
	return store
}

// readBlock reads a block as VESA E-DDC 1.3 clause 2.2.5 has it: segment,
// offset and data in one transaction.
func readBlock(t *testing.T, w *Wire, block int) ([]byte, Outcome) {
	t.Helper()
	first := true
	if segment := byte(block / 2); segment > 0 {
		if o := w.Transfer(SegmentAddr, false, true, false, []byte{segment}); o != Done {
			return nil, o
		}
		first = false
	}
	if o := w.Transfer(EDIDAddr, false, first, false, []byte{byte(block % 2 * 128)}); o != Done {
		return nil, o
	}
	data := make([]byte, 128)
	return data, w.Transfer(EDIDAddr, true, false, true, data)
}

func TestDisplayServesEveryBlock(t *testing.T) {
	for n := 1; n <= 8; n++ {
		store := blocks(n)
		w := NewWire()
		NewDisplay(w, store, true)
		for block := range n {
			got, outcome := readBlock(t, w, block)
			require.Equal(t, Done, outcome)
			assert.Equal(t, store[block*128:][:128], got, "block %d of %d", block, n)
		}
	}
}

func TestStopForgetsTheSegment(t *testing.T) {
	store := blocks(4)
	w := NewWire()
	NewDisplay(w, store, true)
	require.Equal(t, Done, w.Transfer(SegmentAddr, false, true, true, []byte{1}))
	got, outcome := readBlock(t, w, 0)
	require.Equal(t, Done, outcome)
	assert.Equal(t, store[:128], got)
}

func TestRefusalEndsTheTransaction(t *testing.T) {
	store := blocks(4)
	w := NewWire()
	NewDisplay(w, store, true)
	require.Equal(t, Done, w.Transfer(SegmentAddr, false, true, false, []byte{1}))
	require.Equal(t, NoAck, w.Transfer(0x51, false, false, false, []byte{0}))
	got := make([]byte, 4)
	require.Equal(t, Done, w.Transfer(EDIDAddr, true, true, true, got))
	assert.Equal(t, store[:4], got, "the segment pointer outlived a stop")
}

func TestDisplayWithoutSegmentPointer(t *testing.T) {
	w := NewWire()
	NewDisplay(w, blocks(2), false)
	_, outcome := readBlock(t, w, 2)
	assert.Equal(t, NoAck, outcome)
	assert.Equal(t, DataNoAck, w.Transfer(EDIDAddr, false, true, true, []byte{0, 0xaa}), "the store took a write")
}

func TestSmallStoreRepeats(t *testing.T) {
	store := blocks(1)
	w := NewWire()
	NewDisplay(w, store, false).Wrap = 128
	got, outcome := readBlock(t, w, 1)
	require.Equal(t, Done, outcome)
	assert.Equal(t, store, got)
}

func TestReadFaults(t *testing.T) {
	tests := []struct {
		name  string
		fault Fault
		want  []byte
	}{
		{"none", func(int, *Message) {}, []byte{0x81, 0x42, 0x24, 0x18}},
		{"stuck low", StuckLow(0x80), []byte{0x01, 0x42, 0x24, 0x18}},
		{"stuck high", StuckHigh(0x01), []byte{0x81, 0x43, 0x25, 0x19}},
		{"flip", Flip(2, 0xff), []byte{0x81, 0x42, 0xdb, 0x18}},
		// 1 1000000 1 0100001 0 0010010 0 0001100
		{"shifted", Shifted(), []byte{0xc0, 0xa1, 0x12, 0x0c}},
		{"rolled", Rolled(1), []byte{0x42, 0x24, 0x18, 0x81}},
		{"other address", On(0x51, StuckHigh(0xff)), []byte{0x81, 0x42, 0x24, 0x18}},
		{"other message", At(1, StuckHigh(0xff)), []byte{0x81, 0x42, 0x24, 0x18}},
		{"later message", From(1, StuckHigh(0xff)), []byte{0x81, 0x42, 0x24, 0x18}},
		{"from the start", From(0, StuckHigh(0xff)), []byte{0xff, 0xff, 0xff, 0xff}},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			w := NewWire()
			NewDisplay(w, []byte{0x81, 0x42, 0x24, 0x18}, false)
			w.SetFaults(tt.fault)
			got := make([]byte, 4)
			require.Equal(t, Done, w.Transfer(EDIDAddr, true, true, true, got))
			assert.Equal(t, tt.want, got)
		})
	}
}

func TestDriftingNeverAgrees(t *testing.T) {
	w := NewWire()
	NewDisplay(w, blocks(1), false)
	w.SetFaults(Drifting())
	seen := map[string]bool{}
	for range 8 {
		got, outcome := readBlock(t, w, 0)
		require.Equal(t, Done, outcome)
		assert.False(t, seen[string(got)], "two reads agreed")
		seen[string(got)] = true
	}
}

func TestLogKeepsWhatTheMasterSaw(t *testing.T) {
	w := NewWire()
	NewDisplay(w, blocks(1), false)
	w.SetFaults(At(1, Ends(Broken)))
	_, outcome := readBlock(t, w, 0)
	require.Equal(t, Broken, outcome)
	log := w.Log()
	require.Len(t, log, 2)
	assert.Equal(t, "50 W 00 done", log[0].String())
	assert.Equal(t, Broken, log[1].Outcome)
}

// The exchange of "get brightness" in VESA DDC/CI 1.1 clause 4.3; the bytes
// are worked by hand from the rule that all bytes XOR to 0.
func TestCommander(t *testing.T) {
	ask := func(c *Commander, request ...byte) []byte {
		w := NewWire()
		w.Add(CommandAddr, c)
		require.Equal(t, Done, w.Transfer(CommandAddr, false, true, true, request))
		got := make([]byte, 11)
		require.Equal(t, Done, w.Transfer(CommandAddr, true, true, true, got))
		return got
	}
	c := &Commander{Features: map[byte]Feature{0x10: {Max: 100, Now: 0x132}}}
	assert.Equal(t, []byte{0x6e, 0x88, 0x02, 0x00, 0x10, 0x00, 0x00, 0x64, 0x01, 0x32, 0xf3},
		ask(c, 0x51, 0x82, 0x01, 0x10, 0xac))
	assert.Equal(t, byte(0x01), ask(c, 0x51, 0x82, 0x01, 0x60, 0xdc)[3], "unsupported code")
	assert.Equal(t, []byte{0x6e, 0x80, 0xbe}, ask(c, 0x51, 0x82, 0x01, 0x10, 0x00)[:3], "request with a wrong check byte")
	c.WrongChecksum = true
	assert.Equal(t, byte(0xf3^0xff), ask(c, 0x51, 0x82, 0x01, 0x10, 0xac)[10])
}

func TestRegisters(t *testing.T) {
	w := NewWire()
	r := &Registers{}
	r.Bytes[0x40] = 0x0f
	r.OnRead = func(offset byte, r *Registers) {
		if offset == 0x50 {
			r.Bytes[0x50]++
		}
	}
	w.Add(StatusAddr, r)
	read := func(offset byte) byte {
		got := make([]byte, 1)
		require.Equal(t, Done, w.Transfer(StatusAddr, false, true, false, []byte{offset}))
		require.Equal(t, Done, w.Transfer(StatusAddr, true, false, true, got))
		return got[0]
	}
	assert.Equal(t, byte(0x0f), read(0x40))
	assert.Equal(t, []byte{1, 2}, []byte{read(0x50), read(0x50)})
	require.Equal(t, Done, w.Transfer(StatusAddr, false, true, true, []byte{0x20, 0x03}))
	assert.Equal(t, byte(0x03), read(0x20))
}

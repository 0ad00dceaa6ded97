package ddc_test

import (
	"context"
	"errors"
	"fmt"
	"syscall"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"deadhop/ddc"
	"deadhop/ddc/ddctest"
)

// image makes n blocks that announce one another and sum to zero. Their
// bytes differ from place to place, so that a block read twice or from the
// wrong place shows.
func image(n int) []byte {
	b := make([]byte, 128*n)
	for i := range b {
		b[i] = byte(i*7 + i/128*31)
	}
	copy(b, []byte{0, 0xff, 0xff, 0xff, 0xff, 0xff, 0xff, 0})
	b[126] = byte(n - 1)
	for k := range n {
		if k > 0 {
			b[k*128] = 0x70 // DisplayID: no block map, no CTA
		}
		seal(b[k*128 : k*128+128])
	}
	return b
}

func seal(block []byte) {
	var sum byte
	for _, v := range block[:127] {
		sum += v
	}
	block[127] = -sum
}

func quick() ddc.ReadOptions { return ddc.ReadOptions{Pause: time.Microsecond} }

func TestReadEDIDOfEverySize(t *testing.T) {
	for _, blocks := range []int{1, 2, 3, 4, 5, 8, 255, 256} {
		t.Run(fmt.Sprint(blocks), func(t *testing.T) {
			want := image(blocks)
			bus := ddctest.New(want)
			got, err := ddc.ReadEDID(context.Background(), bus, quick())
			require.NoError(t, err)
			assert.Equal(t, want, got.Bytes)
			assert.Equal(t, blocks, got.Announced)
			assert.Equal(t, blocks, bus.Transactions(), "one transaction a block")
			assert.Len(t, got.Log, blocks)
		})
	}
}

// HDMI 2.1 EEODB (CTA-861-I clause 7.5.16): byte 126 says one extension, the
// data block in it says how many there really are.
func TestReadEDIDFollowsTheExtensionOverride(t *testing.T) {
	want := image(4)
	want[126] = 1
	seal(want[:128])
	copy(want[128:], []byte{0x02, 0x03, 0x07, 0x00, 0xe2, 0x78, 3})
	seal(want[128:256])
	got, err := ddc.ReadEDID(context.Background(), ddctest.New(want), quick())
	require.NoError(t, err)
	assert.Equal(t, want, got.Bytes)
	assert.Equal(t, 4, got.Announced)
}

// The least a protocol allows for 256 bytes: reading in one go costs
// 9×(address, offset, address, 256 bytes) and 3 for start, repeated start
// and stop, 2334 (I2C-bus specification, UM10204 clause 3.1).
func TestClocksOfAFullReadAreNearTheMinimum(t *testing.T) {
	bus := ddctest.New(image(2))
	_, err := ddc.ReadEDID(context.Background(), bus, quick())
	require.NoError(t, err)
	const least = 9*(1+1+1+256) + 3
	assert.Equal(t, 2334, least)
	assert.LessOrEqual(t, float64(bus.Clocks()), least*1.02)
	assert.GreaterOrEqual(t, bus.Clocks(), least)
}

func TestSegmentPointerIsLeftOutForTheFirstTwoBlocks(t *testing.T) {
	got, err := ddc.ReadEDID(context.Background(), ddctest.New(image(3)), quick())
	require.NoError(t, err)
	for n, a := range got.Log {
		if n < 2 {
			assert.Len(t, a.Msgs, 2, "block %d", n)
			continue
		}
		require.Len(t, a.Msgs, 3)
		assert.Equal(t, ddc.Msg{Addr: 0x30, Data: []byte{1}}, a.Msgs[0])
	}
}

// Every fault at every transaction of a full read: once, it is got over and
// logged; for good, the read ends in that fault with the bytes before it.
func TestEveryFaultAtEveryTransaction(t *testing.T) {
	const blocks = 6
	want := image(blocks)
	faults := []struct {
		name  string
		kind  error
		errno syscall.Errno
		retry bool
	}{
		{"no acknowledge", ddc.ErrNoAck, syscall.ENXIO, true},
		{"timed out", ddc.ErrTimedOut, syscall.ETIMEDOUT, true},
		{"arbitration", ddc.ErrArbitration, syscall.EAGAIN, true},
		{"short", ddc.ErrBroken, syscall.EIO, true},
		{"not told apart", ddc.ErrNoAnswer, syscall.EIO, true},
		{"vanished", ddc.ErrGone, syscall.ENODEV, false},
		{"no permission", ddc.ErrPermission, syscall.EACCES, false},
	}
	for _, f := range faults {
		for at := range blocks {
			t.Run(fmt.Sprintf("%s once at %d", f.name, at), func(t *testing.T) {
				bus := ddctest.New(want)
				bus.Fault = func(n int, _ []ddc.Msg) error {
					if n == at {
						return ddctest.Err(f.kind, f.errno, 0x50)
					}
					return nil
				}
				got, err := ddc.ReadEDID(context.Background(), bus, quick())
				if !f.retry {
					require.ErrorIs(t, err, f.kind)
					assert.Equal(t, string(want[:at*128]), string(got.Bytes))
					return
				}
				require.NoError(t, err)
				assert.Equal(t, want, got.Bytes)
				require.Len(t, got.Log, blocks+1)
				assert.ErrorIs(t, got.Log[at].Err, f.errno)
			})
			t.Run(fmt.Sprintf("%s for good from %d", f.name, at), func(t *testing.T) {
				bus := ddctest.New(want)
				bus.Fault = func(n int, _ []ddc.Msg) error {
					if n >= at {
						return ddctest.Err(f.kind, f.errno, 0x50)
					}
					return nil
				}
				got, err := ddc.ReadEDID(context.Background(), bus, quick())
				require.ErrorIs(t, err, f.kind)
				require.ErrorIs(t, err, f.errno)
				assert.ErrorContains(t, err, fmt.Sprintf("EDID block %d", at))
				assert.Len(t, got.Bytes, at*128)
				tries := 1
				if f.retry {
					tries = 3
				}
				assert.Len(t, got.Log, at+tries)
			})
		}
	}
}

func TestFlippedBitIsKeptAsItCame(t *testing.T) {
	want := image(4)
	for at := range 4 {
		bus := ddctest.New(want)
		bus.Spoil = func(n int, msgs []ddc.Msg) {
			if n == at {
				msgs[len(msgs)-1].Data[17] ^= 0x08
			}
		}
		got, err := ddc.ReadEDID(context.Background(), bus, quick())
		require.NoError(t, err)
		if at == 0 {
			// A block 0 that fails its checksum is believed as far as one
			// extension.
			assert.Len(t, got.Bytes, 256)
		} else {
			assert.Len(t, got.Bytes, 512)
		}
		assert.Equal(t, want[at*128+17]^0x08, got.Bytes[at*128+17])
	}
}

func TestStuckLinesDoNotReadForEver(t *testing.T) {
	for name, fill := range map[string]byte{"stuck high": 0xff, "stuck low": 0x00} {
		t.Run(name, func(t *testing.T) {
			bus := ddctest.New(image(2))
			bus.Spoil = func(_ int, msgs []ddc.Msg) {
				d := msgs[len(msgs)-1].Data
				for i := range d {
					d[i] = fill
				}
			}
			got, err := ddc.ReadEDID(context.Background(), bus, quick())
			require.NoError(t, err)
			assert.LessOrEqual(t, len(got.Bytes), 256)
		})
	}
}

func TestAdapterWithASmallBufferReadsInPieces(t *testing.T) {
	want := image(5)
	bus := ddctest.New(want)
	bus.MaxRead = 60
	got, err := ddc.ReadEDID(context.Background(), bus, quick())
	require.NoError(t, err)
	assert.Equal(t, want, got.Bytes)
	assert.ErrorIs(t, got.Log[0].Err, ddc.ErrUnsupported, "the refusal stays in the log")
}

func TestDeadlineEndsTheRead(t *testing.T) {
	ctx, cancel := context.WithCancel(context.Background())
	bus := ddctest.New(image(4))
	bus.Fault = func(n int, _ []ddc.Msg) error {
		if n == 2 {
			cancel()
			return ddctest.Err(ddc.ErrDeadline, context.Canceled, 0x50)
		}
		return nil
	}
	got, err := ddc.ReadEDID(ctx, bus, quick())
	require.ErrorIs(t, err, ddc.ErrDeadline)
	assert.True(t, errors.Is(err, context.Canceled))
	assert.Len(t, got.Bytes, 256, "what was read before stays")
}

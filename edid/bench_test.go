package edid

import (
	"os"
	"path/filepath"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

const benchExample = "linux612_vivid_hdmi"

func BenchmarkDecode256(b *testing.B) {
	raw := readExample(b, benchExample)
	b.ReportAllocs()
	for b.Loop() {
		if _, err := Decode(raw); err != nil {
			b.Fatal(err)
		}
	}
}

// BenchmarkReadFile256 is what Decode256 is measured against.
func BenchmarkReadFile256(b *testing.B) {
	file := filepath.Join(b.TempDir(), "edid.bin")
	require.NoError(b, os.WriteFile(file, readExample(b, benchExample), 0o600))
	for b.Loop() {
		if _, err := os.ReadFile(file); err != nil {
			b.Fatal(err)
		}
	}
}

// manyBlocks is an EDID of n blocks: a base block and CTA extensions.
func manyBlocks(tb testing.TB, n int) []byte {
	raw := readExample(tb, benchExample)
	out := append([]byte(nil), raw...)
	for len(out) < n*BlockSize {
		out = append(out, raw[BlockSize:]...)
	}
	out[0x7E] = byte(n - 1)
	setChecksum(out)
	return out
}

func BenchmarkDecodeBlocks(b *testing.B) {
	for _, n := range []int{2, 16, 64, 256} {
		raw := manyBlocks(b, n)
		b.Run(itoa(n), func(b *testing.B) {
			for b.Loop() {
				if _, err := Decode(raw); err != nil {
					b.Fatal(err)
				}
			}
			b.ReportMetric(float64(b.Elapsed().Nanoseconds())/float64(b.N)/float64(n), "ns/block")
		})
	}
}

func BenchmarkFormats(b *testing.B) {
	e := decodeExample(b, benchExample)
	b.ReportAllocs()
	for b.Loop() {
		e.Formats()
	}
}

func TestDecodeAllocatesLittle(t *testing.T) {
	raw := readExample(t, benchExample)
	n := testing.AllocsPerRun(100, func() { _, _ = Decode(raw) })
	require.LessOrEqual(t, n, 25.0)
}

// Decoding a real EDID with its issues takes less time than reading its file.
func TestDecodeIsFasterThanReadingTheFile(t *testing.T) {
	raw := readExample(t, benchExample)
	file := filepath.Join(t.TempDir(), "edid.bin")
	require.NoError(t, os.WriteFile(file, raw, 0o600))
	best := func(f func()) time.Duration {
		least := time.Hour
		for range 20 {
			start := time.Now()
			for range 50 {
				f()
			}
			least = min(least, time.Since(start))
		}
		return least
	}
	read := best(func() { _, _ = os.ReadFile(file) })
	decode := best(func() { _, _ = Decode(raw) })
	t.Logf("decode %v, read %v, ratio %.2f", decode/50, read/50, float64(decode)/float64(read))
	require.Less(t, decode, read)
}

// The time grows with the blocks and no faster.
func TestDecodeGrowsLinearly(t *testing.T) {
	perBlock := func(n int) float64 {
		raw := manyBlocks(t, n)
		least := time.Hour
		for range 10 {
			start := time.Now()
			_, _ = Decode(raw)
			least = min(least, time.Since(start))
		}
		return float64(least) / float64(n)
	}
	small, large := perBlock(16), perBlock(256)
	t.Logf("%.0f ns a block at 16, %.0f at 256", small, large)
	require.Less(t, large, 3*small)
}

package edid

import (
	"bytes"
	"reflect"
	"runtime"
	"testing"
)

func seeds(f *testing.F) {
	for _, n := range exampleNames(f) {
		f.Add(readExample(f, n))
	}
	for i, c := range readCorpus(f) {
		if i%20 == 0 && len(c.raw) <= 512 {
			f.Add(c.raw)
		}
	}
	f.Add([]byte{})
	f.Add(bytes.Repeat([]byte{0xFF}, 128))
	f.Add(bytes.Repeat([]byte{0x02}, 256))
}

// FuzzDecode: nothing panics, the views cover every byte once, every issue
// can be told, and memory stays within a small multiple of the input.
func FuzzDecode(f *testing.F) {
	seeds(f)
	f.Fuzz(func(t *testing.T, b []byte) {
		var before, after runtime.MemStats
		runtime.ReadMemStats(&before)
		e, err := Decode(b)
		runtime.ReadMemStats(&after)
		if err != nil {
			if e != nil {
				t.Fatal("an error and an EDID")
			}
			return
		}
		// The test framework allocates a little beside.
		if used := after.TotalAlloc - before.TotalAlloc; used > uint64(len(b))*80+64<<10 {
			t.Fatalf("%d bytes of input took %d bytes", len(b), used)
		}
		requireTiled(t, b, "fuzzed")
		for _, i := range e.Issues {
			if i.Detail() == "" || i.Spec() == "" || i.Block < 0 || i.Block*BlockSize+i.Offset+i.Len > len(b)+BlockSize {
				t.Fatalf("issue %v", i)
			}
		}
		e.Formats()
		_ = Compare(e, e)
		e.ProposeRepair(b)
	})
}

// FuzzUntouched: what is not touched encodes to the bytes it came from.
func FuzzUntouched(f *testing.F) {
	seeds(f)
	f.Fuzz(func(t *testing.T, b []byte) {
		e, err := Decode(b)
		if err != nil {
			return
		}
		got, err := e.AppendBinary(nil)
		if err != nil {
			t.Fatal(err)
		}
		if !bytes.Equal(b, got) {
			t.Fatalf("%x became %x", b, got)
		}
	})
}

// FuzzStable: each part that can be encoded from its fields alone decodes to
// the same fields again, and an EDID encoded after an edit decodes to itself.
func FuzzStable(f *testing.F) {
	seeds(f)
	f.Fuzz(func(t *testing.T, b []byte) {
		e, err := Decode(b)
		if err != nil {
			return
		}
		e.Base.Serial ^= 1
		for _, c := range e.CTAs() {
			// Touching the flags encodes the whole block anew.
			c.Underscan = !c.Underscan
		}
		first, err := e.AppendBinary(nil)
		if err != nil {
			return
		}
		again, err := Decode(first)
		if err != nil {
			t.Fatal(err)
		}
		for _, x := range again.CTAs() {
			for i := range x.Blocks {
				stableBlock(t, x.Blocks[i])
			}
		}
		second, err := again.AppendBinary(nil)
		if err != nil || !bytes.Equal(first, second) {
			t.Fatalf("%x became %x, %v", first, second, err)
		}
		third, err := Decode(second)
		if err != nil || !reflect.DeepEqual(again, third) {
			t.Fatalf("decodes differently the second time: %v", err)
		}
	})
}

func stableBlock(t *testing.T, b DataBlock) {
	p, err := payload(b)
	if err != nil || len(p) > 29 {
		return
	}
	head := []byte{byte(b.Tag())<<5 | byte(len(p))}
	if b.Tag() >= ExtendedTag {
		head = []byte{7<<5 | byte(len(p)+1), byte(b.Tag())}
	}
	d := decoder{e: &EDID{raw: make([]byte, BlockSize)}}
	got := d.decodeDataBlock(append(head, p...), 4, b.Tag())
	if _, bad := got.(*BadBlock); bad {
		if _, was := b.(*BadBlock); !was {
			t.Fatalf("%s: fields %x do not decode", b.Tag(), p)
		}
		return
	}
	q, err := payload(got)
	if err != nil || !bytes.Equal(p, q) {
		t.Fatalf("%s: %x became %x, %v", b.Tag(), p, q, err)
	}
}

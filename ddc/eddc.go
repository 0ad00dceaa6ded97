package ddc

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"syscall"
	"time"
)

// Addresses of the display's own devices on DDC, 7 bits.
const (
	SegmentAddr = 0x30 // E-DDC segment pointer, write only
	EDIDAddr    = 0x50 // E-DDC data
)

const (
	blockLen  = 128
	maxBlocks = 256 // E-DDC: 128 segments of two blocks
)

// ReadOptions steer ReadEDID. The zero value is the usual read.
type ReadOptions struct {
	// Attempts is how often a block is tried before it is given up. 0
	// means 3: enough to get past one disturbance, while a dead line is
	// still reported at once.
	Attempts int
	// Pause is the wait before a block is tried again. 0 means 10 ms.
	Pause time.Duration
	// Blocks limits the read; 0 means as many as the EDID announces.
	Blocks int
	// Extra reads that many blocks more than announced, as evidence of a
	// wrong count. A block that is not there ends the read without error.
	Extra int
}

// EDIDRead is what one full read gave.
type EDIDRead struct {
	Bytes     []byte // whole blocks in order, as far as they came
	Announced int    // blocks that the EDID itself announces, 0 where block 0 did not come
	Log       []Attempt
}

// ReadEDID reads the EDID at 0x50 by VESA E-DDC: each block in one combined
// transaction of segment pointer, offset and read. The segment pointer is
// left out for blocks 0 and 1, because displays older than E-DDC may stumble
// over it. How many blocks there are is said by byte 126, or by the HDMI
// Forum EEODB of block 1 (HDMI 2.1), which overrules it.
//
// A block whose transfer fails is tried again; a block whose checksum is
// wrong is not, since reading twice and comparing is the caller's job. The
// error is the last attempt's *OpError; the bytes before it stay. A vanished
// adapter, a missing permission or the end of ctx end the read at once.
func ReadEDID(ctx context.Context, bus Bus, o ReadOptions) (EDIDRead, error) {
	if o.Attempts <= 0 {
		o.Attempts = 3
	}
	if o.Pause <= 0 {
		o.Pause = 10 * time.Millisecond
	}
	r := edidReader{bus: bus, o: o, ways: []Method{Combined}}
	if mb, ok := bus.(methodBus); ok {
		r.ways = mb.methods()
	}
	want := 1
	for n := 0; n < want; n++ {
		block, err := r.block(ctx, n)
		if err != nil {
			if n >= r.out.Announced && n > 0 {
				return r.out, nil // past what was announced: nothing is missing
			}
			return r.out, fmt.Errorf("EDID block %d: %w", n, err)
		}
		r.out.Bytes = append(r.out.Bytes, block...)
		if n < 2 {
			r.out.Announced = announcedBlocks(r.out.Bytes)
			want = r.out.Announced + o.Extra
			if o.Blocks > 0 {
				want = min(want, o.Blocks)
			}
			want = min(want, maxBlocks)
		}
	}
	return r.out, nil
}

// announcedBlocks is how many blocks an EDID announces, judged by its first
// one or two. A block 0 that is no EDID or fails its checksum is believed
// only as far as one extension: a line stuck high would announce 256.
func announcedBlocks(b []byte) int {
	if len(b) < blockLen {
		return 1
	}
	n := 1 + int(b[126])
	if !goodBaseBlock(b[:blockLen]) {
		n = min(n, 2)
	}
	// CTA-861-I 7.5.16 (HF-EEODB): first data block of the first extension,
	// tag 7, extended tag 0x78, one byte of payload, at offset 4.
	if x := b[blockLen:]; len(x) >= blockLen && n >= 2 && x[0] == 0x02 && x[2] >= 7 &&
		x[4] == 7<<5|2 && x[5] == 0x78 && x[6] > 0 && checksumOK(x[:blockLen]) {
		n = 1 + int(x[6])
	}
	return min(n, maxBlocks)
}

var edidHeader = []byte{0x00, 0xff, 0xff, 0xff, 0xff, 0xff, 0xff, 0x00}

func goodBaseBlock(b []byte) bool { return bytes.HasPrefix(b, edidHeader) && checksumOK(b) }

func checksumOK(b []byte) bool {
	var sum byte
	for _, v := range b {
		sum += v
	}
	return sum == 0
}

// edidReader is one run of ReadEDID. ways shrinks to the ways that still may
// work: what an adapter cannot do once, it is not asked again.
type edidReader struct {
	bus   Bus
	o     ReadOptions
	ways  []Method
	chunk int // bytes of one read, 0 for a whole block
	out   EDIDRead
}

func (r *edidReader) block(ctx context.Context, n int) ([]byte, error) {
	var err error
	for try := 0; try < r.o.Attempts; {
		if try > 0 && !sleep(ctx, r.o.Pause) {
			return nil, err
		}
		if len(r.ways) == 0 {
			return nil, err
		}
		if n >= 2 && !r.ways[0].reachesSegments() {
			return nil, &OpError{Op: r.ways[0].String(), Addr: EDIDAddr, Kind: ErrUnsupported, Err: syscall.EOPNOTSUPP,
				Do: "this adapter reaches blocks 0 and 1 only: use one that does combined transfers"}
		}
		var b []byte
		if b, err = r.once(ctx, n); err == nil {
			return b, nil
		}
		switch {
		case ctx.Err() != nil, errors.Is(err, ErrGone), errors.Is(err, ErrPermission), errors.Is(err, ErrDeadline):
			return nil, err
		case errors.Is(err, ErrUnsupported) || errors.Is(err, syscall.EINVAL):
			// Not the display's fault: take another way, without
			// counting this as a try. Shorter reads come first, since
			// adapters with a small buffer refuse a long one.
			if r.ways[0] == Combined && r.chunk == 0 {
				r.chunk = 16
			} else {
				r.ways, r.chunk = r.ways[1:], 0
			}
		default:
			try++
		}
	}
	return nil, err
}

func (r *edidReader) once(ctx context.Context, n int) ([]byte, error) {
	b := make([]byte, blockLen)
	step := r.chunk
	if step == 0 {
		step = blockLen
	}
	for at := 0; at < blockLen; at += step {
		msgs := blockMsgs(n, at, b[at:at+step])
		if err := r.try(ctx, msgs); err != nil {
			return nil, err
		}
	}
	return b, nil
}

// blockMsgs is the transaction that reads part of a block.
func blockMsgs(n, at int, into []byte) []Msg {
	var msgs []Msg
	if seg := n / 2; seg > 0 {
		msgs = append(msgs, Msg{Addr: SegmentAddr, Data: []byte{byte(seg)}})
	}
	return append(msgs,
		Msg{Addr: EDIDAddr, Data: []byte{byte(n%2*blockLen + at)}},
		Msg{Addr: EDIDAddr, Read: true, Data: into})
}

func (r *edidReader) try(ctx context.Context, msgs []Msg) error {
	a, err := loggedBy(ctx, r.bus, r.ways[0], msgs)
	r.out.Log = append(r.out.Log, a)
	return err
}

// logged carries out a transaction by the bus's best way and records it.
func logged(ctx context.Context, bus Bus, msgs []Msg) (Attempt, error) {
	way := Combined
	if mb, ok := bus.(methodBus); ok {
		way = mb.methods()[0]
	}
	return loggedBy(ctx, bus, way, msgs)
}

func loggedBy(ctx context.Context, bus Bus, way Method, msgs []Msg) (Attempt, error) {
	start := time.Now()
	var err error
	if mb, ok := bus.(methodBus); ok {
		err = mb.transferBy(ctx, way, msgs)
	} else {
		err = bus.Transfer(ctx, msgs)
	}
	a := Attempt{Msgs: cloneMsgs(msgs), By: way, Took: time.Since(start), Err: err}
	if err != nil {
		for i := range a.Msgs {
			if a.Msgs[i].Read { // a failed transfer does not say how far it came
				a.Msgs[i].Data = nil
			}
		}
	}
	return a, err
}

// sleep waits and reports whether ctx still holds.
func sleep(ctx context.Context, d time.Duration) bool {
	t := time.NewTimer(d)
	defer t.Stop()
	select {
	case <-t.C:
		return true
	case <-ctx.Done():
		return false
	}
}

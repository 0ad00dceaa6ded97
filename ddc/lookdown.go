package ddc

import (
	"bytes"
	"context"
	"errors"
)

// suspiciousReads is how often the EDID is read in all where the first reads
// disagree or fail their checksums.
const suspiciousReads = 5

// LookDown takes what a DDC bus alone can tell: acknowledge, bytes, and
// whether repeated reads agree. Where the first reads disagree or carry a bad
// checksum it reads up to five times: the same wrong bytes every time are a
// bad store, changing bytes a bad bus.
func LookDown(ctx context.Context, bus Bus, o DownOptions) Downstream {
	var d Downstream
	reads := o.Reads
	if reads <= 0 {
		reads = 2
	}
	var all [][]byte
	for n := 0; n < reads; n++ {
		got, err := ReadEDID(ctx, bus, ReadOptions{})
		d.Log = append(d.Log, got.Log...)
		if n == 0 {
			d.Ack = acknowledged(got.Bytes, err)
			d.EDID = Got(got.Bytes)
			if err != nil {
				d.EDID = Value[[]byte]{State: Unable, V: got.Bytes, Err: err}
			}
		}
		if err != nil {
			if n == 0 {
				// Nothing to compare with: say so rather than "unstable".
				d.Stable = CannotMeasure[bool](err)
			} else if d.Stable.State == NotTried {
				d.Stable = Got(false) // what read well once does not any more
			}
			break
		}
		all = append(all, got.Bytes)
		if !bytes.Equal(got.Bytes, all[0]) {
			d.Stable = Got(false)
		}
		if (d.Stable.State == Known || !blocksGood(got.Bytes)) && o.Reads <= 0 {
			reads = suspiciousReads
		}
	}
	if d.Stable.State == NotTried && len(all) > 1 {
		d.Stable = Got(true)
	}
	d.Wire = JudgeReads(all)
	if slow, ok := JudgeTimes(d.Log); ok {
		d.Wire = append(d.Wire, slow)
	}
	return d
}

// acknowledged judges a first read: whether anything answered at 0x50.
func acknowledged(got []byte, err error) Value[bool] {
	switch {
	case err == nil, len(got) > 0, errors.Is(err, ErrBroken):
		return Got(true)
	case errors.Is(err, ErrNoAck):
		return Value[bool]{State: Known, V: false, Err: err}
	default:
		return CannotMeasure[bool](err)
	}
}

func blocksGood(b []byte) bool {
	if len(b) < blockLen || !goodBaseBlock(b[:blockLen]) {
		return false
	}
	for at := blockLen; at+blockLen <= len(b); at += blockLen {
		if !checksumOK(b[at : at+blockLen]) {
			return false
		}
	}
	return true
}

package sim

import (
	"bytes"

	"deadhop/ddc"
	"deadhop/edid/timing"
)

// This file is the source's firmware. It reads and understands an EDID as
// sources do, little and strictly: what does not add up is not there. It
// shares nothing with the decoder on purpose, for the equipment under test
// does not either.

const readAttempts = 5 // as Linux' drm_edid.c tries

// readEDID reads all blocks whose checksums add up; nil where the base block
// does not.
func (s *sourceBoard) readEDID(l ddcLine) []byte {
	luck := s.luck()
	base := s.readBlock(l, 0, luck)
	if base == nil || !bytes.Equal(base[:8], []byte{0, 255, 255, 255, 255, 255, 255, 0}) {
		return nil
	}
	edid := base
	for n := 1; n <= int(base[126]); n++ {
		if ext := s.readBlock(l, n, luck); ext != nil {
			edid = append(edid, ext...)
		}
	}
	return edid
}

func (s *sourceBoard) readBlock(l ddcLine, n int, luck noise) []byte {
	for range readAttempts {
		b := make([]byte, 128)
		msgs := []ddc.Msg{{Addr: addrEDID, Data: []byte{byte(n * 128)}}, {Addr: addrEDID, Read: true, Data: b}}
		if n >= 2 {
			msgs = append([]ddc.Msg{{Addr: addrSegment, Data: []byte{byte(n / 2)}}}, msgs...)
		}
		if _, err := l.transfer(msgs, s.pullUp(), luck); err != nil {
			return nil
		}
		var sum byte
		for _, v := range b {
			sum += v
		}
		if sum == 0 {
			return b
		}
	}
	return nil
}

// view is what the firmware takes from an EDID.
type view struct {
	ok          bool // there is a preferred timing
	preferred   timing.Timing
	hdmi, sound bool
}

func sinkView(e []byte) view {
	var v view
	v.preferred, v.ok = firstDetailed(e[54:72])
	for at := 128; at+128 <= len(e); at += 128 {
		ext := e[at : at+128]
		if ext[0] != 2 { // CTA-861
			continue
		}
		v.sound = v.sound || ext[3]&0x40 != 0
		end := min(int(ext[2]), 127)
		for i := 4; i < end; {
			tag, n := ext[i]>>5, int(ext[i]&31)
			if i+1+n > end {
				break
			}
			body := ext[i+1 : i+1+n]
			v.sound = v.sound || tag == 1
			v.hdmi = v.hdmi || tag == 3 && n >= 5 && bytes.Equal(body[:3], []byte{0x03, 0x0C, 0x00})
			i += 1 + n
		}
	}
	return v
}

// firstDetailed unpacks the 18 bytes of E-EDID A.2 section 3.10.2. Interlaced
// formats are left out: no source here sends one unasked.
func firstDetailed(d []byte) (timing.Timing, bool) {
	u := func(low, high byte) uint32 { return uint32(high)<<8 | uint32(low) }
	clock := uint64(u(d[0], d[1])) * 10000
	if clock == 0 || d[17]&0x80 != 0 {
		return timing.Timing{}, false
	}
	axis := func(active, blank, front, sync uint32, positive bool) timing.Axis {
		return timing.Axis{Active: active, Front: front, Sync: sync, Back: blank - front - sync, Positive: positive}
	}
	digital := d[17]&0x18 == 0x18
	t := timing.Timing{PixelClock: timing.Hz(clock), Repeat: 1,
		H: axis(u(d[2], d[4]>>4), u(d[3], d[4]&15), u(d[8], d[11]>>6), u(d[9], d[11]>>4&3), digital && d[17]&2 != 0),
		V: axis(u(d[5], d[7]>>4), u(d[6], d[7]&15), uint32(d[10]>>4)|uint32(d[11]>>2&3)<<4,
			uint32(d[10]&15)|uint32(d[11]&3)<<4, digital && d[17]&4 != 0)}
	return t, t.Validate() == nil
}

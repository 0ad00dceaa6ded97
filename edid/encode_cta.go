package edid

import "reflect"

// append encodes the extension anew: flags, data blocks, timings, padding and
// checksum.
func (c *CTA) append(dst []byte) ([]byte, error) {
	if c.Revision < 1 || c.Revision > 3 {
		return dst, refuse("CTA-861 revision", "CTA-861 7.1", "revision %d; 1 to 3 exist", c.Revision)
	}
	if len(c.Blocks) > 0 && c.Revision < 3 {
		return dst, refuse("data block", "CTA-861 7.1", "revision %d has no data blocks", c.Revision)
	}
	b := make([]byte, 4, BlockSize)
	b[0], b[1] = byte(CTATag), c.Revision
	if c.Revision >= 2 {
		if c.NativeTimings > 15 {
			return dst, refuse("native timings", "CTA-861 7.3", "%d; 15 can be counted", c.NativeTimings)
		}
		b[3] = c.NativeTimings
		for i, on := range [4]bool{c.Underscan, c.BasicAudio, c.YCbCr444, c.YCbCr422} {
			if on {
				b[3] |= 0x80 >> i
			}
		}
	}
	for i, x := range c.Blocks {
		if bad, ok := x.(*BadBlock); ok && bad.Reason == BlockOverruns && (i < len(c.Blocks)-1 || len(c.Timings) > 0) {
			return dst, refuse("data block", "CTA-861 7.4", "the damaged block at offset %d swallows what follows it; drop it first", bad.at)
		}
		var err error
		if b, err = appendDataBlock(b, x); err != nil {
			return dst, err
		}
	}
	if len(b) > 127 {
		return dst, refuse("data blocks", "CTA-861 7.1", "%d bytes of data blocks; 123 fit", len(b)-4)
	}
	if len(c.Blocks) > 0 || len(c.Timings) > 0 {
		b[2] = byte(len(b))
	}
	for i := range c.Timings {
		t := &c.Timings[i]
		if t.raw != nil && reflect.DeepEqual(decodeDetailedTiming(t.raw, 0).moved(t.at), *t) {
			b = append(b, t.raw...)
			continue
		}
		var err error
		if b, err = t.append(b); err != nil {
			return dst, err
		}
	}
	if len(b) > 127 {
		return dst, refuse("detailed timings", "CTA-861 7.1", "data blocks and %d timings need %d bytes; 127 fit", len(c.Timings), len(b))
	}
	b = b[:BlockSize]
	setChecksum(b)
	return append(dst, b...), nil
}

func (t DetailedTiming) moved(at int) DetailedTiming {
	t.at = at
	return t
}

// appendDataBlock appends one data block: its bytes where it is untouched,
// else its fields.
func appendDataBlock(dst []byte, x DataBlock) ([]byte, error) {
	tag := x.Tag()
	if raw := x.Raw(); raw != nil {
		d := decoder{e: &EDID{raw: make([]byte, BlockSize)}}
		if _, bad := x.(*BadBlock); bad || reflect.DeepEqual(d.decodeDataBlock(raw, x.Offset(), tag), x) {
			return append(dst, raw...), nil
		}
	}
	p, err := payload(x)
	if err != nil {
		return dst, err
	}
	// A tail that is not decoded stays.
	if raw := x.Raw(); raw != nil {
		head := 1
		if tag >= ExtendedTag {
			head = 2
		}
		if old := raw[min(head, len(raw)):]; keepsTail(x) && len(old) > len(p) {
			p = append(p, old[len(p):]...)
		}
	}
	n := len(p)
	if tag >= ExtendedTag {
		n++
	}
	if n > 31 {
		return dst, refuse(tag.String(), "CTA-861 7.4", "%d bytes of payload; a data block has at most 31", n)
	}
	if tag >= ExtendedTag {
		return append(append(dst, 7<<5|byte(n), byte(tag)), p...), nil
	}
	return append(append(dst, byte(tag)<<5|byte(n)), p...), nil
}

// keepsTail tells the kinds with a fixed layout that a newer standard may
// have made longer.
func keepsTail(x DataBlock) bool {
	switch x.(type) {
	case *HDMIForum, *HDRStatic, *Colorimetry, *VideoCapability, *Speakers, *HDMIOverride:
		return true
	}
	return false
}

// payload encodes the fields of a block, without its tags.
func payload(x DataBlock) ([]byte, error) {
	switch x := x.(type) {
	case *Video:
		return svdBytes(x.SVDs)
	case *YCbCr420Video:
		return svdBytes(x.SVDs)
	case *YCbCr420Map:
		return append([]byte(nil), x.Bits...), nil
	case *Preference:
		var p []byte
		for _, s := range x.SVRs {
			if k, _ := s.Refers(); k == SVRReserved {
				return nil, refuse(x.Tag().String(), "CTA-861 7.5.12", "the reference %d is reserved", s)
			}
			p = append(p, byte(s))
		}
		return p, nil
	case *Audio:
		var p []byte
		for _, s := range x.SADs {
			if s.Format() == 0 {
				return nil, refuse("audio", "CTA-861 7.5.2", "the audio format code 0 is reserved")
			}
			p = append(p, s[:]...)
		}
		return p, nil
	case *Speakers:
		return []byte{byte(x.Mask), byte(x.Mask >> 8), byte(x.Mask >> 16)}, nil
	case *VideoCapability:
		b := byte(x.PT&3)<<4 | byte(x.IT&3)<<2 | byte(x.CE&3)
		if x.YCCRange {
			b |= 0x80
		}
		if x.RGBRange {
			b |= 0x40
		}
		return []byte{b}, nil
	case *Colorimetry:
		return []byte{byte(x.Set), byte(x.Set >> 8)}, nil
	case *HDRStatic:
		return []byte{byte(x.EOTFs), x.Descriptor, x.MaxCode, x.AvgCode, x.MinCode}, nil
	case *HDMIOverride:
		return []byte{x.Count}, nil
	case *VendorBlock:
		return append(ouiBytes(x.OUI), x.Data...), nil
	case *UnknownBlock:
		return append([]byte(nil), x.Payload...), nil
	case *HDMI:
		return x.payload()
	case *HDMIForum:
		return x.payload()
	}
	return nil, refuse(x.Tag().String(), "", "this kind of data block can be kept or dropped, not changed")
}

func ouiBytes(o OUI) []byte { return []byte{byte(o), byte(o >> 8), byte(o >> 16)} }

func svdBytes(s []SVD) ([]byte, error) {
	var p []byte
	for _, v := range s {
		if v.VIC() == 0 {
			return nil, refuse("video", "CTA-861 7.5.1", "the video code %d is reserved", uint8(v))
		}
		p = append(p, byte(v))
	}
	return p, nil
}

// Drop removes the data blocks for which is returns true, and tells how many.
func (c *CTA) Drop(is func(DataBlock) bool) int {
	var keep []DataBlock
	for _, b := range c.Blocks {
		if !is(b) {
			keep = append(keep, b)
		}
	}
	n := len(c.Blocks) - len(keep)
	c.Blocks = keep
	return n
}

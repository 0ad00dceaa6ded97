package edid

import "reflect"

// append encodes the section anew from its blocks, which can be kept, dropped
// or added as *IDUnknown, not changed inside.
func (s *DisplayID) append(dst []byte) ([]byte, error) {
	if s.Version.Major < 1 || s.Version.Major > 2 || s.Version.Minor > 15 {
		return dst, refuse("DisplayID", "DisplayID 2.1 2.1", "version %s; 1 and 2 exist", s.Version)
	}
	b := make([]byte, 5, BlockSize)
	b[0], b[1], b[3], b[4] = byte(DisplayIDTag), s.Version.Major<<4|s.Version.Minor, s.Use, s.MoreSections
	for _, x := range s.Blocks {
		raw := x.Raw()
		if u, ok := x.(*IDUnknown); ok && raw == nil {
			if len(u.Payload) > 248 {
				return dst, refuse(u.Kind.String(), "DisplayID 2.1 2.2", "%d bytes; a block has at most 248", len(u.Payload))
			}
			b = append(append(b, byte(u.Kind), u.Revision, byte(len(u.Payload))), u.Payload...)
			continue
		}
		if raw == nil || !s.untouched(x) {
			return dst, refuse(x.Tag().String(), "", "this kind of block can be kept or dropped, not changed")
		}
		b = append(b, raw...)
	}
	if len(b) > 126 {
		return dst, refuse("DisplayID", "DisplayID 2.1 2.1", "%d bytes of data blocks; 121 fit", len(b)-5)
	}
	// 121 bytes of blocks and filler are the usual section inside an EDID.
	b = b[:126]
	b[2] = 121
	b = append(b, -sum(b[1:126]))
	b = b[:BlockSize]
	b[127] = 0
	setChecksum(b)
	return append(dst, b...), nil
}

// untouched reports whether a block is still what the section's bytes say.
func (s *DisplayID) untouched(x IDBlock) bool {
	if s.raw == nil {
		return false
	}
	was, ok := decodeAlone(s.raw).(*DisplayID)
	if !ok {
		return false
	}
	for _, w := range was.Blocks {
		if w.Offset() == x.Offset() && reflect.DeepEqual(w, x) {
			return true
		}
	}
	return false
}

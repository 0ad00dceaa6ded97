package edid

import (
	"fmt"
	"reflect"
)

// EncodeError says why a part cannot be encoded: the standard forbids it, or
// this package does not encode it.
type EncodeError struct {
	Block int
	Field string
	Msg   string
	Spec  string // clause that forbids it
}

func (e *EncodeError) Error() string {
	return fmt.Sprintf("block %d, %s", e.Block, e.reason())
}

func (e *EncodeError) reason() string {
	s := e.Field + ": " + e.Msg
	if e.Spec != "" {
		s += " (" + e.Spec + ")"
	}
	return s
}

func refuse(field, spec, format string, args ...any) error {
	return &EncodeError{Field: field, Spec: spec, Msg: fmt.Sprintf(format, args...)}
}

// AppendBinary appends the EDID to dst. Blocks whose fields were not touched
// keep their bytes, a wrong checksum included. A block with a changed field
// is encoded anew, its lengths and checksum with it; fields that were not
// touched keep their bits there too. The extension count follows the number
// of extensions where that was changed.
//
// What the standard forbids is an *EncodeError; dst is then returned as it
// was.
func (e *EDID) AppendBinary(dst []byte) ([]byte, error) {
	was := &EDID{raw: make([]byte, BlockSize)}
	if e.raw != nil {
		w, err := Decode(e.raw)
		if err != nil {
			return dst, err
		}
		was = w
	}
	base := e.Base
	if len(e.Extensions) != len(was.Extensions) && base.ExtensionCount == was.Base.ExtensionCount {
		if len(e.Extensions) > 255 {
			return dst, refuse("extension count", "E-EDID 3.11", "%d extensions; 255 can be counted", len(e.Extensions))
		}
		base.ExtensionCount = uint8(len(e.Extensions))
	}
	out, err := appendBase(dst, was.raw[:BlockSize], &was.Base, &base, e.raw == nil)
	if err != nil {
		return dst, err
	}
	for i, x := range e.Extensions {
		if out, err = appendExtension(out, x); err != nil {
			if enc, ok := err.(*EncodeError); ok {
				enc.Block = i + 1
			}
			return dst, err
		}
	}
	// Bytes behind the last whole block are kept as long as it is the same.
	if n := len(e.raw) % BlockSize; n != 0 && len(e.Extensions) == len(was.Extensions) {
		out = append(out, e.raw[len(e.raw)-n:]...)
	}
	return out, nil
}

// MarshalBinary is AppendBinary into a new slice.
func (e *EDID) MarshalBinary() ([]byte, error) { return e.AppendBinary(nil) }

func appendBase(dst, raw []byte, was, now *Base, fresh bool) ([]byte, error) {
	if !fresh && reflect.DeepEqual(was, now) {
		return append(dst, raw...), nil
	}
	b := append([]byte(nil), raw...)
	if fresh {
		copy(b, header[:])
		was = &Base{}
	}
	if err := encodeBase(b, was, now); err != nil {
		return dst, err
	}
	for i, x := range now.Descriptors {
		if x == nil {
			return dst, refuse("descriptor", "E-EDID 3.10", "descriptor %d is missing; an unused one is a dummy", i+1)
		}
		if reflect.DeepEqual(was.Descriptors[i], x) {
			continue
		}
		d, err := appendDescriptor(nil, x, now.Version)
		if err != nil {
			return dst, err
		}
		copy(b[0x36+18*i:], d)
	}
	setChecksum(b)
	return append(dst, b...), nil
}

func setChecksum(b []byte) { b[127] -= sum(b[:BlockSize]) }

// encodeBase writes the fields of now that differ from was.
func encodeBase(b []byte, was, now *Base) error {
	if now.Maker != was.Maker && !now.Maker.Valid() {
		return refuse("maker", "E-EDID 3.4.1", "the code %04X is no three letters", uint16(now.Maker))
	}
	if now.Version != was.Version {
		if now.Version.Major != 1 || now.Version.Minor > 4 {
			return refuse("version", "E-EDID 3.5", "version %s; 1.0 to 1.4 exist", now.Version)
		}
		b[0x12], b[0x13] = now.Version.Major, now.Version.Minor
	}
	b[8], b[9] = byte(now.Maker>>8), byte(now.Maker)
	b[10], b[11] = byte(now.Product), byte(now.Product>>8)
	for i := range 4 {
		b[12+i] = byte(now.Serial >> (8 * i))
	}
	if now.Made != was.Made {
		if err := encodeDate(b, now); err != nil {
			return err
		}
	}
	b[0x14], b[0x15], b[0x16] = byte(now.Input), now.Screen.H, now.Screen.V
	b[0x17], b[0x18] = byte(now.Gamma), byte(now.Features)
	if now.Input != was.Input && now.Input.Digital() && now.Version.AtLeast(4) &&
		(now.Input>>4&7 == 7 || now.Input.Interface() > InterfaceDisplayPort) {
		return refuse("video input", "E-EDID 3.6.1", "the code %02X is reserved", byte(now.Input))
	}
	if now.Chroma != was.Chroma {
		for _, p := range [4]Point{now.Chroma.Red, now.Chroma.Green, now.Chroma.Blue, now.Chroma.White} {
			if p.X > 1023 || p.Y > 1023 {
				return refuse("chromaticity", "E-EDID 3.7", "%d/1024, %d/1024; 1023/1024 is the largest", p.X, p.Y)
			}
		}
	}
	now.Chroma.append(b[:0x19])
	copy(b[0x23:], now.Established[:])
	for i, s := range now.Standard {
		if s != was.Standard[i] && s[0] == 0 {
			return refuse("standard timing", "E-EDID 3.9", "the code %02X %02X is reserved", s[0], s[1])
		}
		copy(b[0x26+2*i:], s[:])
	}
	b[0x7E] = now.ExtensionCount
	return nil
}

func encodeDate(b []byte, now *Base) error {
	d := now.Made
	switch {
	case d.Year < 1990 || d.Year > 1990+255:
		return refuse("year", "E-EDID 3.4.4", "%d; 1990 to 2245 can be coded", d.Year)
	case d.Week > 54 || d.Week == 54 && !now.Version.AtLeast(4):
		return refuse("week", "E-EDID 3.4.4", "week %d", d.Week)
	case d.ModelYear && !now.Version.AtLeast(4):
		return refuse("model year", "E-EDID 3.4.4", "a model year needs version 1.4")
	}
	b[0x10], b[0x11] = d.Week, byte(d.Year-1990)
	if d.ModelYear {
		b[0x10] = 0xFF
	}
	return nil
}

// appendExtension appends one extension block.
func appendExtension(dst []byte, x Extension) ([]byte, error) {
	raw := x.Raw()
	if raw != nil && reflect.DeepEqual(decodeAlone(raw), x) {
		return append(dst, raw...), nil
	}
	switch x := x.(type) {
	case *CTA:
		return x.append(dst)
	case *DisplayID:
		return x.append(dst)
	}
	return dst, refuse(x.Tag().String(), "", "this kind of block can be kept or dropped, not changed")
}

// decodeAlone decodes an extension block as it stands by itself.
func decodeAlone(raw []byte) Extension {
	d := decoder{e: &EDID{raw: append(make([]byte, BlockSize, 2*BlockSize), raw...)}, block: 1}
	d.text = string(d.e.raw)
	return d.decodeExtension(d.e.raw[BlockSize:])
}

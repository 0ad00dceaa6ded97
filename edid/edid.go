package edid

import (
	"crypto/sha256"
	"fmt"

	"deadhop/edid/timing"
)

// BlockSize is the size of every EDID block in bytes.
const BlockSize = 128

// MaxBlocks is the largest number of blocks that E-DDC can address: 128
// segments of two.
const MaxBlocks = 256

// EDID is a decoded EDID. Change its fields and call AppendBinary to encode;
// what stays untouched encodes to the bytes it came from.
type EDID struct {
	Base       Base
	Extensions []Extension // in the order of the blocks; Extensions[0] is block 1
	Issues     []Issue     // in the order of block and offset within each check

	raw []byte
}

// Extension is one block after the base block: *CTA, *DisplayID, *VTB,
// *BlockMap or *UnknownExtension.
type Extension interface {
	Tag() ExtensionTag
	// Raw is the block as read, 128 bytes, or nil for one that was made new.
	// It must not be changed.
	Raw() []byte
}

// body is what every part of a decoded EDID remembers of its origin.
type body struct {
	raw []byte
	at  int
}

// Raw is the part as read, nil if it was made new. It must not be changed.
func (b *body) Raw() []byte { return b.raw }

// Offset is where the part starts within its 128-byte block.
func (b *body) Offset() int { return b.at }

// SizeError says that the bytes cannot be an EDID because of their number.
type SizeError struct{ Len int }

func (e *SizeError) Error() string {
	switch {
	case e.Len == 0:
		return "no EDID: nothing was read (0 bytes)"
	case e.Len < BlockSize:
		return fmt.Sprintf("no EDID: %d bytes, and an EDID block has %d", e.Len, BlockSize)
	}
	return fmt.Sprintf("no EDID: %d bytes, and the largest EDID has %d (%d blocks)",
		e.Len, MaxBlocks*BlockSize, MaxBlocks)
}

// Decode decodes an EDID of one block or more. It copies b. The only error is
// a *SizeError, for bytes too few or too many to be an EDID at all; any other
// damage is reported in Issues.
func Decode(b []byte) (*EDID, error) {
	if len(b) < BlockSize || len(b) > MaxBlocks*BlockSize {
		return nil, &SizeError{Len: len(b)}
	}
	d := decoder{e: &EDID{raw: append([]byte(nil), b...)}}
	// All strings of the EDID are cut from this one copy.
	d.text = string(d.e.raw)
	d.e.Issues = make([]Issue, 0, 8)
	d.decode()
	return d.e, nil
}

// decoder carries one decoding.
type decoder struct {
	e     *EDID
	text  string
	block int  // the block at work
	mute  bool // the base block is rubbish: its fields are not judged
	// overrun: the data blocks of the extension at work run into its timings,
	// so these are not judged. hidesHDMI: an overrun hid the HDMI block.
	overrun, hidesHDMI bool
}

func (d *decoder) decode() {
	raw := d.e.raw
	d.judgeShape()
	d.decodeBase(raw[:BlockSize])
	n := len(raw)/BlockSize - 1
	if n > 0 {
		d.e.Extensions = make([]Extension, n)
	}
	for i := range n {
		d.block = i + 1
		d.e.Extensions[i] = d.decodeExtension(raw[(i+1)*BlockSize : (i+2)*BlockSize : (i+2)*BlockSize])
	}
	d.judgeWhole()
}

// cut is the text of n bytes at off within the block at work.
func (d *decoder) cut(off, n int) string {
	p := d.block*BlockSize + off
	return d.text[p : p+n]
}

func (d *decoder) add(c IssueCode, off, n int, field string, args ...int) {
	i := Issue{Code: c, Severity: catalogue[c].Severity, Block: d.block, Offset: off, Len: n, Field: field}
	copy(i.args[:], args)
	d.e.Issues = append(d.e.Issues, i)
}

// addAs is add with a severity other than the catalogue's usual one.
func (d *decoder) addAs(s Severity, c IssueCode, off, n int, field string, args ...int) {
	d.add(c, off, n, field, args...)
	d.e.Issues[len(d.e.Issues)-1].Severity = s
}

// Raw is the EDID as read. It must not be changed.
func (e *EDID) Raw() []byte { return e.raw }

// SHA256 is the hash of all bytes as read. Maker, product and serial number
// do not identify an EDID: the inputs of one display differ in it.
func (e *EDID) SHA256() [sha256.Size]byte { return sha256.Sum256(e.raw) }

// Worst is the severity of the worst issue, and false where there is none.
func (e *EDID) Worst() (Severity, bool) {
	worst, found := Severity(0), false
	for _, i := range e.Issues {
		if !found || i.Severity < worst {
			worst, found = i.Severity, true
		}
	}
	return worst, found
}

// ChecksumsGood reports whether every block sums to zero.
func (e *EDID) ChecksumsGood() bool {
	for b := e.raw; len(b) >= BlockSize; b = b[BlockSize:] {
		if sum(b[:BlockSize]) != 0 {
			return false
		}
	}
	return true
}

// sum is the sum of bytes modulo 256.
func sum(b []byte) byte {
	var s byte
	for _, v := range b {
		s += v
	}
	return s
}

// CTAs lists the CTA-861 extensions in block order.
func (e *EDID) CTAs() []*CTA {
	var out []*CTA
	for _, x := range e.Extensions {
		if c, ok := x.(*CTA); ok {
			out = append(out, c)
		}
	}
	return out
}

// Identity is who the display says it is.
type Identity struct {
	Maker      MakerID
	Product    uint16
	Serial     uint32 // 0 where not used
	Name       string // product name descriptor, "" where there is none
	SerialText string // serial number descriptor, "" where there is none
}

// Identity collects maker, product, serial number and name.
func (e *EDID) Identity() Identity {
	return Identity{
		Maker: e.Base.Maker, Product: e.Base.Product, Serial: e.Base.Serial,
		Name:       e.Base.Text(NameTag),
		SerialText: e.Base.Text(SerialTag),
	}
}

// String gives the identity as one line: "XQZ 1234 "name" serial S".
func (i Identity) String() string {
	s := fmt.Sprintf("%s %04X", i.Maker, i.Product)
	if i.Name != "" {
		s += fmt.Sprintf(" %q", i.Name)
	}
	switch {
	case i.SerialText != "":
		s += " serial " + i.SerialText
	case i.Serial != 0:
		s += fmt.Sprintf(" serial %d", i.Serial)
	}
	return s
}

// Preferred is the timing that the display asks for before all others: the
// first detailed timing of the base block (E-EDID 3.10.1). A section of
// DisplayID or a format preference block may say otherwise, see Formats. It
// is false where the first descriptor is no timing.
func (e *EDID) Preferred() (timing.Timing, bool) {
	if t, ok := e.Base.Descriptors[0].(*DetailedTiming); ok {
		return t.Timing, true
	}
	return timing.Timing{}, false
}

// RangeLimits is the first range limits descriptor, nil where there is none.
func (e *EDID) RangeLimits() *RangeLimits {
	for _, x := range e.Base.Descriptors {
		if r, ok := x.(*RangeLimits); ok {
			return r
		}
	}
	return nil
}

// Hash is the SHA-256 of the bytes in hexadecimal.
func Hash(b []byte) string { return fmt.Sprintf("%x", sha256.Sum256(b)) }

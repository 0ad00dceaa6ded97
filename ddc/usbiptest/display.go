package usbiptest

// Addresses of a display's DDC slaves, 7 bit (VESA E-DDC 1.3 clause 2.2.1,
// VESA DDC/CI 1.1 clause 2, HDMI 2.0 clause 10.4.1; from memory).
const (
	SegmentAddr uint16 = 0x30
	CommandAddr uint16 = 0x37
	EDIDAddr    uint16 = 0x50
	StatusAddr  uint16 = 0x54
)

// Display is the EDID store of a display: a word offset that counts up with
// each byte read, and the segment pointer that goes back to 0 at every stop
// (VESA E-DDC 1.3 clause 2.2.5; from memory). Reading beyond the store gives
// FF, as an unprogrammed cell does.
type Display struct {
	EDID []byte
	// Wrap is the size in bytes at which reads start over within a
	// segment, such as 128 for the smallest EEPROM; 0 means 256.
	Wrap int

	segment, offset int
}

// NewDisplay puts an EDID store on the wire. With segmented, it takes part
// in segment addressing; a display with at most two blocks need not.
func NewDisplay(w *Wire, edid []byte, segmented bool) *Display {
	d := &Display{EDID: edid}
	w.Add(EDIDAddr, d)
	if segmented {
		w.Add(SegmentAddr, segmentPointer{d})
	}
	return d
}

// Write sets the word offset. The store is write-protected: further bytes
// are not acknowledged.
func (d *Display) Write(data []byte) (int, bool) {
	if len(data) == 0 {
		return 0, true
	}
	d.offset = int(data[0])
	return 1, true
}

// Read reads on from the word offset, within the segment.
func (d *Display) Read(data []byte) bool {
	wrap := d.Wrap
	if wrap == 0 {
		wrap = 256
	}
	for i := range data {
		data[i] = 0xff
		if at := d.segment*256 + d.offset%wrap; at < len(d.EDID) {
			data[i] = d.EDID[at]
		}
		d.offset = (d.offset + 1) % 256
	}
	return true
}

// Stop ends the validity of the segment pointer.
func (d *Display) Stop() { d.segment = 0 }

// segmentPointer is the display's slave at 30h.
type segmentPointer struct{ d *Display }

func (s segmentPointer) Write(data []byte) (int, bool) {
	if len(data) == 0 {
		return 0, true
	}
	s.d.segment = int(data[0])
	return 1, true
}

func (segmentPointer) Read([]byte) bool { return false }
func (segmentPointer) Stop()            {}

// Registers is a slave with 256 byte-wide registers behind one offset, as
// the status and control channel of an HDMI 2.0 display has them (HDMI 2.0
// clause 10.4.1, from memory). OnRead, where set, runs before each read: a
// place to let counters move or clear themselves.
type Registers struct {
	Bytes  [256]byte
	OnRead func(offset byte, r *Registers)

	offset byte
}

// Write sets the offset by its first byte and the registers by the rest.
func (r *Registers) Write(data []byte) (int, bool) {
	for i, b := range data {
		if i == 0 {
			r.offset = b
			continue
		}
		r.Bytes[r.offset] = b
		r.offset++
	}
	return len(data), true
}

// Read reads on from the offset.
func (r *Registers) Read(data []byte) bool {
	if r.OnRead != nil {
		r.OnRead(r.offset, r)
	}
	for i := range data {
		data[i] = r.Bytes[r.offset]
		r.offset++
	}
	return true
}

// Stop does nothing: registers keep their offset.
func (r *Registers) Stop() {}

// Feature is the value of one control of a display.
type Feature struct{ Max, Now uint16 }

// Commander answers "get feature" requests at 37h (VESA DDC/CI 1.1 clauses
// 4.3 and 4.4, MCCS; from memory). Other requests are acknowledged and get a
// null message.
type Commander struct {
	Features map[byte]Feature
	// WrongChecksum spoils the check byte of every answer.
	WrongChecksum bool

	answer []byte
}

// Write takes a request and prepares the answer.
func (c *Commander) Write(data []byte) (int, bool) {
	c.answer = []byte{0x6e, 0x80}
	// Source address 51h, length, then "get feature" 01h and its code.
	// The check byte closes the request: XOR of all, 6Eh included, is 0.
	if len(data) == 5 && data[0] == 0x51 && data[1] == 0x82 && data[2] == 0x01 && xor(0x6e, data) == 0 {
		code := data[3]
		f, ok := c.Features[code]
		c.answer = []byte{0x6e, 0x88, 0x02, 0x00, code, 0x00,
			byte(f.Max >> 8), byte(f.Max), byte(f.Now >> 8), byte(f.Now)}
		if !ok {
			c.answer[3] = 0x01 // unsupported code
		}
	}
	// Answers are checked from the virtual host address 50h on.
	check := xor(0x50, c.answer)
	if c.WrongChecksum {
		check ^= 0xff
	}
	c.answer = append(c.answer, check)
	return len(data), true
}

// Read gives the prepared answer, then zeros.
func (c *Commander) Read(data []byte) bool {
	clear(data)
	copy(data, c.answer)
	return true
}

// Stop does nothing: the answer waits for its read.
func (c *Commander) Stop() {}

func xor(start byte, data []byte) byte {
	for _, b := range data {
		start ^= b
	}
	return start
}

package ddctest

import "deadhop/ddc/usbiptest"

// EEPROM is a 2 kbit serial EEPROM at the EDID address: pages of eight bytes
// within which a write wraps around, busy for a while after each.
type EEPROM struct {
	Data [256]byte
	// Busy is how many times the address is refused after a page write.
	Busy int
	// Protected chips acknowledge and keep what they have; Refusing ones do
	// not acknowledge data.
	Protected, Refusing bool
	// Weak cells: bits that cannot be cleared at an offset.
	Weak map[byte]byte

	offset byte
	busy   int
}

var _ usbiptest.Slave = (*EEPROM)(nil)

// Write implements usbiptest.Slave.
func (e *EEPROM) Write(data []byte) (int, bool) {
	if e.busy > 0 {
		e.busy--
		return 0, false
	}
	if len(data) == 0 {
		return 0, true
	}
	e.offset = data[0]
	if len(data) == 1 {
		return 1, true
	}
	if e.Refusing {
		return 1, true
	}
	page := e.offset &^ 7
	for _, b := range data[1:] {
		if !e.Protected {
			e.Data[e.offset] = b | e.Weak[e.offset]
		}
		e.offset = page | (e.offset+1)&7
	}
	e.busy = e.Busy
	return len(data), true
}

// Read implements usbiptest.Slave.
func (e *EEPROM) Read(data []byte) bool {
	if e.busy > 0 {
		e.busy--
		return false
	}
	for i := range data {
		data[i] = e.Data[e.offset]
		e.offset++
	}
	return true
}

// Stop implements usbiptest.Slave.
func (e *EEPROM) Stop() {}

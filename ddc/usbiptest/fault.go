package usbiptest

// At applies a fault to message n alone.
func At(n int, f Fault) Fault {
	return func(i int, m *Message) {
		if i == n {
			f(i, m)
		}
	}
}

// From applies a fault from message n on.
func From(n int, f Fault) Fault {
	return func(i int, m *Message) {
		if i >= n {
			f(i, m)
		}
	}
}

// On applies a fault to the messages for one address.
func On(addr uint16, f Fault) Fault {
	return func(i int, m *Message) {
		if m.Addr == addr {
			f(i, m)
		}
	}
}

// Ends makes messages end with the given outcome.
func Ends(o Outcome) Fault { return func(_ int, m *Message) { m.Outcome = o } }

// StuckLow holds bits of every byte read at 0, as a shorted or overloaded
// data line does. mask has a 1 for each such bit.
func StuckLow(mask byte) Fault { return reads(func(_ int, b byte) byte { return b &^ mask }) }

// StuckHigh holds bits of every byte read at 1.
func StuckHigh(mask byte) Fault { return reads(func(_ int, b byte) byte { return b | mask }) }

// Flip inverts bits of one byte, counted within each read.
func Flip(at int, mask byte) Fault {
	return reads(func(i int, b byte) byte {
		if i == at {
			return b ^ mask
		}
		return b
	})
}

// Drifting inverts a bit at a place that differs from read to read, so that
// two reads never agree. The places are the same in every run.
func Drifting() Fault {
	seen := 0
	return func(_ int, m *Message) {
		if m.Read && m.Outcome == Done && len(m.Data) > 0 {
			m.Data[(seen*37+11)%len(m.Data)] ^= 1 << (seen % 8)
			seen++
		}
	}
}

// Shifted delays every bit by one clock, as a missed edge does: each byte
// takes its top bit from the one before it.
func Shifted() Fault {
	return func(_ int, m *Message) {
		if !m.Read || m.Outcome != Done {
			return
		}
		carry := byte(1)
		for i, b := range m.Data {
			m.Data[i] = carry<<7 | b>>1
			carry = b & 1
		}
	}
}

// Rolled starts every read n bytes late, as a lost offset write does.
func Rolled(n int) Fault {
	return func(_ int, m *Message) {
		if !m.Read || m.Outcome != Done || len(m.Data) == 0 {
			return
		}
		k := n % len(m.Data)
		rolled := append(append([]byte{}, m.Data[k:]...), m.Data[:k]...)
		copy(m.Data, rolled)
	}
}

func reads(change func(at int, b byte) byte) Fault {
	return func(_ int, m *Message) {
		if !m.Read || m.Outcome != Done {
			return
		}
		for i, b := range m.Data {
			m.Data[i] = change(i, b)
		}
	}
}

package usbiptest

import (
	"fmt"
	"slices"
	"sync"
)

// Slave answers at one address of an I2C bus.
type Slave interface {
	// Write takes the bytes of one write message and reports how many of
	// them were acknowledged. Refusing the address itself is 0, false.
	Write(data []byte) (acked int, ok bool)
	// Read fills data, or reports false where the address was refused.
	Read(data []byte) (ok bool)
	// Stop is called at the stop condition that ends a transaction in
	// which any slave of the bus took part.
	Stop()
}

// Message is one message as it passed over the wire: the master's address
// and direction, the bytes, and whether it opened or closed a transaction.
type Message struct {
	Addr        uint16
	Read        bool
	First, Last bool
	Data        []byte
	Outcome     Outcome
}

func (m Message) String() string {
	direction := "W"
	if m.Read {
		direction = "R"
	}
	return fmt.Sprintf("%02x %s %x %s", m.Addr, direction, m.Data, m.Outcome)
}

// Outcome is how one message ended, as the adapter must report it.
type Outcome uint8

const (
	Done      Outcome = iota // all bytes moved
	NoAck                    // the address was not acknowledged
	DataNoAck                // a written byte was not acknowledged
	Broken                   // the adapter reports a bus error
	Short                    // the adapter delivers fewer bytes than asked for
	Silent                   // the adapter never answers
	Gone                     // the adapter is unplugged
)

var outcomeNames = [...]string{"done", "no acknowledge", "data not acknowledged", "bus error", "short", "silent", "gone"}

func (o Outcome) String() string {
	if int(o) < len(outcomeNames) {
		return outcomeNames[o]
	}
	return fmt.Sprintf("outcome %d", uint8(o))
}

// Fault looks at a message before the master hears of it and may change the
// bytes that were read and the outcome. n counts the messages since the Wire
// was made, from 0.
type Fault func(n int, m *Message)

// Wire is a bus with its slaves. It is safe for use by several goroutines.
type Wire struct {
	mu     sync.Mutex
	slaves map[uint16]Slave
	faults []Fault
	log    []Message
}

// NewWire makes a bus on which nothing answers.
func NewWire() *Wire { return &Wire{slaves: make(map[uint16]Slave)} }

// Add puts a slave at a 7-bit address, in place of the one that was there.
func (w *Wire) Add(addr uint16, s Slave) {
	w.mu.Lock()
	defer w.mu.Unlock()
	w.slaves[addr] = s
}

// Remove takes the slave at addr off the bus.
func (w *Wire) Remove(addr uint16) {
	w.mu.Lock()
	defer w.mu.Unlock()
	delete(w.slaves, addr)
}

// SetFaults replaces the faults on the bus. They apply in the order given.
func (w *Wire) SetFaults(faults ...Fault) {
	w.mu.Lock()
	defer w.mu.Unlock()
	w.faults = faults
}

// Log returns a copy of every message so far, as the master saw it.
func (w *Wire) Log() []Message {
	w.mu.Lock()
	defer w.mu.Unlock()
	log := slices.Clone(w.log)
	for i := range log {
		log[i].Data = slices.Clone(log[i].Data)
	}
	return log
}

// Transfer carries out one message. For a read, data is filled.
func (w *Wire) Transfer(addr uint16, read, first, last bool, data []byte) Outcome {
	w.mu.Lock()
	defer w.mu.Unlock()
	m := Message{Addr: addr, Read: read, First: first, Last: last, Data: data}
	m.Outcome = w.answer(&m)
	for _, fault := range w.faults {
		fault(len(w.log), &m)
	}
	logged := m
	logged.Data = slices.Clone(m.Data)
	w.log = append(w.log, logged)
	// A master gives up with a stop, whatever was to follow.
	if last || m.Outcome != Done {
		for _, s := range w.slaves {
			s.Stop()
		}
	}
	return m.Outcome
}

func (w *Wire) answer(m *Message) Outcome {
	s, here := w.slaves[m.Addr]
	if !here {
		return NoAck
	}
	if m.Read {
		if !s.Read(m.Data) {
			return NoAck
		}
		return Done
	}
	acked, ok := s.Write(m.Data)
	switch {
	case !ok:
		return NoAck
	case acked < len(m.Data):
		return DataNoAck
	}
	return Done
}

// Package ddc is the bench's side of the HDMI cable: the DDC wire (I2C at
// 100 kHz, VESA E-DDC), the connectors a Linux machine drives and the
// receivers it has. The types in this file are shared by the real bench and
// by the simulated one in package sim.
package ddc

import (
	"context"
	"time"

	"deadhop/edid/timing"
)

// Msg is one message of a combined I2C transaction. Addr is the 7-bit
// address. A read fills Data to its length.
type Msg struct {
	Addr uint16
	Read bool
	Data []byte
}

// Bus carries out combined I2C transactions: the messages are joined by
// repeated starts and end in one stop, because the E-DDC segment pointer is
// forgotten at a stop.
//
// An error is an *OpError and keeps the errno. The kernel's transfer call
// cannot be cancelled: when ctx ends first, Transfer returns its error at
// once and the transfer is left to end by itself; the bus refuses further
// transfers until it has.
type Bus interface {
	Transfer(ctx context.Context, msgs []Msg) error
}

// State says whether a value is one at all. The zero State is NotTried, so
// that an untouched value never reads as "fine".
type State uint8

const (
	NotTried State = iota
	Unable         // tried, or known to be beyond this port: could not measure
	Known
)

// Value is a measured or reported value with its state. Where State is
// Unable, Err says why.
type Value[T any] struct {
	State State
	V     T
	Err   error
}

// Got is a known value.
func Got[T any](v T) Value[T] { return Value[T]{State: Known, V: v} }

// CannotMeasure is a value that could not be measured, and why.
func CannotMeasure[T any](err error) Value[T] { return Value[T]{State: Unable, Err: err} }

// PortKind is what a place on the bench machine can stand in for.
type PortKind uint8

const (
	OutPort PortKind = iota + 1 // a video output: the bench is the source
	InPort                      // a video receiver: the bench is the display
	BareBus                     // an I2C bus alone
)

// Quantity is something that a port may be able to observe.
type Quantity uint8

const (
	Connector  Quantity = iota + 1 // the connector status that the kernel reports
	HotPlug                        // the hot-plug line itself, pin 19
	RxSense                        // termination sensed on the TMDS lines
	Ack                            // acknowledge at the EDID address
	RawEDID                        // EDID bytes straight from the wire
	KernelEDID                     // EDID bytes as the kernel keeps them
	Power5V                        // +5 V from the source, pin 18
	SignalLock                     // no signal, no lock, locked
	InTiming                       // timing of the incoming video
	Picture                        // pixels of the incoming video
	Sound                          // sound of the incoming video
)

// PortInfo describes a port. ID is what a person types and stays the same
// while the hardware does: "out:HDMI-A-1", "in:video0", "bus:i2c-5".
type PortInfo struct {
	ID      string
	Kind    PortKind
	Label   string   // what the driver calls it
	Driver  string   // kernel driver, "" where not known
	Devices []string // device nodes and sysfs folders behind it
	// Observes lists what the port can observe; what is absent is "could
	// not measure" on this port.
	Observes []Quantity
	// Trouble says what keeps the port from being used in full, such as a
	// missing permission; nil where nothing does.
	Trouble error
}

// Port is a place to plug a hop into. Every Port is also an Out, an In or a
// BusPort, as its kind says.
type Port interface {
	Info() PortInfo
}

// Out is a port that stands in for the source and looks down the chain.
type Out interface {
	Port
	LookDown(ctx context.Context, o DownOptions) Downstream
}

// In is a port that stands in for the display and looks up the chain.
type In interface {
	Port
	LookUp(ctx context.Context, o UpOptions) Upstream
	// PresentEDID shows the source this EDID from now on; nil withdraws it.
	// Receivers lower and raise hot-plug with it.
	PresentEDID(ctx context.Context, edid []byte) error
	// PresentedEDID reads back what the port shows.
	PresentedEDID(ctx context.Context) ([]byte, error)
}

// BusPort is a bare I2C bus. It looks down like an Out, seeing less.
type BusPort interface {
	Out
	Bus() (Bus, error)
}

// DownOptions steer a look down. The zero value reads twice.
type DownOptions struct {
	// Reads is how often the EDID is read in full, to tell a bad store
	// (same wrong bytes) from a bad bus (changing bytes). 0 means 2.
	Reads int
}

// UpOptions steer a look up.
type UpOptions struct {
	// Settle is how long to wait for a lock before "no signal" or "no
	// lock" is believed. 0 means do not wait.
	Settle time.Duration
	// Frames is how many frames are grabbed to judge the picture. 0 means
	// 4; a negative number leaves the picture alone.
	Frames int
	// Moves says that the picture is known to move, so that a still one is
	// frozen.
	Moves bool
}

// ConnectorStatus is what the kernel says of a connector. Some drivers say
// connected only when an EDID was read, so it is no proof of hot-plug.
type ConnectorStatus uint8

const (
	ConnectorUnknown ConnectorStatus = iota + 1 // the kernel itself cannot tell
	Connected
	Disconnected
)

// Downstream is what the bench sees as the source.
type Downstream struct {
	Port       string
	Connector  Value[ConnectorStatus]
	HotPlug    Value[bool]
	RxSense    Value[bool]
	Ack        Value[bool]
	EDID       Value[[]byte] // the first read; partial bytes stay when Unable
	Stable     Value[bool]   // repeated reads gave the same bytes
	KernelEDID Value[[]byte]
	Supplies5V Value[bool] // +5 V fed into the cable by the port
	// Wire holds what the bytes and times of the reads say of the lines
	// and the store; empty where nothing stands out or nothing was read.
	Wire []WireFault
	// Log holds every attempt on the wire in order.
	Log []Attempt
}

// Attempt is one transaction tried on a bus, as evidence.
type Attempt struct {
	Msgs []Msg // with the bytes read; a read that failed has none
	By   Method
	Took time.Duration
	Err  error // nil, or an *OpError with the errno
}

// Signal is how far a receiver got with the incoming video.
type Signal uint8

const (
	NoSignal   Signal = iota + 1 // ENOLINK: nothing on the lines
	NoLock                       // ENOLCK: activity, no stable lock
	OutOfRange                   // ERANGE: locked, but beyond the receiver
	Locked
)

// PictureKind is what the incoming pixels show.
type PictureKind uint8

const (
	PictureBlack PictureKind = iota + 1
	PictureOneColour
	PictureFrozen
	PictureNoise
	PictureLaneMissing // one of red, green, blue is absent
	PicturePlausible
)

// Upstream is what the bench sees as the display.
type Upstream struct {
	Port      string
	Power5V   Value[bool]
	Signal    Value[Signal]
	Timing    Value[timing.Timing]
	Picture   Value[PictureKind]
	Sound     Value[bool]
	Presented Value[[]byte] // the EDID shown to the source at that time
	// Report is what the frames showed in detail and Shot a small PNG of the
	// last one; empty where none were grabbed.
	Report PictureReport
	Shot   []byte
	// SoundReport is what was heard in detail, empty where nothing was.
	SoundReport SoundReport
}

// EventKind is what happened at a port.
type EventKind uint8

const (
	PortsChanged   EventKind = iota + 1 // a port came or went: list again
	Plugged                             // something was plugged in
	Unplugged                           // it was pulled
	SignalChanged                       // the incoming signal changed
	EventsLost                          // the kernel dropped events: look at everything again
	LineChanged                         // an edge of the hot-plug or +5 V line itself
	AddressChanged                      // the CEC physical address changed
)

// Event is one change on the bench. At is the kernel's own timestamp where it
// gives one, else the time at which the event was read.
type Event struct {
	Kind EventKind
	Port string // "" where it concerns the whole bench
	At   time.Time
	// Line and High are set for LineChanged: HotPlug or Power5V, and its
	// new level.
	Line Quantity
	High bool
	// Address is set for AddressChanged; 0xffff is none.
	Address uint16
}

// Bench is a set of ports, real or simulated.
type Bench interface {
	// Ports lists the ports in a stable order. A port that exists but
	// cannot be used is listed with its Trouble. The error joins what kept
	// whole kinds of ports from being listed; the ports are valid with it.
	Ports(ctx context.Context) ([]Port, error)
	// Watch sends events until ctx ends, then closes the channel.
	Watch(ctx context.Context) (<-chan Event, error)
	Close() error
}

package uapi

import (
	"os"
	"time"
	"unsafe"
)

var (
	cecAdapGConnectorInfo = ior('a', 10, unsafe.Sizeof(cecConnectorInfo{}))
	cecDqevent            = iowr('a', 7, unsafe.Sizeof(cecEvent{}))
)

// CEC_EVENT_* and CEC_EVENT_FL_* of linux/cec.h.
const (
	CEC_EVENT_STATE_CHANGE      = 1
	CEC_EVENT_PIN_HPD_LOW       = 5
	CEC_EVENT_PIN_HPD_HIGH      = 6
	CEC_EVENT_PIN_5V_LOW        = 7
	CEC_EVENT_PIN_5V_HIGH       = 8
	CEC_EVENT_FL_INITIAL_STATE  = 1 << 0
	CEC_EVENT_FL_DROPPED_EVENTS = 1 << 1

	cecConnectorTypeDRM = 1
)

type cecEvent struct { // struct cec_event
	ts    uint64
	event uint32
	flags uint32
	raw   [16]uint32
}

type cecConnectorInfo struct { // struct cec_connector_info
	typ uint32
	raw [16]uint32
}

// CECEvent is one event of a CEC adapter. PhysAddr is set for a state change;
// 0xffff means that the adapter knows no address: no hot-plug, or an EDID
// without one.
type CECEvent struct {
	Event, Flags uint32
	PhysAddr     uint16
	At           time.Duration // CLOCK_MONOTONIC
}

// CECDqevent is CEC_DQEVENT. It waits unless poll has said POLLPRI.
func CECDqevent(f *os.File) (CECEvent, error) {
	var e cecEvent
	if err := ioctl(f, cecDqevent, unsafe.Pointer(&e)); err != nil {
		return CECEvent{}, err
	}
	return CECEvent{Event: e.event, Flags: e.flags, PhysAddr: uint16(e.raw[0]), At: time.Duration(e.ts)}, nil
}

// CECConnector is the DRM card and connector id that a CEC adapter belongs
// to; ok is false where it belongs to none.
func CECConnector(f *os.File) (card, connector uint32, ok bool) {
	var c cecConnectorInfo
	if err := ioctl(f, cecAdapGConnectorInfo, unsafe.Pointer(&c)); err != nil || c.typ != cecConnectorTypeDRM {
		return 0, 0, false
	}
	return c.raw[0], c.raw[1], true
}

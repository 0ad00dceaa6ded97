package usbiptest

import (
	"encoding/binary"
	"syscall"
	"unicode/utf16"
)

// tinyAdapter is an I2C adapter of the kind that the kernel's
// drivers/i2c/busses/i2c-tiny-usb.c drives: everything goes by vendor
// control requests, one for each I2C message and one for its outcome.
type tinyAdapter struct {
	wire   *Wire
	status byte
}

// Requests, flags and states as in i2c-tiny-usb.c.
const (
	requestFunctions = 1
	requestDelay     = 2
	requestStatus    = 3
	requestTransfer  = 4
	transferBegin    = 1
	transferEnd      = 2

	statusIdle    = 0
	statusAck     = 1
	statusNoAck   = 2
	messageRead   = 0x0001     // I2C_M_RD
	i2cFunctions  = 0x00000001 // I2C_FUNC_I2C
	smbusEmulated = 0x0eff0008 // I2C_FUNC_SMBUS_EMUL
)

var stall = reply{status: syscall.EPIPE}

func (a *tinyAdapter) transfer(u urb) (reply, error) {
	const vendor, typeMask = 0x40, 0x60
	switch {
	case u.ep != 0:
		return stall, nil
	case u.setup.requestType&typeMask == 0:
		return standardRequest(u.setup), nil
	case u.setup.requestType&typeMask != vendor:
		return stall, nil
	}
	switch u.setup.request {
	case requestFunctions:
		return reply{data: binary.LittleEndian.AppendUint32(nil, i2cFunctions|smbusEmulated)}, nil
	case requestDelay:
		return reply{}, nil
	case requestStatus:
		return reply{data: []byte{a.status}}, nil
	}
	if u.setup.request&^(transferBegin|transferEnd) == requestTransfer {
		return a.message(u)
	}
	return stall, nil
}

// message carries out one I2C message; the address is in the index field
// and the message's flags are in the value field.
func (a *tinyAdapter) message(u urb) (reply, error) {
	read := u.setup.value&messageRead != 0
	data := u.out
	if read {
		data = make([]byte, u.setup.length)
	}
	outcome := a.wire.Transfer(u.setup.index, read,
		u.setup.request&transferBegin != 0, u.setup.request&transferEnd != 0, data)
	a.status = statusAck
	r := reply{data: data}
	switch outcome {
	case NoAck, DataNoAck:
		// The real adapter has one state for both.
		a.status = statusNoAck
	case Broken:
		a.status = statusIdle
		r = stall
	case Short:
		r.data = data[:len(data)/2]
	case Silent:
		r.silent = true
	case Gone:
		return reply{}, errUnplugged
	}
	return r, nil
}

// Standard requests and descriptor types: USB 2.0 tables 9-4 and 9-5.
const (
	getStatus     = 0
	getDescriptor = 6
	setConfig     = 9
	setInterface  = 11

	typeDevice = 1
	typeConfig = 2
	typeString = 3
)

// The adapter's vendor and product numbers are those that i2c-tiny-usb.c
// lists; without them the driver does not take it.
var deviceDescriptor = []byte{
	18, typeDevice,
	0x10, 0x01, // USB 1.1
	0, 0, 0, 8, // class by interface; 8-byte packets at endpoint 0
	0x03, 0x04, 0x31, 0xc6, // vendor, product
	0x00, 0x01, // release
	1, 2, 0, // strings: maker, product, no serial
	1, // one configuration
}

var configDescriptor = []byte{
	9, typeConfig, 18, 0, 1, 1, 0, 0x80, 50, // one interface, 100 mA
	9, 4, 0, 0, 0, 0, 0, 0, 0, // interface 0 without further endpoints
}

var stringDescriptors = [][]byte{
	{4, typeString, 0x09, 0x04}, // languages: English (United States)
	text("deadhop virtual bench"),
	text("I2C adapter played by a test"),
}

func standardRequest(s setup) reply {
	switch s.request {
	case getDescriptor:
		switch kind, index := s.value>>8, int(s.value&0xff); {
		case kind == typeDevice:
			return reply{data: deviceDescriptor}
		case kind == typeConfig:
			return reply{data: configDescriptor}
		case kind == typeString && index < len(stringDescriptors):
			return reply{data: stringDescriptors[index]}
		}
		return stall
	case getStatus:
		return reply{data: []byte{0, 0}}
	case setConfig, setInterface:
		return reply{}
	}
	return stall
}

// text makes a string descriptor (USB 2.0 clause 9.6.7).
func text(s string) []byte {
	units := utf16.Encode([]rune(s))
	d := []byte{byte(2 + 2*len(units)), typeString}
	for _, u := range units {
		d = binary.LittleEndian.AppendUint16(d, u)
	}
	return d
}

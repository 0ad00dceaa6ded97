package usbiptest

import (
	"encoding/binary"
	"errors"
	"fmt"
	"io"
	"syscall"
)

// The wire format of USB/IP 1.1.1, big-endian, 48-byte headers: Linux
// Documentation/usb/usbip_protocol.rst.
const (
	cmdSubmit = 1
	cmdUnlink = 2
	retSubmit = 3
	retUnlink = 4

	directionIn = 1
	headerSize  = 48
	// No transfer of the adapters played here comes near this.
	maxTransfer = 1 << 20
)

// urb is one request of the kernel to the device.
type urb struct {
	seq    uint32
	in     bool
	ep     uint32
	length int
	setup  setup
	out    []byte // payload where the kernel writes
}

// setup is the 8-byte packet that opens a control transfer (USB 2.0 clause
// 9.3), itself little-endian.
type setup struct {
	requestType, request byte
	value, index, length uint16
}

// reply is what the device answers a urb. Status is 0 or an errno, as the
// host controller would report it; EPIPE is a stall.
type reply struct {
	data   []byte // read, or as much of what was written as the device took
	status syscall.Errno
	// silent keeps the answer back until the kernel loses patience.
	silent bool
}

var errUnplugged = errors.New("adapter unplugged itself")

// device is what hangs on the virtual plug.
type device interface {
	// transfer answers a urb, or fails with errUnplugged.
	transfer(urb) (reply, error)
}

// serve answers the kernel until the connection ends. Requests are answered
// one after the other, in order, as a slow device does.
func serve(conn io.ReadWriter, d device) error {
	waiting := make(map[uint32]bool)
	for {
		var head [headerSize]byte
		if _, err := io.ReadFull(conn, head[:]); err != nil {
			if errors.Is(err, io.EOF) {
				return nil // the kernel let go
			}
			return fmt.Errorf("reading a USB/IP request: %w", err)
		}
		word := func(at int) uint32 { return binary.BigEndian.Uint32(head[at:]) }
		switch command := word(0); command {
		case cmdSubmit:
			u := urb{
				seq: word(4), in: word(12) == directionIn, ep: word(16), length: int(int32(word(24))),
				setup: setup{head[40], head[41], binary.LittleEndian.Uint16(head[42:]),
					binary.LittleEndian.Uint16(head[44:]), binary.LittleEndian.Uint16(head[46:])},
			}
			if u.length < 0 || u.length > maxTransfer {
				return fmt.Errorf("USB/IP request %d asks for %d bytes", u.seq, u.length)
			}
			if !u.in {
				u.out = make([]byte, u.length)
				if _, err := io.ReadFull(conn, u.out); err != nil {
					return fmt.Errorf("reading the payload of USB/IP request %d: %w", u.seq, err)
				}
			}
			r, err := d.transfer(u)
			if err != nil {
				return err
			}
			if r.silent {
				waiting[u.seq] = true
				continue
			}
			if err := answerSubmit(conn, u, r); err != nil {
				return err
			}
		case cmdUnlink:
			// The request to be taken back is in the place of the flags.
			seq := word(20)
			var status syscall.Errno
			if waiting[seq] {
				delete(waiting, seq)
				status = syscall.ECONNRESET
			}
			if err := answer(conn, retUnlink, word(4), status, 0, nil); err != nil {
				return err
			}
		default:
			return fmt.Errorf("USB/IP command %d is not known", command)
		}
	}
}

func answerSubmit(conn io.Writer, u urb, r reply) error {
	data := r.data
	if len(data) > u.length {
		data = data[:u.length]
	}
	if u.in {
		return answer(conn, retSubmit, u.seq, r.status, len(data), data)
	}
	return answer(conn, retSubmit, u.seq, r.status, len(data), nil)
}

func answer(conn io.Writer, command, seq uint32, status syscall.Errno, length int, data []byte) error {
	packet := make([]byte, headerSize, headerSize+len(data))
	binary.BigEndian.PutUint32(packet[0:], command)
	binary.BigEndian.PutUint32(packet[4:], seq)
	binary.BigEndian.PutUint32(packet[20:], uint32(-int32(status)))
	binary.BigEndian.PutUint32(packet[24:], uint32(length))
	if _, err := conn.Write(append(packet, data...)); err != nil {
		return fmt.Errorf("answering USB/IP request %d: %w", seq, err)
	}
	return nil
}

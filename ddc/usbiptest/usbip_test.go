package usbiptest

import (
	"encoding/binary"
	"io"
	"net"
	"syscall"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// host plays the kernel's side of the connection.
type host struct {
	t    *testing.T
	conn net.Conn
	seq  uint32
	done chan error
}

func plugIn(t *testing.T, w *Wire) *host {
	ours, theirs := net.Pipe()
	h := &host{t: t, conn: theirs, done: make(chan error, 1)}
	go func() {
		h.done <- serve(ours, &tinyAdapter{wire: w})
		ours.Close()
	}()
	t.Cleanup(func() { theirs.Close() })
	return h
}

// submit sends a control request with the fields of a setup packet.
func (h *host) submit(requestType, request byte, value, index, length uint16, out []byte) {
	h.t.Helper()
	h.seq++
	p := make([]byte, headerSize)
	binary.BigEndian.PutUint32(p[0:], cmdSubmit)
	binary.BigEndian.PutUint32(p[4:], h.seq)
	if requestType&0x80 != 0 {
		binary.BigEndian.PutUint32(p[12:], directionIn)
	}
	binary.BigEndian.PutUint32(p[24:], uint32(length))
	p[40], p[41] = requestType, request
	binary.LittleEndian.PutUint16(p[42:], value)
	binary.LittleEndian.PutUint16(p[44:], index)
	binary.LittleEndian.PutUint16(p[46:], length)
	_, err := h.conn.Write(append(p, out...))
	require.NoError(h.t, err)
}

// answer reads one reply, with its payload where it is one to a read.
func (h *host) answer(in bool) (command uint32, status int32, length int, data []byte) {
	h.t.Helper()
	p := make([]byte, headerSize)
	_, err := io.ReadFull(h.conn, p)
	require.NoError(h.t, err)
	require.Equal(h.t, h.seq, binary.BigEndian.Uint32(p[4:]))
	length = int(binary.BigEndian.Uint32(p[24:]))
	if in {
		data = make([]byte, length)
		_, err = io.ReadFull(h.conn, data)
		require.NoError(h.t, err)
	}
	return binary.BigEndian.Uint32(p), int32(binary.BigEndian.Uint32(p[20:])), length, data
}

// The request types that i2c-tiny-usb.c uses: vendor, to the interface.
const vendorIn, vendorOut = 0xc1, 0x41

func (h *host) read(request byte, value, index, length uint16) (int32, []byte) {
	h.submit(vendorIn, request, value, index, length, nil)
	_, status, _, data := h.answer(true)
	return status, data
}

func (h *host) write(request byte, index uint16, data []byte) (int32, int) {
	h.submit(vendorOut, request, 0, index, uint16(len(data)), data)
	_, status, n, _ := h.answer(false)
	return status, n
}

func TestAdapterCarriesACombinedTransaction(t *testing.T) {
	w := NewWire()
	store := blocks(4)
	NewDisplay(w, store, true)
	h := plugIn(t, w)

	status, n := h.write(requestTransfer|transferBegin, SegmentAddr, []byte{1})
	assert.Zero(t, status)
	assert.Equal(t, 1, n)
	h.write(requestTransfer, EDIDAddr, []byte{0x80})
	status, data := h.read(requestTransfer|transferEnd, messageRead, EDIDAddr, 128)
	assert.Zero(t, status)
	assert.Equal(t, store[3*128:], data)
	_, state := h.read(requestStatus, 0, 0, 1)
	assert.Equal(t, []byte{statusAck}, state)
}

func TestAdapterReportsFaults(t *testing.T) {
	tests := []struct {
		outcome Outcome
		status  int32
		length  int
		state   byte
	}{
		{Done, 0, 8, statusAck},
		{NoAck, 0, 8, statusNoAck},
		{DataNoAck, 0, 8, statusNoAck},
		{Broken, -int32(syscall.EPIPE), 0, statusIdle},
		{Short, 0, 4, statusAck},
	}
	for _, tt := range tests {
		t.Run(tt.outcome.String(), func(t *testing.T) {
			w := NewWire()
			NewDisplay(w, blocks(1), false)
			w.SetFaults(Ends(tt.outcome))
			h := plugIn(t, w)
			status, data := h.read(requestTransfer|transferBegin|transferEnd, messageRead, EDIDAddr, 8)
			assert.Equal(t, tt.status, status)
			assert.Len(t, data, tt.length)
			_, state := h.read(requestStatus, 0, 0, 1)
			assert.Equal(t, []byte{tt.state}, state)
		})
	}
}

func TestSilentAdapterIsTakenBack(t *testing.T) {
	w := NewWire()
	NewDisplay(w, blocks(1), false)
	w.SetFaults(At(0, Ends(Silent)))
	h := plugIn(t, w)
	h.submit(vendorIn, requestTransfer|transferBegin|transferEnd, messageRead, EDIDAddr, 8, nil)

	p := make([]byte, headerSize)
	binary.BigEndian.PutUint32(p[0:], cmdUnlink)
	binary.BigEndian.PutUint32(p[20:], h.seq)
	h.seq++
	binary.BigEndian.PutUint32(p[4:], h.seq)
	_, err := h.conn.Write(p)
	require.NoError(t, err)
	command, status, _, _ := h.answer(false)
	assert.EqualValues(t, retUnlink, command)
	assert.Equal(t, -int32(syscall.ECONNRESET), status)

	_, data := h.read(requestTransfer|transferBegin|transferEnd, messageRead, EDIDAddr, 8)
	assert.Len(t, data, 8, "the adapter did not come back")
}

func TestAdapterUnplugsItself(t *testing.T) {
	w := NewWire()
	w.SetFaults(Ends(Gone))
	h := plugIn(t, w)
	h.submit(vendorIn, requestTransfer|transferBegin, messageRead, EDIDAddr, 8, nil)
	require.ErrorIs(t, <-h.done, errUnplugged)
}

// The lengths and fixed fields of USB 2.0 tables 9-8, 9-10 and 9-12.
func TestDescriptors(t *testing.T) {
	h := plugIn(t, NewWire())
	get := func(kind, index, length uint16) (int32, []byte) {
		h.submit(0x80, getDescriptor, kind<<8|index, 0, length, nil)
		_, status, _, data := h.answer(true)
		return status, data
	}
	_, d := get(typeDevice, 0, 64)
	require.Len(t, d, 18)
	assert.Equal(t, []byte{18, typeDevice}, d[:2])
	_, c := get(typeConfig, 0, 255)
	assert.Equal(t, len(c), int(binary.LittleEndian.Uint16(c[2:])), "total length")
	for at := 0; at < len(c); at += int(c[at]) {
		require.NotZero(t, c[at])
	}
	for index := range uint16(3) {
		_, s := get(typeString, index, 255)
		assert.Equal(t, int(s[0]), len(s))
	}
	_, short := get(typeDevice, 0, 8)
	assert.Len(t, short, 8)
	status, _ := get(typeString, 9, 255)
	assert.Equal(t, -int32(syscall.EPIPE), status)
}

func TestServeRefusesNonsense(t *testing.T) {
	h := plugIn(t, NewWire())
	p := make([]byte, headerSize)
	binary.BigEndian.PutUint32(p, 77)
	_, err := h.conn.Write(p)
	require.NoError(t, err)
	require.ErrorContains(t, <-h.done, "USB/IP command 77 is not known")
}

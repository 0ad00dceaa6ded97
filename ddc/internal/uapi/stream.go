package uapi

import (
	"os"
	"time"
	"unsafe"

	"golang.org/x/sys/unix"
)

var (
	vidiocEnumFmt   = iowr('V', 2, unsafe.Sizeof(v4l2Fmtdesc{}))
	vidiocSFmt      = iowr('V', 5, unsafe.Sizeof(v4l2Format{}))
	vidiocReqbufs   = iowr('V', 8, unsafe.Sizeof(v4l2Requestbuffers{}))
	vidiocQuerybuf  = iowr('V', 9, unsafe.Sizeof(v4l2Buffer{}))
	vidiocQbuf      = iowr('V', 15, unsafe.Sizeof(v4l2Buffer{}))
	vidiocDqbuf     = iowr('V', 17, unsafe.Sizeof(v4l2Buffer{}))
	vidiocStreamon  = iow('V', 18, unsafe.Sizeof(int32(0)))
	vidiocStreamoff = iow('V', 19, unsafe.Sizeof(int32(0)))
)

const (
	v4l2BufTypeVideoCapture = 1 // V4L2_BUF_TYPE_VIDEO_CAPTURE
	v4l2BufTypeVideoOutput  = 2 // V4L2_BUF_TYPE_VIDEO_OUTPUT
	v4l2MemoryMmap          = 1 // V4L2_MEMORY_MMAP
	v4l2FieldAny            = 0 // V4L2_FIELD_ANY
	V4L2_FIELD_NONE         = 1
	V4L2_BUF_FLAG_ERROR     = 0x0040
)

type v4l2Fmtdesc struct { // struct v4l2_fmtdesc
	index       uint32
	typ         uint32
	flags       uint32
	description [32]byte
	pixelformat uint32
	_           [4]uint32
}

type v4l2PixFormat struct { // struct v4l2_pix_format
	width, height uint32
	pixelformat   uint32
	field         uint32
	bytesperline  uint32
	sizeimage     uint32
	colorspace    uint32
	priv          uint32
	flags         uint32
	ycbcrEnc      uint32
	quantization  uint32
	xferFunc      uint32
}

type v4l2Format struct { // struct v4l2_format
	typ uint32
	_   [0]uintptr // the union holds pointers
	pix v4l2PixFormat
	_   [200 - 48]byte
}

type v4l2Requestbuffers struct { // struct v4l2_requestbuffers
	count        uint32
	typ          uint32
	memory       uint32
	capabilities uint32
	_            uint32 // flags and reserved
}

// v4l2Buffer is struct v4l2_buffer with the 64-bit time of kernels since 5.6.
type v4l2Buffer struct {
	index     uint32
	typ       uint32
	bytesused uint32
	flags     uint32
	field     uint32
	_         uint32
	sec, usec int64
	_         [4]uint32 // timecode
	sequence  uint32
	memory    uint32
	m         uintptr // offset for mmap; a pointer's size in the union
	length    uint32
	_         uint32 // reserved2
	_         uint32 // request_fd
}

// V4L2PixFormats lists the pixel formats that a capture node offers, as
// FourCCs in the driver's order.
func V4L2PixFormats(f *os.File) ([]uint32, error) {
	var all []uint32
	for i := uint32(0); i < 256; i++ {
		d := v4l2Fmtdesc{index: i, typ: v4l2BufTypeVideoCapture}
		if err := ioctl(f, vidiocEnumFmt, unsafe.Pointer(&d)); err != nil {
			if i > 0 && err == unix.EINVAL {
				break
			}
			return nil, err
		}
		all = append(all, d.pixelformat)
	}
	return all, nil
}

// V4L2PixFormat is the layout of frames in memory.
type V4L2PixFormat struct {
	Width, Height, FourCC, Field, BytesPerLine, SizeImage uint32
	Quantization, YCbCrEnc, Colorspace                    uint32
}

// V4L2SFmt is VIDIOC_S_FMT for capture: it asks for a size and a pixel format
// and returns what the driver made of it.
func V4L2SFmt(f *os.File, width, height, fourCC uint32) (V4L2PixFormat, error) {
	return setFormat(f, v4l2BufTypeVideoCapture, width, height, fourCC)
}

// V4L2SFmtOutput is V4L2SFmt for a video output node.
func V4L2SFmtOutput(f *os.File, width, height, fourCC uint32) (V4L2PixFormat, error) {
	return setFormat(f, v4l2BufTypeVideoOutput, width, height, fourCC)
}

func setFormat(f *os.File, typ, width, height, fourCC uint32) (V4L2PixFormat, error) {
	v := v4l2Format{typ: typ,
		pix: v4l2PixFormat{width: width, height: height, pixelformat: fourCC, field: v4l2FieldAny}}
	if err := ioctl(f, vidiocSFmt, unsafe.Pointer(&v)); err != nil {
		return V4L2PixFormat{}, err
	}
	p := v.pix
	return V4L2PixFormat{p.width, p.height, p.pixelformat, p.field, p.bytesperline, p.sizeimage,
		p.quantization, p.ycbcrEnc, p.colorspace}, nil
}

// V4L2Stream is a capture or an output that runs, with its mapped buffers.
type V4L2Stream struct {
	f    *os.File
	typ  uint32
	maps [][]byte
}

// V4L2Capture maps count buffers, queues them all and starts streaming.
func V4L2Capture(f *os.File, count int) (*V4L2Stream, error) {
	return startStream(f, v4l2BufTypeVideoCapture, count, nil)
}

// V4L2Play maps count buffers of an output node, fills each with the frame,
// queues them and starts. Again keeps it going.
func V4L2Play(f *os.File, count int, frame []byte) (*V4L2Stream, error) {
	return startStream(f, v4l2BufTypeVideoOutput, count, frame)
}

func startStream(f *os.File, typ uint32, count int, frame []byte) (*V4L2Stream, error) {
	req := v4l2Requestbuffers{count: uint32(count), typ: typ, memory: v4l2MemoryMmap}
	if err := ioctl(f, vidiocReqbufs, unsafe.Pointer(&req)); err != nil {
		return nil, err
	}
	s := &V4L2Stream{f: f, typ: typ}
	err := s.queueAll(req.count, frame)
	if err == nil {
		t := int32(typ)
		err = ioctl(f, vidiocStreamon, unsafe.Pointer(&t))
	}
	if err != nil {
		s.Close()
		return nil, err
	}
	return s, nil
}

func (s *V4L2Stream) queueAll(count uint32, frame []byte) error {
	prot := unix.PROT_READ
	if frame != nil {
		prot |= unix.PROT_WRITE
	}
	for i := range count {
		b := v4l2Buffer{index: i, typ: s.typ, memory: v4l2MemoryMmap}
		if err := ioctl(s.f, vidiocQuerybuf, unsafe.Pointer(&b)); err != nil {
			return err
		}
		m, err := mmap(s.f, int64(b.m), int(b.length), prot)
		if err != nil {
			return err
		}
		s.maps = append(s.maps, m)
		if frame != nil {
			b.bytesused, b.field = uint32(copy(m, frame)), V4L2_FIELD_NONE
		}
		if err := ioctl(s.f, vidiocQbuf, unsafe.Pointer(&b)); err != nil {
			return err
		}
	}
	return nil
}

// Again waits until an output buffer has been sent and queues it once more.
func (s *V4L2Stream) Again() error {
	b := v4l2Buffer{typ: s.typ, memory: v4l2MemoryMmap}
	if err := ioctl(s.f, vidiocDqbuf, unsafe.Pointer(&b)); err != nil {
		return err
	}
	b.field = V4L2_FIELD_NONE
	return ioctl(s.f, vidiocQbuf, unsafe.Pointer(&b))
}

func mmap(f *os.File, offset int64, length, prot int) ([]byte, error) {
	conn, err := f.SyscallConn()
	if err != nil {
		return nil, err
	}
	var m []byte
	var mapErr error
	if err := conn.Control(func(fd uintptr) {
		m, mapErr = unix.Mmap(int(fd), offset, length, prot, unix.MAP_SHARED)
	}); err != nil {
		return nil, err
	}
	return m, mapErr
}

// V4L2Frame is one captured frame. Data is a copy.
type V4L2Frame struct {
	Data     []byte
	Sequence uint32
	At       time.Duration // CLOCK_MONOTONIC
	Damaged  bool          // the driver says so
}

// Next takes a frame and gives its buffer back; call it once poll has said
// that one waits.
func (s *V4L2Stream) Next() (V4L2Frame, error) {
	b := v4l2Buffer{typ: v4l2BufTypeVideoCapture, memory: v4l2MemoryMmap}
	if err := ioctl(s.f, vidiocDqbuf, unsafe.Pointer(&b)); err != nil {
		return V4L2Frame{}, err
	}
	if int(b.index) >= len(s.maps) {
		return V4L2Frame{}, unix.EPROTO
	}
	m := s.maps[b.index]
	fr := V4L2Frame{Data: append([]byte(nil), m[:min(int(b.bytesused), len(m))]...), Sequence: b.sequence,
		At:      time.Duration(b.sec)*time.Second + time.Duration(b.usec)*time.Microsecond,
		Damaged: b.flags&V4L2_BUF_FLAG_ERROR != 0}
	return fr, ioctl(s.f, vidiocQbuf, unsafe.Pointer(&b))
}

// Close stops streaming and frees the buffers. The node can then be used
// again by anyone.
func (s *V4L2Stream) Close() error {
	typ := int32(s.typ)
	err := ioctl(s.f, vidiocStreamoff, unsafe.Pointer(&typ))
	for _, m := range s.maps {
		_ = unix.Munmap(m)
	}
	s.maps = nil
	none := v4l2Requestbuffers{typ: s.typ, memory: v4l2MemoryMmap}
	_ = ioctl(s.f, vidiocReqbufs, unsafe.Pointer(&none))
	return err
}

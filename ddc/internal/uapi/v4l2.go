package uapi

import (
	"os"
	"runtime"
	"time"
	"unsafe"

	"golang.org/x/sys/unix"
)

// Request numbers of linux/videodev2.h. The sub-device nodes use the same
// numbers and structs for what is used here (linux/v4l2-subdev.h), except
// for QUERYCAP.
var (
	vidiocQuerycap       = ior('V', 0, unsafe.Sizeof(v4l2Capability{}))
	vidiocSubdevQuerycap = ior('V', 0, unsafe.Sizeof(v4l2SubdevCapability{}))
	vidiocEnumInput      = iowr('V', 26, unsafe.Sizeof(v4l2Input{}))
	vidiocGCtrl          = iowr('V', 27, unsafe.Sizeof(v4l2Control{}))
	vidiocSCtrl          = iowr('V', 28, unsafe.Sizeof(v4l2Control{}))
	vidiocQueryctrl      = iowr('V', 36, unsafe.Sizeof(v4l2Queryctrl{}))
	vidiocQuerymenu      = iowr('V', 37, unsafe.Sizeof(v4l2Querymenu{}))
	vidiocGInput         = ior('V', 38, unsafe.Sizeof(int32(0)))
	vidiocSInput         = iowr('V', 39, unsafe.Sizeof(int32(0)))
	vidiocGEDID          = iowr('V', 40, unsafe.Sizeof(v4l2EDID{}))
	vidiocSEDID          = iowr('V', 41, unsafe.Sizeof(v4l2EDID{}))
	vidiocSDVTimings     = iowr('V', 87, unsafe.Sizeof(v4l2DVTimings{}))
	vidiocGDVTimings     = iowr('V', 88, unsafe.Sizeof(v4l2DVTimings{}))
	vidiocDqevent        = ior('V', 89, unsafe.Sizeof(v4l2Event{}))
	vidiocSubscribeEvent = iow('V', 90, unsafe.Sizeof(v4l2EventSubscription{}))
	vidiocQueryDVTimings = ior('V', 99, unsafe.Sizeof(v4l2DVTimings{}))
	vidiocDVTimingsCap   = iowr('V', 100, unsafe.Sizeof(v4l2DVTimingsCap{}))
)

// V4L2_CAP_* and V4L2_IN_* of linux/videodev2.h.
const (
	V4L2_CAP_VIDEO_CAPTURE        = 0x00000001
	V4L2_CAP_VIDEO_CAPTURE_MPLANE = 0x00001000
	V4L2_CAP_STREAMING            = 0x04000000
	v4l2CapDeviceCaps             = 0x80000000

	V4L2_IN_ST_NO_POWER  = 0x00000001
	V4L2_IN_ST_NO_SIGNAL = 0x00000002
	V4L2_IN_ST_NO_H_LOCK = 0x00000100
	V4L2_IN_ST_NO_SYNC   = 0x00010000

	V4L2_IN_CAP_DV_TIMINGS = 0x00000002
)

// Control ids of linux/v4l2-controls.h.
const (
	v4l2CIDDVBase                 = 0x00a00000 | 0x900 // V4L2_CID_DV_CLASS_BASE
	V4L2_CID_DV_RX_POWER_PRESENT  = v4l2CIDDVBase + 100
	V4L2_CID_DV_RX_RGB_RANGE      = v4l2CIDDVBase + 101
	V4L2_CID_DV_RX_IT_CONTENT     = v4l2CIDDVBase + 102 // ..._TYPE
	V4L2_CTRL_FLAG_DISABLED       = 0x0001
	V4L2_CTRL_FLAG_NEXT_CTRL      = 0x80000000
	V4L2_EVENT_CTRL               = 3
	V4L2_EVENT_SOURCE_CHANGE      = 5
	V4L2_DV_FL_CAN_REDUCE_FPS     = 1 << 1
	V4L2_DV_FL_REDUCED_FPS        = 1 << 2
	V4L2_DV_INTERLACED            = 1
	V4L2_DV_VSYNC_POS_POL         = 1
	V4L2_DV_HSYNC_POS_POL         = 2
	v4l2DVBT6561120               = 0 // V4L2_DV_BT_656_1120
	v4l2EDIDMaxBlocks             = 256
	v4l2EventLen, v4l2TimingUnion = 64, 128
)

// V4L2Capability is what QUERYCAP says of a video node.
type V4L2Capability struct {
	Driver, Card, BusInfo string
	Caps                  uint32 // of this node
}

// V4L2Querycap is VIDIOC_QUERYCAP.
func V4L2Querycap(f *os.File) (V4L2Capability, error) {
	var c v4l2Capability
	if err := ioctl(f, vidiocQuerycap, unsafe.Pointer(&c)); err != nil {
		return V4L2Capability{}, err
	}
	caps := c.capabilities
	if caps&v4l2CapDeviceCaps != 0 {
		caps = c.deviceCaps
	}
	return V4L2Capability{cString(c.driver[:]), cString(c.card[:]), cString(c.busInfo[:]), caps}, nil
}

// V4L2SubdevQuerycap is VIDIOC_SUBDEV_QUERYCAP: it succeeds on sub-device
// nodes of kernels since 5.8.
func V4L2SubdevQuerycap(f *os.File) error {
	var c v4l2SubdevCapability
	return ioctl(f, vidiocSubdevQuerycap, unsafe.Pointer(&c))
}

// V4L2Input is one input of a video node.
type V4L2Input struct {
	Index  uint32
	Name   string
	Status uint32 // V4L2_IN_ST_*
	Caps   uint32 // V4L2_IN_CAP_*
}

// V4L2EnumInput is VIDIOC_ENUMINPUT; EINVAL ends the list.
func V4L2EnumInput(f *os.File, index uint32) (V4L2Input, error) {
	in := v4l2Input{index: index}
	err := ioctl(f, vidiocEnumInput, unsafe.Pointer(&in))
	return V4L2Input{in.index, cString(in.name[:]), in.status, in.capabilities}, err
}

// V4L2GInput and V4L2SInput get and set the selected input.
func V4L2GInput(f *os.File) (uint32, error) {
	var i int32
	err := ioctl(f, vidiocGInput, unsafe.Pointer(&i))
	return uint32(i), err
}

// V4L2SInput is VIDIOC_S_INPUT.
func V4L2SInput(f *os.File, index uint32) error {
	i := int32(index)
	return ioctl(f, vidiocSInput, unsafe.Pointer(&i))
}

// V4L2GCtrl is VIDIOC_G_CTRL.
func V4L2GCtrl(f *os.File, id uint32) (int32, error) {
	c := v4l2Control{id: id}
	err := ioctl(f, vidiocGCtrl, unsafe.Pointer(&c))
	return c.value, err
}

// V4L2SCtrl is VIDIOC_S_CTRL.
func V4L2SCtrl(f *os.File, id uint32, value int32) error {
	c := v4l2Control{id: id, value: value}
	return ioctl(f, vidiocSCtrl, unsafe.Pointer(&c))
}

// V4L2Ctrl describes a control.
type V4L2Ctrl struct {
	ID       uint32
	Name     string
	Min, Max int32
	Flags    uint32
}

// V4L2Queryctrl is VIDIOC_QUERYCTRL. With V4L2_CTRL_FLAG_NEXT_CTRL in id it
// gives the control after it; EINVAL ends the list.
func V4L2Queryctrl(f *os.File, id uint32) (V4L2Ctrl, error) {
	q := v4l2Queryctrl{id: id}
	err := ioctl(f, vidiocQueryctrl, unsafe.Pointer(&q))
	return V4L2Ctrl{q.id, cString(q.name[:]), q.minimum, q.maximum, q.flags}, err
}

// V4L2Querymenu is VIDIOC_QUERYMENU: the name of a menu item; EINVAL where
// the menu has no such item.
func V4L2Querymenu(f *os.File, id, index uint32) (string, error) {
	m := v4l2Querymenu{id: id, index: index}
	err := ioctl(f, vidiocQuerymenu, unsafe.Pointer(&m))
	return cString(m.name[:]), err
}

// V4L2GEDID is VIDIOC_G_EDID: the EDID that the node shows on a pad (the
// input's index on video nodes). ENODATA means that there is none.
func V4L2GEDID(f *os.File, pad uint32) ([]byte, error) {
	buf := make([]byte, v4l2EDIDMaxBlocks*128)
	e := &v4l2EDID{pad: pad, blocks: v4l2EDIDMaxBlocks, edid: &buf[0]}
	if err := ioctl(f, vidiocGEDID, unsafe.Pointer(e)); err != nil {
		return nil, err
	}
	runtime.KeepAlive(buf)
	return buf[:min(int(e.blocks)*128, len(buf))], nil
}

// V4L2SEDID is VIDIOC_S_EDID. No bytes withdraw the EDID. On E2BIG, max is
// how many blocks the receiver takes.
func V4L2SEDID(f *os.File, pad uint32, edid []byte) (max int, err error) {
	if len(edid)%128 != 0 {
		return 0, unix.EINVAL
	}
	e := &v4l2EDID{pad: pad, blocks: uint32(len(edid) / 128)}
	if len(edid) > 0 {
		e.edid = &edid[0]
	}
	err = ioctl(f, vidiocSEDID, unsafe.Pointer(e))
	runtime.KeepAlive(edid)
	return int(e.blocks), err
}

// V4L2QueryDVTimings is VIDIOC_QUERY_DV_TIMINGS: the timing measured on the
// selected input. The errno is the reading where there is none.
func V4L2QueryDVTimings(f *os.File) (BTTimings, error) { return dvTimings(f, vidiocQueryDVTimings) }

// V4L2GDVTimings is VIDIOC_G_DV_TIMINGS: the timing set for capture.
func V4L2GDVTimings(f *os.File) (BTTimings, error) { return dvTimings(f, vidiocGDVTimings) }

func dvTimings(f *os.File, req uintptr) (BTTimings, error) {
	var t v4l2DVTimings
	if err := ioctl(f, req, unsafe.Pointer(&t)); err != nil {
		return BTTimings{}, err
	}
	if t.typ != v4l2DVBT6561120 {
		return BTTimings{}, unix.EPROTO
	}
	return t.bt, nil
}

// V4L2SDVTimings is VIDIOC_S_DV_TIMINGS: what a receiver captures.
func V4L2SDVTimings(f *os.File, bt BTTimings) error {
	t := v4l2DVTimings{typ: v4l2DVBT6561120, bt: bt}
	return ioctl(f, vidiocSDVTimings, unsafe.Pointer(&t))
}

// V4L2DVTimingsCap is VIDIOC_DV_TIMINGS_CAP. It says by its success that a
// node or pad knows digital video timings.
func V4L2DVTimingsCap(f *os.File, pad uint32) error {
	c := v4l2DVTimingsCap{pad: pad}
	return ioctl(f, vidiocDVTimingsCap, unsafe.Pointer(&c))
}

// V4L2Subscribe is VIDIOC_SUBSCRIBE_EVENT. The id is a control's for
// V4L2_EVENT_CTRL, the input or pad for V4L2_EVENT_SOURCE_CHANGE.
func V4L2Subscribe(f *os.File, typ, id uint32) error {
	s := v4l2EventSubscription{typ: typ, id: id}
	return ioctl(f, vidiocSubscribeEvent, unsafe.Pointer(&s))
}

// V4L2Event is one event of a node. Sequence counts the events of the open
// file: a gap is a loss. At is on CLOCK_MONOTONIC.
type V4L2Event struct {
	Type, ID uint32
	Value    int32 // of the control, for V4L2_EVENT_CTRL
	Pending  uint32
	Sequence uint32
	At       time.Duration
}

// V4L2Dqevent is VIDIOC_DQEVENT; it waits for an event unless poll has said
// that there is one.
func V4L2Dqevent(f *os.File) (V4L2Event, error) {
	var e v4l2Event
	if err := ioctl(f, vidiocDqevent, unsafe.Pointer(&e)); err != nil {
		return V4L2Event{}, err
	}
	// struct v4l2_event_ctrl: changes, type, value.
	value := int32(uint32(e.data[8]) | uint32(e.data[9])<<8 | uint32(e.data[10])<<16 | uint32(e.data[11])<<24)
	return V4L2Event{Type: e.typ, ID: e.id, Value: value, Pending: e.pending, Sequence: e.sequence,
		At: time.Duration(e.sec)*time.Second + time.Duration(e.nsec)}, nil
}

// MonotonicNow reads CLOCK_MONOTONIC, the clock of V4L2 events.
func MonotonicNow() (time.Duration, error) {
	var ts unix.Timespec
	if err := unix.ClockGettime(unix.CLOCK_MONOTONIC, &ts); err != nil {
		return 0, err
	}
	return time.Duration(ts.Nano()), nil
}

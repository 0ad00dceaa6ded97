package uapi

type v4l2Capability struct { // struct v4l2_capability
	driver       [16]byte
	card         [32]byte
	busInfo      [32]byte
	version      uint32
	capabilities uint32
	deviceCaps   uint32
	_            [3]uint32
}

type v4l2SubdevCapability struct { // struct v4l2_subdev_capability
	version      uint32
	capabilities uint32
	_            [14]uint32
}

type v4l2Input struct { // struct v4l2_input
	index        uint32
	name         [32]byte
	typ          uint32
	audioset     uint32
	tuner        uint32
	std          uint64
	status       uint32
	capabilities uint32
	_            [3]uint32
	_            uint32 // to a multiple of 8
}

type v4l2Control struct { // struct v4l2_control
	id    uint32
	value int32
}

type v4l2Queryctrl struct { // struct v4l2_queryctrl
	id           uint32
	typ          uint32
	name         [32]byte
	minimum      int32
	maximum      int32
	step         int32
	defaultValue int32
	flags        uint32
	_            [2]uint32
}

type v4l2Querymenu struct { // struct v4l2_querymenu, packed
	id    uint32
	index uint32
	name  [32]byte // or the value of an integer menu
	_     uint32
}

type v4l2EDID struct { // struct v4l2_edid
	pad        uint32
	startBlock uint32
	blocks     uint32
	_          [5]uint32
	edid       *byte
}

// BTTimings is struct v4l2_bt_timings, which the header declares packed: the
// 64-bit pixel clock is split so that no padding appears before it.
type BTTimings struct {
	Width, Height                        uint32
	Interlaced                           uint32
	Polarities                           uint32
	pixelclock                           [2]uint32
	HFrontPorch, HSync, HBackPorch       uint32
	VFrontPorch, VSync, VBackPorch       uint32
	ILVFrontPorch, ILVSync, ILVBackPorch uint32
	Standards                            uint32
	Flags                                uint32
	aspectNumerator, aspectDenominator   uint32
	CEA861VIC, HDMIVIC                   uint8
	_                                    [46]byte
}

// PixelClock is the pixel clock in Hz. The three architectures of this
// package are little-endian.
func (b BTTimings) PixelClock() uint64 {
	return uint64(b.pixelclock[0]) | uint64(b.pixelclock[1])<<32
}

// SetPixelClock sets the pixel clock in Hz.
func (b *BTTimings) SetPixelClock(hz uint64) {
	b.pixelclock = [2]uint32{uint32(hz), uint32(hz >> 32)}
}

type v4l2DVTimings struct { // struct v4l2_dv_timings, packed
	typ uint32
	bt  BTTimings
	_   [v4l2TimingUnion - 124]byte
}

type v4l2DVTimingsCap struct { // struct v4l2_dv_timings_cap
	typ uint32
	pad uint32
	_   [2]uint32
	raw [32]uint32
}

// v4l2Event is struct v4l2_event with the 64-bit time that kernels since 5.6
// take on 32-bit machines too; the request number carries its size.
type v4l2Event struct {
	typ       uint32
	_         uint32 // the union is aligned to 8
	data      [v4l2EventLen]byte
	pending   uint32
	sequence  uint32
	sec, nsec int64
	id        uint32
	_         [8]uint32
	_         uint32
}

type v4l2EventSubscription struct { // struct v4l2_event_subscription
	typ   uint32
	id    uint32
	flags uint32
	_     [5]uint32
}

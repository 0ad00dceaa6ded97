package uapi

import (
	"testing"
	"unsafe"
)

// Sizes and offsets as the C compiler gives them for linux/videodev2.h and
// linux/v4l2-common.h (Linux 6.1) on amd64, arm64 and arm; struct v4l2_edid
// alone depends on the size of a pointer.
func TestV4L2Layout(t *testing.T) {
	checkLayout(t, []layout{
		{"v4l2_capability", unsafe.Sizeof(v4l2Capability{}), 104},
		{"v4l2_subdev_capability", unsafe.Sizeof(v4l2SubdevCapability{}), 64},
		{"v4l2_input", unsafe.Sizeof(v4l2Input{}), 80},
		{"v4l2_input.std", unsafe.Offsetof(v4l2Input{}.std), 48},
		{"v4l2_input.status", unsafe.Offsetof(v4l2Input{}.status), 56},
		{"v4l2_control", unsafe.Sizeof(v4l2Control{}), 8},
		{"v4l2_queryctrl", unsafe.Sizeof(v4l2Queryctrl{}), 68},
		{"v4l2_queryctrl.flags", unsafe.Offsetof(v4l2Queryctrl{}.flags), 56},
		{"v4l2_edid", unsafe.Sizeof(v4l2EDID{}), 32 + ptr},
		{"v4l2_edid.edid", unsafe.Offsetof(v4l2EDID{}.edid), 32},
		{"v4l2_bt_timings", unsafe.Sizeof(BTTimings{}), 124},
		{"v4l2_bt_timings.pixelclock", unsafe.Offsetof(BTTimings{}.pixelclock), 16},
		{"v4l2_bt_timings.il_vfrontporch", unsafe.Offsetof(BTTimings{}.ILVFrontPorch), 48},
		{"v4l2_bt_timings.flags", unsafe.Offsetof(BTTimings{}.Flags), 64},
		{"v4l2_bt_timings.cea861_vic", unsafe.Offsetof(BTTimings{}.CEA861VIC), 76},
		{"v4l2_dv_timings", unsafe.Sizeof(v4l2DVTimings{}), 132},
		{"v4l2_dv_timings_cap", unsafe.Sizeof(v4l2DVTimingsCap{}), 144},
		{"v4l2_event", unsafe.Sizeof(v4l2Event{}), 136},
		{"v4l2_event.u", unsafe.Offsetof(v4l2Event{}.data), 8},
		{"v4l2_event.pending", unsafe.Offsetof(v4l2Event{}.pending), 72},
		{"v4l2_event.timestamp", unsafe.Offsetof(v4l2Event{}.sec), 80},
		{"v4l2_event.id", unsafe.Offsetof(v4l2Event{}.id), 96},
		{"v4l2_fmtdesc", unsafe.Sizeof(v4l2Fmtdesc{}), 64},
		{"v4l2_pix_format", unsafe.Sizeof(v4l2PixFormat{}), 48},
		{"v4l2_format", unsafe.Sizeof(v4l2Format{}), 200 + ptr},
		{"v4l2_format.fmt", unsafe.Offsetof(v4l2Format{}.pix), ptr},
		{"v4l2_requestbuffers", unsafe.Sizeof(v4l2Requestbuffers{}), 20},
		{"v4l2_buffer", unsafe.Sizeof(v4l2Buffer{}), 72 + 2*ptr},
		{"v4l2_buffer.timestamp", unsafe.Offsetof(v4l2Buffer{}.sec), 24},
		{"v4l2_buffer.sequence", unsafe.Offsetof(v4l2Buffer{}.sequence), 56},
		{"v4l2_buffer.m", unsafe.Offsetof(v4l2Buffer{}.m), 64},
		{"v4l2_buffer.length", unsafe.Offsetof(v4l2Buffer{}.length), 64 + ptr},
		{"v4l2_event_subscription", unsafe.Sizeof(v4l2EventSubscription{}), 32},
	})
}

// Request numbers as the C preprocessor gives them on a 64-bit machine.
func TestV4L2RequestNumbers(t *testing.T) {
	edid := uintptr(0x28)
	if ptr == 4 {
		edid = 0x24
	}
	checkLayout(t, []layout{
		{"VIDIOC_QUERYCAP", vidiocQuerycap, 0x80685600},
		{"VIDIOC_SUBDEV_QUERYCAP", vidiocSubdevQuerycap, 0x80405600},
		{"VIDIOC_ENUMINPUT", vidiocEnumInput, 0xc050561a},
		{"VIDIOC_G_CTRL", vidiocGCtrl, 0xc008561b},
		{"VIDIOC_S_CTRL", vidiocSCtrl, 0xc008561c},
		{"VIDIOC_QUERYCTRL", vidiocQueryctrl, 0xc0445624},
		{"VIDIOC_QUERYMENU", vidiocQuerymenu, 0xc02c5625},
		{"VIDIOC_ENUM_FMT", vidiocEnumFmt, 0xc0405602},
		{"VIDIOC_S_FMT", vidiocSFmt, 0xc0005605 | (200+ptr)<<16},
		{"VIDIOC_REQBUFS", vidiocReqbufs, 0xc0145608},
		{"VIDIOC_QUERYBUF", vidiocQuerybuf, 0xc0005609 | (72+2*ptr)<<16},
		{"VIDIOC_QBUF", vidiocQbuf, 0xc000560f | (72+2*ptr)<<16},
		{"VIDIOC_DQBUF", vidiocDqbuf, 0xc0005611 | (72+2*ptr)<<16},
		{"VIDIOC_STREAMON", vidiocStreamon, 0x40045612},
		{"VIDIOC_STREAMOFF", vidiocStreamoff, 0x40045613},
		{"VIDIOC_G_INPUT", vidiocGInput, 0x80045626},
		{"VIDIOC_S_INPUT", vidiocSInput, 0xc0045627},
		{"VIDIOC_G_EDID", vidiocGEDID, 0xc0005628 | edid<<16},
		{"VIDIOC_S_EDID", vidiocSEDID, 0xc0005629 | edid<<16},
		{"VIDIOC_S_DV_TIMINGS", vidiocSDVTimings, 0xc0845657},
		{"VIDIOC_G_DV_TIMINGS", vidiocGDVTimings, 0xc0845658},
		{"VIDIOC_DQEVENT", vidiocDqevent, 0x80885659},
		{"VIDIOC_SUBSCRIBE_EVENT", vidiocSubscribeEvent, 0x4020565a},
		{"VIDIOC_QUERY_DV_TIMINGS", vidiocQueryDVTimings, 0x80845663},
		{"VIDIOC_DV_TIMINGS_CAP", vidiocDVTimingsCap, 0xc0905664},
	})
}

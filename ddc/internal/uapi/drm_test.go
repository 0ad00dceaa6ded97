package uapi

import (
	"testing"
	"unsafe"
)

// drm/drm.h and drm/drm_mode.h: their layouts are the same on every
// architecture. The request numbers are those that the headers expand to
// (written down from memory).
func TestDRMLayout(t *testing.T) {
	checkLayout(t, []layout{
		{"drm_mode_card_res", unsafe.Sizeof(drmCardRes{}), 64},
		{"drm_mode_card_res.count_fbs", unsafe.Offsetof(drmCardRes{}.countFBs), 32},
		{"drm_mode_modeinfo", unsafe.Sizeof(DRMMode{}), 68},
		{"drm_mode_modeinfo.vrefresh", unsafe.Offsetof(DRMMode{}.VRefresh), 24},
		{"drm_mode_get_connector", unsafe.Sizeof(drmConnector{}), 80},
		{"drm_mode_get_connector.count_modes", unsafe.Offsetof(drmConnector{}.countModes), 32},
		{"drm_mode_get_encoder", unsafe.Sizeof(drmEncoder{}), 20},
		{"drm_mode_crtc", unsafe.Sizeof(drmCRTC{}), 104},
		{"drm_mode_crtc.mode", unsafe.Offsetof(drmCRTC{}.mode), 36},
		{"drm_mode_fb_cmd", unsafe.Sizeof(drmFB{}), 28},
		{"drm_mode_fb_dirty_cmd", unsafe.Sizeof(drmDirty{}), 24},
		{"drm_mode_create_dumb", unsafe.Sizeof(drmDumb{}), 32},
		{"drm_mode_map_dumb", unsafe.Sizeof(drmMap{}), 16},
		{"DRM_IOCTL_MODE_GETRESOURCES", drmGetResources, 0xc04064a0},
		{"DRM_IOCTL_MODE_GETCRTC", drmGetCRTC, 0xc06864a1},
		{"DRM_IOCTL_MODE_SETCRTC", drmSetCRTC, 0xc06864a2},
		{"DRM_IOCTL_MODE_GETENCODER", drmGetEncoder, 0xc01464a6},
		{"DRM_IOCTL_MODE_GETCONNECTOR", drmGetConnector, 0xc05064a7},
		{"DRM_IOCTL_MODE_ADDFB", drmAddFB, 0xc01c64ae},
		{"DRM_IOCTL_MODE_RMFB", drmRmFB, 0xc00464af},
		{"DRM_IOCTL_MODE_DIRTYFB", drmDirtyFB, 0xc01864b1},
		{"DRM_IOCTL_MODE_CREATE_DUMB", drmCreateDumb, 0xc02064b2},
		{"DRM_IOCTL_MODE_MAP_DUMB", drmMapDumb, 0xc01064b3},
		{"DRM_IOCTL_MODE_DESTROY_DUMB", drmDestroyDumb, 0xc00464b4},
	})
}

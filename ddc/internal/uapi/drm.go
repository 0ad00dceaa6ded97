package uapi

import (
	"os"
	"runtime"
	"strconv"
	"unsafe"

	"golang.org/x/sys/unix"
)

// Request numbers of drm/drm.h.
var (
	drmSetMaster    = ioc(iocNone, 'd', 0x1e, 0)
	drmGetResources = iowr('d', 0xa0, unsafe.Sizeof(drmCardRes{}))
	drmGetCRTC      = iowr('d', 0xa1, unsafe.Sizeof(drmCRTC{}))
	drmSetCRTC      = iowr('d', 0xa2, unsafe.Sizeof(drmCRTC{}))
	drmGetEncoder   = iowr('d', 0xa6, unsafe.Sizeof(drmEncoder{}))
	drmGetConnector = iowr('d', 0xa7, unsafe.Sizeof(drmConnector{}))
	drmAddFB        = iowr('d', 0xae, unsafe.Sizeof(drmFB{}))
	drmRmFB         = iowr('d', 0xaf, unsafe.Sizeof(uint32(0)))
	drmDirtyFB      = iowr('d', 0xb1, unsafe.Sizeof(drmDirty{}))
	drmCreateDumb   = iowr('d', 0xb2, unsafe.Sizeof(drmDumb{}))
	drmMapDumb      = iowr('d', 0xb3, unsafe.Sizeof(drmMap{}))
	drmDestroyDumb  = iowr('d', 0xb4, unsafe.Sizeof(uint32(0)))
)

// DRM_MODE_FLAG_* of drm/drm_mode.h.
const (
	DRM_MODE_FLAG_PHSYNC    = 1 << 0
	DRM_MODE_FLAG_NHSYNC    = 1 << 1
	DRM_MODE_FLAG_PVSYNC    = 1 << 2
	DRM_MODE_FLAG_NVSYNC    = 1 << 3
	DRM_MODE_FLAG_INTERLACE = 1 << 4
	DRM_MODE_FLAG_DBLCLK    = 1 << 12
	drmModeTypeUserdef      = 1 << 5
)

// halfPtr fills the upper half of a 64-bit field that holds a pointer on
// 32-bit machines.
const halfPtr = (8 - unsafe.Sizeof(uintptr(0))) / 4

type drmCardRes struct { // struct drm_mode_card_res
	fbs                                                 *uint32
	_                                                   [halfPtr]uint32
	crtcs                                               *uint32
	_                                                   [halfPtr]uint32
	connectors                                          *uint32
	_                                                   [halfPtr]uint32
	encoders                                            *uint32
	_                                                   [halfPtr]uint32
	countFBs, countCRTCs, countConnectors, countEncoder uint32
	minWidth, maxWidth, minHeight, maxHeight            uint32
}

// DRMMode is struct drm_mode_modeinfo. Clock is in kHz; the vertical numbers
// of an interlaced mode are those of the frame.
type DRMMode struct {
	Clock                                         uint32
	HDisplay, HSyncStart, HSyncEnd, HTotal, HSkew uint16
	VDisplay, VSyncStart, VSyncEnd, VTotal, VScan uint16
	VRefresh, Flags, Type                         uint32
	Name                                          [32]byte
}

type drmConnector struct { // struct drm_mode_get_connector
	encoders                                   *uint32
	_                                          [halfPtr]uint32
	modes                                      *DRMMode
	_                                          [halfPtr]uint32
	props                                      *uint32
	_                                          [halfPtr]uint32
	propValues                                 *uint64
	_                                          [halfPtr]uint32
	countModes, countProps, countEncoders      uint32
	encoderID, connectorID, typ, typeID        uint32
	connection, mmWidth, mmHeight, subpixel, _ uint32
}

type drmEncoder struct { // struct drm_mode_get_encoder
	encoderID, typ, crtcID, possibleCRTCs, possibleClones uint32
}

type drmCRTC struct { // struct drm_mode_crtc
	connectors                                                *uint32
	_                                                         [halfPtr]uint32
	countConnectors, crtcID, fbID, x, y, gammaSize, modeValid uint32
	mode                                                      DRMMode
}

type drmFB struct { // struct drm_mode_fb_cmd
	fbID, width, height, pitch, bpp, depth, handle uint32
}

type drmDirty struct { // struct drm_mode_fb_dirty_cmd
	fbID, flags, color, numClips uint32
	clips                        uint64 // pointer, never given
}

type drmDumb struct { // struct drm_mode_create_dumb
	height, width, bpp, flags, handle, pitch uint32
	size                                     uint64
}

type drmMap struct { // struct drm_mode_map_dumb
	handle, _ uint32
	offset    uint64
}

// DRMTakeMaster is DRM_IOCTL_SET_MASTER: the right to set modes. EACCES or
// EBUSY mean that another process has it.
func DRMTakeMaster(f *os.File) error { return ioctl(f, drmSetMaster, nil) }

// DRMConnectorInfo is what is needed to drive a connector.
type DRMConnectorInfo struct {
	ID, Encoder uint32 // Encoder is 0 while nothing drives the connector
	Name        string // type and number as sysfs has them, "HDMI-A-1"
	Encoders    []uint32
	Modes       []DRMMode
	Connected   bool
}

// DRMGetConnector asks for a connector; the kernel may probe the display.
func DRMGetConnector(f *os.File, id uint32) (DRMConnectorInfo, error) {
	c := drmConnector{connectorID: id}
	if err := ioctl(f, drmGetConnector, unsafe.Pointer(&c)); err != nil {
		return DRMConnectorInfo{}, err
	}
	// A second call with room for what the first announced. Properties are
	// not wanted: their count is set to none.
	modes := make([]DRMMode, c.countModes+1)
	encoders := make([]uint32, c.countEncoders+1)
	c = drmConnector{connectorID: id, modes: &modes[0], countModes: uint32(len(modes)),
		encoders: &encoders[0], countEncoders: uint32(len(encoders))}
	if err := ioctl(f, drmGetConnector, unsafe.Pointer(&c)); err != nil {
		return DRMConnectorInfo{}, err
	}
	return DRMConnectorInfo{ID: id, Encoder: c.encoderID, Name: connectorName(c.typ, c.typeID), Encoders: encoders[:min(int(c.countEncoders), len(encoders))],
		Modes: modes[:min(int(c.countModes), len(modes))], Connected: c.connection == 1}, nil
}

// connectorTypes are the names of DRM_MODE_CONNECTOR_* that the kernel uses in
// sysfs (drivers/gpu/drm/drm_connector.c).
var connectorTypes = [...]string{"Unknown", "VGA", "DVI-I", "DVI-D", "DVI-A", "Composite", "SVIDEO", "LVDS", "Component",
	"DIN", "DP", "HDMI-A", "HDMI-B", "TV", "eDP", "Virtual", "DSI", "DPI", "Writeback", "SPI", "USB"}

func connectorName(typ, id uint32) string {
	if int(typ) >= len(connectorTypes) {
		typ = 0
	}
	return connectorTypes[typ] + "-" + strconv.FormatUint(uint64(id), 10)
}

// DRMConnectorIDs lists the ids of the card's connectors.
func DRMConnectorIDs(f *os.File) ([]uint32, error) {
	var r drmCardRes
	if err := ioctl(f, drmGetResources, unsafe.Pointer(&r)); err != nil {
		return nil, err
	}
	ids := make([]uint32, r.countConnectors+1)
	r = drmCardRes{connectors: &ids[0], countConnectors: uint32(len(ids))}
	if err := ioctl(f, drmGetResources, unsafe.Pointer(&r)); err != nil {
		return nil, err
	}
	return ids[:min(int(r.countConnectors), len(ids))], nil
}

// DRMCRTCs lists the ids of the card's CRTCs in the order of the bits of
// possible CRTCs.
func DRMCRTCs(f *os.File) ([]uint32, error) {
	var r drmCardRes
	if err := ioctl(f, drmGetResources, unsafe.Pointer(&r)); err != nil {
		return nil, err
	}
	ids := make([]uint32, r.countCRTCs+1)
	r = drmCardRes{crtcs: &ids[0], countCRTCs: uint32(len(ids))}
	if err := ioctl(f, drmGetResources, unsafe.Pointer(&r)); err != nil {
		return nil, err
	}
	return ids[:min(int(r.countCRTCs), len(ids))], nil
}

// DRMGetEncoder returns the encoder's CRTC, 0 for none, and the bits of those
// that it could have.
func DRMGetEncoder(f *os.File, id uint32) (crtc, possible uint32, err error) {
	e := drmEncoder{encoderID: id}
	err = ioctl(f, drmGetEncoder, unsafe.Pointer(&e))
	return e.crtcID, e.possibleCRTCs, err
}

// DRMCRTCState is what a CRTC shows.
type DRMCRTCState struct {
	ID, FB, X, Y uint32
	On           bool
	Mode         DRMMode
}

// DRMGetCRTC reads what a CRTC shows.
func DRMGetCRTC(f *os.File, id uint32) (DRMCRTCState, error) {
	c := drmCRTC{crtcID: id}
	err := ioctl(f, drmGetCRTC, unsafe.Pointer(&c))
	return DRMCRTCState{ID: id, FB: c.fbID, X: c.x, Y: c.y, On: c.modeValid != 0, Mode: c.mode}, err
}

// DRMSetCRTC shows a frame buffer on a connector; with On false it switches
// the CRTC off.
func DRMSetCRTC(f *os.File, s DRMCRTCState, connector uint32) error {
	ids := []uint32{connector}
	c := &drmCRTC{crtcID: s.ID, fbID: s.FB, x: s.X, y: s.Y, mode: s.Mode}
	if s.On {
		c.modeValid, c.connectors, c.countConnectors = 1, &ids[0], 1
		c.mode.Type = drmModeTypeUserdef
	}
	err := ioctl(f, drmSetCRTC, unsafe.Pointer(c))
	runtime.KeepAlive(ids)
	return err
}

// DRMBuffer is a mapped frame buffer, 32 bits a pixel as blue, green, red, x.
type DRMBuffer struct {
	FB, Pitch     uint32
	Width, Height uint32
	Pix           []byte
	handle        uint32
}

// DRMNewBuffer makes a frame buffer and maps it.
func DRMNewBuffer(f *os.File, width, height uint32) (*DRMBuffer, error) {
	d := drmDumb{width: width, height: height, bpp: 32}
	if err := ioctl(f, drmCreateDumb, unsafe.Pointer(&d)); err != nil {
		return nil, err
	}
	b := &DRMBuffer{Pitch: d.pitch, Width: width, Height: height, handle: d.handle}
	fb := drmFB{width: width, height: height, pitch: d.pitch, bpp: 32, depth: 24, handle: d.handle}
	if err := ioctl(f, drmAddFB, unsafe.Pointer(&fb)); err != nil {
		b.Free(f)
		return nil, err
	}
	b.FB = fb.fbID
	m := drmMap{handle: d.handle}
	if err := ioctl(f, drmMapDumb, unsafe.Pointer(&m)); err != nil {
		b.Free(f)
		return nil, err
	}
	conn, err := f.SyscallConn()
	if err == nil {
		var mapErr error
		err = conn.Control(func(fd uintptr) {
			b.Pix, mapErr = unix.Mmap(int(fd), int64(m.offset), int(d.size), unix.PROT_READ|unix.PROT_WRITE, unix.MAP_SHARED)
		})
		if err == nil {
			err = mapErr
		}
	}
	if err != nil {
		b.Free(f)
		return nil, err
	}
	return b, nil
}

// Flush tells the driver that the buffer has new pixels. Drivers that scan
// out of the buffer itself need no telling and say ENOSYS.
func (b *DRMBuffer) Flush(f *os.File) error {
	d := drmDirty{fbID: b.FB}
	err := ioctl(f, drmDirtyFB, unsafe.Pointer(&d))
	if err == unix.ENOSYS {
		return nil
	}
	return err
}

// Free gives the buffer back. A CRTC that still shows it goes dark.
func (b *DRMBuffer) Free(f *os.File) {
	if b.Pix != nil {
		_ = unix.Munmap(b.Pix)
		b.Pix = nil
	}
	if b.FB != 0 {
		_ = ioctl(f, drmRmFB, unsafe.Pointer(&b.FB))
	}
	_ = ioctl(f, drmDestroyDumb, unsafe.Pointer(&b.handle))
}

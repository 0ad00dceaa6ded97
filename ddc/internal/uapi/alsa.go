package uapi

import (
	"errors"
	"io/fs"
	"os"
	"runtime"
	"unsafe"

	"golang.org/x/sys/unix"
)

var (
	pcmHWParams = iowr('A', 0x11, unsafe.Sizeof(pcmHWParamsT{}))
	pcmPrepare  = ioc(iocNone, 'A', 0x40, 0)
	pcmStart    = ioc(iocNone, 'A', 0x42, 0)
	pcmDrop     = ioc(iocNone, 'A', 0x43, 0)
	pcmWritei   = iow('A', 0x50, unsafe.Sizeof(pcmXferi{}))
	pcmReadi    = ior('A', 0x51, unsafe.Sizeof(pcmXferi{}))
)

// Parameter indices and values of sound/asound.h.
const (
	pcmAccess, pcmFormat, pcmSubformat = 0, 1, 2
	pcmFirstInterval                   = 8 // SNDRV_PCM_HW_PARAM_SAMPLE_BITS
	pcmChannels, pcmRate               = 10, 11

	pcmAccessRWInterleaved = 3 // SNDRV_PCM_ACCESS_RW_INTERLEAVED
	pcmFormatS16LE         = 2 // SNDRV_PCM_FORMAT_S16_LE
	pcmSubformatStd        = 0

	pcmIntervalInteger = 1 << 2 // the third bit field of struct snd_interval
)

type pcmMask struct{ bits [8]uint32 } // struct snd_mask

type pcmInterval struct { // struct snd_interval
	min, max uint32
	flags    uint32 // openmin, openmax, integer, empty
}

type pcmHWParamsT struct { // struct snd_pcm_hw_params
	flags     uint32
	masks     [3]pcmMask
	_         [5]pcmMask
	intervals [12]pcmInterval
	_         [9]pcmInterval
	rmask     uint32
	cmask     uint32
	info      uint32
	msbits    uint32
	rateNum   uint32
	rateDen   uint32
	fifoSize  uintptr
	_         [64]byte
}

type pcmXferi struct { // struct snd_xferi
	result int
	buf    *int16
	frames uint
}

// PCM is an open ALSA device with 16-bit samples, interleaved.
type PCM struct {
	File           *os.File
	Rate, Channels int
}

// OpenPCM opens a PCM node without waiting for another user of it (EBUSY) and
// sets the rate and the number of channels, both exactly or not at all
// (EINVAL).
func OpenPCM(path string, capture bool, rate, channels int) (*PCM, error) {
	flags := unix.O_RDWR | unix.O_NONBLOCK | unix.O_CLOEXEC
	fd, err := unix.Open(path, flags, 0)
	if err != nil {
		return nil, &fs.PathError{Op: "open", Path: path, Err: err}
	}
	p := &PCM{File: os.NewFile(uintptr(fd), path), Rate: rate, Channels: channels}
	hw := anyHWParams()
	hw.masks[pcmAccess] = oneBit(pcmAccessRWInterleaved)
	hw.masks[pcmFormat] = oneBit(pcmFormatS16LE)
	hw.masks[pcmSubformat] = oneBit(pcmSubformatStd)
	hw.fix(pcmChannels, uint32(channels))
	hw.fix(pcmRate, uint32(rate))
	if err := ioctl(p.File, pcmHWParams, unsafe.Pointer(&hw)); err != nil {
		p.File.Close()
		return nil, err
	}
	err = ioctl(p.File, pcmPrepare, nil)
	if err == nil && capture {
		err = ioctl(p.File, pcmStart, nil)
	}
	if err != nil {
		p.File.Close()
		return nil, err
	}
	return p, nil
}

func anyHWParams() pcmHWParamsT {
	var hw pcmHWParamsT
	for i := range hw.masks {
		hw.masks[i].bits = [8]uint32{^uint32(0), ^uint32(0)}
	}
	for i := range hw.intervals {
		hw.intervals[i].max = ^uint32(0)
	}
	hw.rmask, hw.info = ^uint32(0), ^uint32(0)
	return hw
}

func oneBit(n uint) pcmMask {
	var m pcmMask
	m.bits[n/32] = 1 << (n % 32)
	return m
}

func (hw *pcmHWParamsT) fix(param int, v uint32) {
	hw.intervals[param-pcmFirstInterval] = pcmInterval{min: v, max: v, flags: pcmIntervalInteger}
}

// Read takes whole frames into samples and returns how many samples came.
// EAGAIN means that none wait, EPIPE that some were lost.
func (p *PCM) Read(samples []int16) (int, error) { return p.transfer(pcmReadi, samples) }

// Write gives whole frames to the device. EAGAIN means that its buffer is
// full, EPIPE that it ran empty.
func (p *PCM) Write(samples []int16) (int, error) { return p.transfer(pcmWritei, samples) }

func (p *PCM) transfer(req uintptr, samples []int16) (int, error) {
	frames := len(samples) / p.Channels
	if frames == 0 {
		return 0, unix.EINVAL
	}
	x := &pcmXferi{buf: &samples[0], frames: uint(frames)}
	err := ioctl(p.File, req, unsafe.Pointer(x))
	runtime.KeepAlive(samples)
	if err != nil {
		return 0, err
	}
	return x.result * p.Channels, nil
}

// Recover makes the device ready after EPIPE.
func (p *PCM) Recover(capture bool) error {
	err := ioctl(p.File, pcmPrepare, nil)
	if err == nil && capture {
		err = ioctl(p.File, pcmStart, nil)
	}
	return err
}

// Close stops at once and closes.
func (p *PCM) Close() error {
	return errors.Join(ioctl(p.File, pcmDrop, nil), p.File.Close())
}

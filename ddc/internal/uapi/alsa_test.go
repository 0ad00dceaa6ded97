package uapi

import (
	"testing"
	"unsafe"
)

// sound/asound.h, Linux 6.1.
func TestALSALayout(t *testing.T) {
	checkLayout(t, []layout{
		{"snd_pcm_hw_params", unsafe.Sizeof(pcmHWParamsT{}), 600 + ptr},
		{"snd_pcm_hw_params.masks", unsafe.Offsetof(pcmHWParamsT{}.masks), 4},
		{"snd_pcm_hw_params.intervals", unsafe.Offsetof(pcmHWParamsT{}.intervals), 260},
		{"snd_pcm_hw_params.rmask", unsafe.Offsetof(pcmHWParamsT{}.rmask), 512},
		{"snd_pcm_hw_params.fifo_size", unsafe.Offsetof(pcmHWParamsT{}.fifoSize), 536},
		{"snd_xferi", unsafe.Sizeof(pcmXferi{}), 3 * ptr},
		{"SNDRV_PCM_IOCTL_HW_PARAMS", pcmHWParams, 0xc0004111 | (600+ptr)<<16},
		{"SNDRV_PCM_IOCTL_PREPARE", pcmPrepare, 0x4140},
		{"SNDRV_PCM_IOCTL_START", pcmStart, 0x4142},
		{"SNDRV_PCM_IOCTL_DROP", pcmDrop, 0x4143},
		{"SNDRV_PCM_IOCTL_WRITEI_FRAMES", pcmWritei, 0x40004150 | 3*ptr<<16},
		{"SNDRV_PCM_IOCTL_READI_FRAMES", pcmReadi, 0x80004151 | 3*ptr<<16},
	})
}

package uapi

import (
	"testing"
	"unsafe"
)

// ptr is the size of a pointer and of an unsigned long here.
const ptr = unsafe.Sizeof(uintptr(0))

// The sizes and offsets follow from linux/i2c.h and linux/i2c-dev.h by the
// C layout rules (natural alignment).
func TestI2CLayout(t *testing.T) {
	checkLayout(t, []layout{
		{"i2c_msg", unsafe.Sizeof(i2cMsg{}), 8 + ptr},
		{"i2c_msg.len", unsafe.Offsetof(i2cMsg{}.len), 4},
		{"i2c_msg.buf", unsafe.Offsetof(i2cMsg{}.buf), 8},
		{"i2c_rdwr_ioctl_data", unsafe.Sizeof(i2cRdwrData{}), 2 * ptr},
		{"i2c_rdwr_ioctl_data.nmsgs", unsafe.Offsetof(i2cRdwrData{}.nmsgs), ptr},
		{"i2c_smbus_ioctl_data", unsafe.Sizeof(i2cSMBusData{}), 8 + ptr},
		{"i2c_smbus_ioctl_data.size", unsafe.Offsetof(i2cSMBusData{}.size), 4},
		{"i2c_smbus_ioctl_data.data", unsafe.Offsetof(i2cSMBusData{}.data), 8},
		{"i2c_smbus_data", unsafe.Sizeof(smbusUnion{}), 34},
		{"i2c_smbus_data alignment", unsafe.Alignof(smbusUnion{}), 2},
		{"unsigned long", unsafe.Sizeof(uint(0)), ptr},
	})
}

type layout struct {
	what      string
	got, want uintptr
}

func checkLayout(t *testing.T, all []layout) {
	t.Helper()
	for _, l := range all {
		if l.got != l.want {
			t.Errorf("%s: %d, the header says %d", l.what, l.got, l.want)
		}
	}
}

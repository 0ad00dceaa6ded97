package uapi

import (
	"os"
	"runtime"
	"unsafe"

	"golang.org/x/sys/unix"
)

// Request numbers of linux/i2c-dev.h. They predate the _IOC encoding.
const (
	i2cSlave = 0x0703 // I2C_SLAVE
	i2cFuncs = 0x0705 // I2C_FUNCS
	i2cRdwr  = 0x0707 // I2C_RDWR
	i2cSMBus = 0x0720 // I2C_SMBUS
)

// I2C_FUNC_* of linux/i2c.h: what an adapter can do.
const (
	I2C_FUNC_I2C                 = 0x00000001
	I2C_FUNC_SMBUS_READ_BYTE     = 0x00020000
	I2C_FUNC_SMBUS_WRITE_BYTE    = 0x00040000
	I2C_FUNC_SMBUS_READ_BYTE_DAT = 0x00080000 // ..._READ_BYTE_DATA
	I2C_FUNC_SMBUS_READ_I2C_BLK  = 0x04000000 // ..._READ_I2C_BLOCK
)

const (
	i2cMRd      = 0x0001 // I2C_M_RD
	I2CRdwrMax  = 42     // I2C_RDWR_IOCTL_MAX_MSGS
	I2CBlockMax = 32     // I2C_SMBUS_BLOCK_MAX

	smbusRead         = 1 // I2C_SMBUS_READ
	smbusWrite        = 0 // I2C_SMBUS_WRITE
	smbusByteData     = 2 // I2C_SMBUS_BYTE_DATA
	smbusI2CBlockData = 8 // I2C_SMBUS_I2C_BLOCK_DATA
)

// i2cMsg is struct i2c_msg.
type i2cMsg struct {
	addr  uint16
	flags uint16
	len   uint16
	_     uint16
	buf   *byte
}

// i2cRdwrData is struct i2c_rdwr_ioctl_data.
type i2cRdwrData struct {
	msgs  *i2cMsg
	nmsgs uint32
}

// i2cSMBusData is struct i2c_smbus_ioctl_data.
type i2cSMBusData struct {
	readWrite uint8
	command   uint8
	_         uint16
	size      uint32
	data      *smbusUnion
}

// smbusUnion is union i2c_smbus_data: block[0] is the length of a block.
type smbusUnion struct {
	_     [0]uint16 // the union's alignment
	block [I2CBlockMax + 2]byte
}

// I2CMsg is one message of a combined transaction.
type I2CMsg struct {
	Addr uint16
	Read bool
	Data []byte // 1 to 65535 bytes; i2c-dev itself stops at 8192
}

// I2CFuncs is I2C_FUNCS.
func I2CFuncs(f *os.File) (uint, error) {
	var funcs uint // unsigned long
	err := ioctl(f, i2cFuncs, unsafe.Pointer(&funcs))
	return funcs, err
}

// I2CRdwr is I2C_RDWR: the messages joined by repeated starts, one stop.
// Reads fill the messages' Data.
func I2CRdwr(f *os.File, msgs []I2CMsg) error {
	if len(msgs) == 0 || len(msgs) > I2CRdwrMax {
		return unix.EINVAL
	}
	raw := make([]i2cMsg, len(msgs))
	for i, m := range msgs {
		if len(m.Data) == 0 || len(m.Data) > 0xffff {
			return unix.EINVAL
		}
		raw[i] = i2cMsg{addr: m.Addr, len: uint16(len(m.Data)), buf: &m.Data[0]}
		if m.Read {
			raw[i].flags = i2cMRd
		}
	}
	arg := &i2cRdwrData{msgs: &raw[0], nmsgs: uint32(len(raw))}
	err := ioctl(f, i2cRdwr, unsafe.Pointer(arg))
	runtime.KeepAlive(raw)
	runtime.KeepAlive(msgs)
	return err
}

// I2CSlave is I2C_SLAVE: the address for the calls that name none. EBUSY
// means that a kernel driver is bound to the address.
func I2CSlave(f *os.File, addr uint16) error { return ioctlInt(f, i2cSlave, uintptr(addr)) }

// SMBusReadByteData reads the byte at a command code (register).
func SMBusReadByteData(f *os.File, command byte) (byte, error) {
	u := new(smbusUnion)
	arg := &i2cSMBusData{readWrite: smbusRead, command: command, size: smbusByteData, data: u}
	err := ioctl(f, i2cSMBus, unsafe.Pointer(arg))
	runtime.KeepAlive(u)
	return u.block[0], err
}

// SMBusWriteByteData writes a byte to a command code (register).
func SMBusWriteByteData(f *os.File, command, value byte) error {
	u := new(smbusUnion)
	u.block[0] = value
	arg := &i2cSMBusData{readWrite: smbusWrite, command: command, size: smbusByteData, data: u}
	err := ioctl(f, i2cSMBus, unsafe.Pointer(arg))
	runtime.KeepAlive(u)
	return err
}

// SMBusReadI2CBlock reads up to 32 bytes from a command code on and returns
// how many came.
func SMBusReadI2CBlock(f *os.File, command byte, into []byte) (int, error) {
	if len(into) == 0 || len(into) > I2CBlockMax {
		return 0, unix.EINVAL
	}
	u := new(smbusUnion)
	u.block[0] = byte(len(into))
	arg := &i2cSMBusData{readWrite: smbusRead, command: command, size: smbusI2CBlockData, data: u}
	if err := ioctl(f, i2cSMBus, unsafe.Pointer(arg)); err != nil {
		return 0, err
	}
	runtime.KeepAlive(u)
	n := min(int(u.block[0]), len(into))
	return copy(into, u.block[1:1+n]), nil
}

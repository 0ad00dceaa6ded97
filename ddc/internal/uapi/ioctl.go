// Package uapi mirrors the Linux user-space interfaces that the bench needs,
// under the headers' own names: I2C (linux/i2c.h, linux/i2c-dev.h), V4L2
// (linux/videodev2.h, linux/v4l2-subdev.h) and netlink. It is the only
// package of the project that imports unsafe or golang.org/x/sys/unix.
//
// The layouts hold for every architecture that uses the generic ioctl number
// encoding (asm-generic/ioctl.h) and aligns 64-bit integers to 8 bytes:
// amd64, arm64 and arm. Go aligns them to 4 on arm, so padding is written
// out wherever the C compiler would insert it.
//
// Errors are plain errnos. Nothing here retries, waits or judges.
package uapi

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
	"runtime"
	"unsafe"

	"golang.org/x/sys/unix"
)

// Directions of asm-generic/ioctl.h, as the caller sees them.
const (
	iocNone  = 0
	iocWrite = 1
	iocRead  = 2
)

// ioc is _IOC of asm-generic/ioctl.h.
func ioc(dir, typ, nr, size uintptr) uintptr {
	return dir<<30 | size<<16 | typ<<8 | nr
}

func ior(typ, nr, size uintptr) uintptr  { return ioc(iocRead, typ, nr, size) }
func iow(typ, nr, size uintptr) uintptr  { return ioc(iocWrite, typ, nr, size) }
func iowr(typ, nr, size uintptr) uintptr { return ioc(iocRead|iocWrite, typ, nr, size) }

// Open opens a device node for reading and writing, without O_NONBLOCK. It
// stays out of Go's poller on purpose: registering a V4L2 node with epoll
// asks it for EPOLLIN, and videobuf2 answers that by starting to stream.
func Open(path string) (*os.File, error) { return open(path, unix.O_RDWR) }

// OpenRead is Open for reading only.
func OpenRead(path string) (*os.File, error) { return open(path, unix.O_RDONLY) }

func open(path string, flags int) (*os.File, error) {
	for {
		fd, err := unix.Open(path, flags|unix.O_CLOEXEC, 0)
		if errors.Is(err, unix.EINTR) {
			continue
		}
		if err != nil {
			return nil, &fs.PathError{Op: "open", Path: path, Err: err}
		}
		return os.NewFile(uintptr(fd), path), nil
	}
}

// ioctl calls the kernel once. The file cannot be closed under the call: its
// descriptor stays valid until the call returns.
func ioctl(f *os.File, req uintptr, arg unsafe.Pointer) error {
	conn, err := f.SyscallConn()
	if err != nil {
		return err
	}
	var errno unix.Errno
	err = conn.Control(func(fd uintptr) {
		_, _, errno = unix.Syscall(unix.SYS_IOCTL, fd, req, uintptr(arg))
	})
	runtime.KeepAlive(arg)
	if err != nil {
		return fmt.Errorf("%w: %w", unix.ENODEV, err) // closed meanwhile
	}
	if errno != 0 {
		return errno
	}
	return nil
}

// ioctlInt is ioctl for the requests that take their argument by value.
func ioctlInt(f *os.File, req, arg uintptr) error {
	conn, err := f.SyscallConn()
	if err != nil {
		return err
	}
	var errno unix.Errno
	err = conn.Control(func(fd uintptr) {
		_, _, errno = unix.Syscall(unix.SYS_IOCTL, fd, req, arg)
	})
	if err != nil {
		return fmt.Errorf("%w: %w", unix.ENODEV, err)
	}
	if errno != 0 {
		return errno
	}
	return nil
}

// TryLock puts an exclusive flock on f, which another open file of the same
// node may hold, in this process or another. EWOULDBLOCK means held.
func TryLock(f *os.File) error {
	conn, err := f.SyscallConn()
	if err != nil {
		return err
	}
	var lockErr error
	if err := conn.Control(func(fd uintptr) {
		lockErr = unix.Flock(int(fd), unix.LOCK_EX|unix.LOCK_NB)
	}); err != nil {
		return err
	}
	return lockErr
}

// cString is the text of a fixed NUL-padded field.
func cString(b []byte) string {
	for i, c := range b {
		if c == 0 {
			return string(b[:i])
		}
	}
	return string(b)
}

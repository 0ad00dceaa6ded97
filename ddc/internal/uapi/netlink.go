package uapi

import (
	"errors"
	"os"
	"time"

	"golang.org/x/sys/unix"
)

// kernelUevents is the multicast group of the kernel's own uevents; group 2
// is the device manager's echo of them.
const kernelUevents = 1

// OpenUevents opens a NETLINK_KOBJECT_UEVENT socket that hears the kernel.
// No privilege is needed.
func OpenUevents() (*os.File, error) {
	fd, err := unix.Socket(unix.AF_NETLINK, unix.SOCK_DGRAM|unix.SOCK_CLOEXEC, unix.NETLINK_KOBJECT_UEVENT)
	if err != nil {
		return nil, err
	}
	// A burst of hot-plug can be some hundred messages of up to 2 KiB.
	_ = unix.SetsockoptInt(fd, unix.SOL_SOCKET, unix.SO_RCVBUF, 1<<20)
	if err := unix.Bind(fd, &unix.SockaddrNetlink{Family: unix.AF_NETLINK, Groups: kernelUevents}); err != nil {
		unix.Close(fd)
		return nil, err
	}
	return os.NewFile(uintptr(fd), "netlink:uevent"), nil
}

// ReadUevent takes one waiting message. EAGAIN means that none waits,
// ENOBUFS that the kernel dropped some. A message that did not come from the
// kernel is returned as nil.
func ReadUevent(f *os.File, buf []byte) ([]byte, error) {
	conn, err := f.SyscallConn()
	if err != nil {
		return nil, err
	}
	var n int
	var from unix.Sockaddr
	var recvErr error
	if err := conn.Control(func(fd uintptr) {
		n, from, recvErr = unix.Recvfrom(int(fd), buf, unix.MSG_DONTWAIT)
	}); err != nil {
		return nil, err
	}
	if recvErr != nil {
		return nil, recvErr
	}
	if nl, ok := from.(*unix.SockaddrNetlink); !ok || nl.Pid != 0 {
		return nil, nil
	}
	return buf[:n], nil
}

// PollFile is one file to wait on. Urgent waits for POLLPRI, as V4L2 events
// come, instead of POLLIN.
type PollFile struct {
	File   *os.File
	Urgent bool
	// Set by Poll.
	Ready  bool
	Failed bool // POLLERR, POLLHUP or POLLNVAL
}

// Poll waits until a file is ready or the time is over; a negative timeout
// waits for ever. EINTR counts as nothing ready.
func Poll(files []PollFile, timeout time.Duration) error {
	fds := make([]unix.PollFd, len(files))
	for i := range files {
		files[i].Ready, files[i].Failed = false, false
		conn, err := files[i].File.SyscallConn()
		if err != nil {
			return err
		}
		// The caller keeps the files open meanwhile.
		if err := conn.Control(func(fd uintptr) { fds[i].Fd = int32(fd) }); err != nil {
			return err
		}
		fds[i].Events = unix.POLLIN
		if files[i].Urgent {
			fds[i].Events = unix.POLLPRI
		}
	}
	ms := -1
	if timeout >= 0 {
		ms = int((timeout + time.Millisecond - 1) / time.Millisecond)
	}
	if _, err := unix.Poll(fds, ms); err != nil {
		if errors.Is(err, unix.EINTR) {
			return nil
		}
		return err
	}
	for i := range files {
		files[i].Ready = fds[i].Revents&(unix.POLLIN|unix.POLLPRI) != 0
		files[i].Failed = fds[i].Revents&(unix.POLLERR|unix.POLLHUP|unix.POLLNVAL) != 0
	}
	return nil
}

// Waker ends a Poll from outside: its file becomes ready at Wake.
type Waker struct{ r, w *os.File }

// NewWaker makes a waker. Close it after use.
func NewWaker() (*Waker, error) {
	var p [2]int
	if err := unix.Pipe2(p[:], unix.O_CLOEXEC); err != nil {
		return nil, err
	}
	return &Waker{os.NewFile(uintptr(p[0]), "waker"), os.NewFile(uintptr(p[1]), "waker")}, nil
}

// File is what to poll.
func (w *Waker) File() *os.File { return w.r }

// Wake makes the file ready for good.
func (w *Waker) Wake() { _, _ = w.w.Write([]byte{1}) }

// Close frees the waker.
func (w *Waker) Close() error { return errors.Join(w.r.Close(), w.w.Close()) }

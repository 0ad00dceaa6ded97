package ddc

import (
	"context"
	"errors"
	"fmt"
	"os"
	"syscall"

	"deadhop/ddc/internal/uapi"
)

// Method is how bytes were brought over an adapter.
type Method uint8

const (
	Combined  Method = iota // one I2C_RDWR: repeated starts, one stop
	WriteRead               // write(2), then read(2): a stop in between
	SMBusI2C                // SMBus calls: I2C block reads of 32 bytes
	SMBusByte               // SMBus calls: one byte a call
)

func (m Method) String() string {
	switch m {
	case Combined:
		return "combined transfer"
	case WriteRead:
		return "write, stop, read"
	case SMBusI2C:
		return "SMBus I2C block reads"
	case SMBusByte:
		return "SMBus byte reads"
	default:
		return fmt.Sprintf("Method(%d)", uint8(m))
	}
}

// reachesSegments reports whether the segment pointer survives up to the
// read, which it does only where no stop comes between.
func (m Method) reachesSegments() bool { return m == Combined }

// methodBus is a Bus that knows more than one way. ReadEDID chooses, so that
// each attempt is logged with its way.
type methodBus interface {
	Bus
	methods() []Method
	transferBy(ctx context.Context, by Method, msgs []Msg) error
}

// I2CDev is an I2C adapter behind its i2c-dev node. It is safe for use by
// several goroutines; transfers take turns.
type I2CDev struct {
	file *os.File
	path string
	rule adapterRule
	ways []Method
	// turn holds a token while no transfer runs. A transfer that was left
	// behind by its context keeps it until the kernel returns.
	turn chan struct{}
}

// openI2CDev opens a node for the adapter that rule describes.
func openI2CDev(path string, rule adapterRule) (*I2CDev, error) {
	f, err := uapi.Open(path)
	if err != nil {
		return nil, openError("open the I2C bus", path, err)
	}
	funcs, err := uapi.I2CFuncs(f)
	if err != nil {
		f.Close()
		return nil, &OpError{Op: "ask what the adapter can do", Path: path, Kind: deviceKind(err), Err: err}
	}
	b := &I2CDev{file: f, path: path, rule: rule, turn: make(chan struct{}, 1)}
	b.turn <- struct{}{}
	if funcs&uapi.I2C_FUNC_I2C != 0 {
		b.ways = append(b.ways, Combined, WriteRead)
	}
	if funcs&uapi.I2C_FUNC_SMBUS_READ_I2C_BLK != 0 {
		b.ways = append(b.ways, SMBusI2C)
	}
	if funcs&uapi.I2C_FUNC_SMBUS_READ_BYTE_DAT != 0 {
		b.ways = append(b.ways, SMBusByte)
	}
	if len(b.ways) == 0 {
		f.Close()
		return nil, &OpError{Op: "ask what the adapter can do", Path: path, Kind: ErrUnsupported,
			Err: syscall.EOPNOTSUPP, Do: "it can neither transfer messages nor read SMBus bytes: use another adapter"}
	}
	return b, nil
}

// Path is the device node.
func (b *I2CDev) Path() string { return b.path }

// Close gives the adapter back. A transfer still running ends by itself.
func (b *I2CDev) Close() error { return b.file.Close() }

func (b *I2CDev) methods() []Method { return b.ways }

// Transfer implements Bus by the adapter's best way.
func (b *I2CDev) Transfer(ctx context.Context, msgs []Msg) error {
	return b.transferBy(ctx, b.ways[0], msgs)
}

func (b *I2CDev) transferBy(ctx context.Context, by Method, msgs []Msg) error {
	fail := func(err error, kind error) error {
		return &OpError{Op: by.String(), Path: b.path, Addr: lastAddr(msgs), Kind: kind, Err: err}
	}
	select {
	case <-b.turn:
	default:
		select {
		case <-b.turn:
		case <-ctx.Done():
			return fail(ctx.Err(), ErrDeadline)
		}
	}
	// The kernel works on copies: a transfer that outlives its caller must
	// not write into the caller's slices.
	own := cloneMsgs(msgs)
	done := make(chan error, 1)
	go func() {
		err := b.do(by, own)
		b.turn <- struct{}{}
		done <- err
	}()
	select {
	case err := <-done:
		for i, m := range msgs {
			if m.Read {
				copy(m.Data, own[i].Data)
			}
		}
		if err != nil {
			return fail(err, b.rule.wireKind(err))
		}
		return nil
	case <-ctx.Done():
		return fail(ctx.Err(), ErrDeadline)
	}
}

func (b *I2CDev) do(by Method, msgs []Msg) error {
	if by == Combined {
		raw := make([]uapi.I2CMsg, len(msgs))
		for i, m := range msgs {
			raw[i] = uapi.I2CMsg(m)
		}
		return uapi.I2CRdwr(b.file, raw)
	}
	// The other ways know one shape only: an offset byte, then a read.
	if len(msgs) != 2 || msgs[0].Read || len(msgs[0].Data) != 1 || !msgs[1].Read || msgs[0].Addr != msgs[1].Addr {
		return syscall.EOPNOTSUPP
	}
	if err := uapi.I2CSlave(b.file, msgs[0].Addr); err != nil {
		return err
	}
	offset, into := msgs[0].Data[0], msgs[1].Data
	if int(offset)+len(into) > 256 && by != WriteRead {
		return syscall.EOPNOTSUPP
	}
	switch by {
	case WriteRead:
		if _, err := b.file.Write(msgs[0].Data); err != nil {
			return bareErrno(err)
		}
		n, err := b.file.Read(into)
		if err == nil && n < len(into) {
			err = syscall.EIO
		}
		return bareErrno(err)
	case SMBusI2C:
		for at := 0; at < len(into); {
			n, err := uapi.SMBusReadI2CBlock(b.file, offset+byte(at), into[at:min(at+uapi.I2CBlockMax, len(into))])
			if err != nil {
				return err
			}
			if n == 0 {
				return syscall.EIO
			}
			at += n
		}
		return nil
	default:
		for at := range into {
			v, err := uapi.SMBusReadByteData(b.file, offset+byte(at))
			if err != nil {
				return err
			}
			into[at] = v
		}
		return nil
	}
}

// bareErrno takes the errno out of what package os wraps around it.
func bareErrno(err error) error {
	var no syscall.Errno
	if errors.As(err, &no) {
		return no
	}
	return err
}

func lastAddr(msgs []Msg) uint16 {
	if len(msgs) == 0 {
		return 0
	}
	return msgs[len(msgs)-1].Addr
}

func cloneMsgs(msgs []Msg) []Msg {
	out := make([]Msg, len(msgs))
	for i, m := range msgs {
		out[i] = m
		out[i].Data = append([]byte(nil), m.Data...)
	}
	return out
}

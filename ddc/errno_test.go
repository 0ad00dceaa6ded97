package ddc

import (
	"context"
	"errors"
	"fmt"
	"path"
	"syscall"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

func TestAdapterTableIsSound(t *testing.T) {
	rules, err := adapterRules()
	require.NoError(t, err)
	require.NotEmpty(t, rules)
	for i, r := range rules {
		where := fmt.Sprintf("entry %d (%s %s)", i, r.Driver, r.Name)
		assert.Contains(t, []string{"bench", "graphics", "system", "named"}, r.Use, where)
		assert.NotEmpty(t, r.Source, where)
		assert.NotEmpty(t, r.Driver+r.Name, where)
		for _, g := range []string{r.Driver, r.Name} {
			_, err := path.Match(g, "x")
			assert.NoError(t, err, where)
		}
		for no, meaning := range r.Errno {
			assert.Contains(t, errnoNames, no, where)
			assert.Contains(t, meanings, meaning, where)
		}
	}
}

func TestErrnoMeaningDependsOnTheDriver(t *testing.T) {
	for _, c := range []struct {
		driver, name string
		errno        syscall.Errno
		want         error
	}{
		{"i2c-tiny-usb", "i2c-tiny-usb at bus 001 device 002", syscall.ENXIO, ErrNoAck},
		{"i2c-tiny-usb", "i2c-tiny-usb at bus 001 device 002", syscall.EIO, ErrNoAnswer},
		{"", "DesignWare HDMI", syscall.EAGAIN, ErrTimedOut},
		{"i2c-diolan-u2c", "i2c-diolan-u2c at bus 001 device 002", syscall.EAGAIN, ErrArbitration},
		{"cp2112", "CP2112 SMBus Bridge on hidraw0", syscall.EBUSY, ErrArbitration},
		{"radeonfb", "radeonfb monid", syscall.EIO, ErrBroken},
		{"unheard-of", "some adapter", syscall.ENXIO, ErrNoAnswer},
		{"unheard-of", "some adapter", syscall.EIO, ErrNoAnswer},
		{"unheard-of", "some adapter", syscall.ENODEV, ErrGone},
		{"unheard-of", "some adapter", syscall.EOPNOTSUPP, ErrUnsupported},
	} {
		got := matchRule(c.driver, c.name).wireKind(c.errno)
		assert.Equal(t, c.want, got, "%s %v", c.name, c.errno)
	}
}

func TestOpErrorKeepsErrnoAndMeaning(t *testing.T) {
	err := fmt.Errorf("EDID block 1: %w", &OpError{Op: "combined transfer", Path: "/dev/i2c-9", Addr: 0x50,
		Kind: ErrNoAck, Err: syscall.ENXIO})
	assert.ErrorIs(t, err, ErrNoAck)
	assert.ErrorIs(t, err, syscall.ENXIO)
	assert.NotErrorIs(t, err, ErrTimedOut)
	assert.Equal(t, "EDID block 1: combined transfer on /dev/i2c-9 at 0x50: no acknowledge "+
		"(ENXIO, no such device or address)", err.Error())
	assert.True(t, errors.Is(&OpError{Kind: deviceKind(context.DeadlineExceeded), Err: context.DeadlineExceeded}, ErrDeadline))
}

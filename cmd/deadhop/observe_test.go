package main

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"syscall"
	"testing"

	"github.com/stretchr/testify/assert"

	"deadhop/chain"
	"deadhop/ddc"
)

func TestFailureOf(t *testing.T) {
	op := func(kind, errno error) error {
		return fmt.Errorf("read: %w", &ddc.OpError{Op: "x", Kind: kind, Err: errno})
	}
	for _, c := range []struct {
		err  error
		want chain.FailureCode
	}{
		{op(ddc.ErrUnsupported, syscall.EOPNOTSUPP), chain.FailUnsupported},
		{op(ddc.ErrPermission, syscall.EACCES), chain.FailPermission},
		{fs.ErrPermission, chain.FailPermission},
		{op(ddc.ErrBusy, syscall.EBUSY), chain.FailBusy},
		{op(ddc.ErrGone, syscall.ENODEV), chain.FailGone},
		{op(ddc.ErrTimedOut, syscall.ETIMEDOUT), chain.FailTimeout},
		{op(ddc.ErrDeadline, context.DeadlineExceeded), chain.FailTimeout},
		{context.DeadlineExceeded, chain.FailTimeout},
		{op(ddc.ErrNoAck, syscall.ENXIO), chain.FailOther},
		{op(nil, syscall.EIO), chain.FailOther},
		{errors.New("?"), chain.FailOther},
	} {
		assert.Equal(t, c.want, failureOf(c.err), "%v", c.err)
	}
}

// The words of the two sides must all have a partner, or a new one would
// reach the diagnosis as a number.
func TestEveryWordIsTranslated(t *testing.T) {
	for s := ddc.NoSignal; s <= ddc.Locked; s++ {
		assert.NotContains(t, string(signalWord(s)), "(")
	}
	for p := ddc.PictureBlack; p <= ddc.PicturePlausible; p++ {
		assert.NotContains(t, string(pictureWord(p)), "(")
	}
	for c := ddc.ConnectorUnknown; c <= ddc.Disconnected; c++ {
		assert.NotContains(t, connectorWord(c), "(")
	}
	for q := ddc.Connector; q <= ddc.Sound; q++ {
		assert.NotContains(t, quantityWord(q), "(")
	}
	assert.Equal(t, "signal(99)", string(signalWord(99)))
}

func TestStatesAreCarriedOver(t *testing.T) {
	u := upReadings(ddc.Upstream{
		Power5V: ddc.Got(false),
		Signal:  ddc.Got(ddc.NoLock),
		Picture: ddc.CannotMeasure[ddc.PictureKind](&ddc.OpError{Op: "grab", Kind: ddc.ErrNoLock, Err: syscall.ENOLCK}),
		Sound:   ddc.CannotMeasure[bool](&ddc.OpError{Op: "listen", Kind: ddc.ErrUnsupported, Err: syscall.ENOTTY}),
	})
	assert.True(t, chain.Is(u.Power5V, false))
	assert.False(t, chain.Is(u.Power5V, true))
	assert.Equal(t, chain.NotTried, u.Timing.State, "what was never tried stays so")
	assert.Equal(t, chain.FailBlocked, u.Picture.Failure, "no lock hides the picture")
	assert.Equal(t, chain.FailUnsupported, u.Sound.Failure, "what the port cannot do is not blamed on the lock")
	assert.Contains(t, u.Picture.Detail, "ENOLCK", "the errno stays with the reading")
}

func TestBytesReadBeforeAFailureStay(t *testing.T) {
	half := make([]byte, 128)
	d := ddc.Downstream{EDID: ddc.Value[[]byte]{State: ddc.Unable, V: half, Err: errors.New("gone")}}
	r := downReadings(d)
	assert.Equal(t, chain.CouldNotRead, r.EDID.State)
	assert.Len(t, r.EDID.Value.Bytes, 128)
}

func TestWorst(t *testing.T) {
	// The order of precedence: bad input, fault, could not test,
	// inconclusive, pass.
	assert.Equal(t, exitBadInput, worst(exitPass, exitFault, exitCannotTest, exitInconclusive, exitBadInput))
	assert.Equal(t, exitFault, worst(exitPass, exitCannotTest, exitFault, exitInconclusive))
	assert.Equal(t, exitCannotTest, worst(exitInconclusive, exitCannotTest, exitPass))
	assert.Equal(t, exitInconclusive, worst(exitPass, exitInconclusive))
	assert.Equal(t, exitPass, worst(exitPass, exitPass))
	assert.Equal(t, exitInconclusive, worst(), "nothing looked at is never a pass")
}

func TestKeysAreDistinct(t *testing.T) {
	for _, k := range []chain.CheckKind{
		chain.CheckIndicators, chain.CheckBacklight, chain.CheckTorch, chain.CheckMenu, chain.CheckScreen,
		chain.CheckSpeaker, chain.CheckDisplay, chain.CheckWiggle, chain.CheckTemperature, chain.CheckMoved,
	} {
		words := k.Answers()
		assert.NotEmpty(t, words, "%s", k)
		seen := map[string]bool{"q": true, "-": true, "": true}
		for i, key := range keysFor(words) {
			assert.False(t, seen[key], "%s: key %q of %q is taken", k, key, words[i])
			seen[key] = true
		}
	}
	assert.Empty(t, chain.CheckSupply.Answers())
}

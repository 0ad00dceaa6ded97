package ddc_test

import (
	"context"
	"errors"
	"syscall"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"deadhop/ddc"
	"deadhop/ddc/ddctest"
	"deadhop/ddc/usbiptest"
)

// store puts an EEPROM with old content on a wire, and prepares the job that
// writes it anew.
func store(t *testing.T) (*ddctest.EEPROM, *ddctest.Bus, *ddc.WriteJobs, ddc.WriteJob) {
	t.Helper()
	old, fresh := image(2), image(2)
	copy(old, make([]byte, 8)) // the first bytes were lost, as happens
	for i := 54; i < 90; i++ {
		fresh[i] ^= 0x5a
	}
	seal(fresh[:128])
	e := &ddctest.EEPROM{Busy: 3}
	copy(e.Data[:], old)
	w := usbiptest.NewWire()
	w.Add(usbiptest.EDIDAddr, e)
	jobs := &ddc.WriteJobs{Dir: t.TempDir()}
	job := ddc.WriteJob{Port: "bus:i2c-5", Display: "XQZ 1234", Old: old, New: fresh}
	return e, &ddctest.Bus{Wire: w}, jobs, job
}

func TestWriteReadsBackWhatWasWritten(t *testing.T) {
	e, bus, jobs, job := store(t)
	require.NoError(t, jobs.Save(job))
	r, err := ddc.WriteEDID(context.Background(), bus, jobs, job, "write bus:i2c-5 XQZ 1234")
	require.NoError(t, err)
	assert.Equal(t, job.New, e.Data[:])
	assert.Equal(t, job.New, r.ReadBack)
	assert.Less(t, r.Pages, 32, "only pages that differ are written")
	left, err := jobs.Unfinished()
	require.NoError(t, err)
	assert.Empty(t, left)
}

func TestWriteRefuses(t *testing.T) {
	_, bus, jobs, job := store(t)
	ctx := context.Background()
	phrase := job.Phrase()

	_, err := ddc.WriteEDID(ctx, bus, jobs, job, phrase)
	assert.ErrorIs(t, err, ddc.ErrNoDump, "nothing saved")
	assert.Zero(t, bus.Transactions())

	require.NoError(t, jobs.Save(job))
	for _, typed := range []string{"", "yes", "write bus:i2c-6 XQZ 1234", phrase + " "} {
		_, err = ddc.WriteEDID(ctx, bus, jobs, job, typed)
		assert.ErrorIs(t, err, ddc.ErrNotConfirmed)
	}
	assert.Zero(t, bus.Transactions())

	other := job
	other.Old = append([]byte(nil), job.Old...)
	other.Old[20] ^= 1
	require.NoError(t, jobs.Save(other))
	_, err = ddc.WriteEDID(ctx, bus, jobs, other, phrase)
	assert.ErrorIs(t, err, ddc.ErrNoDump, "the display holds something else")

	bad := job
	bad.New = append([]byte(nil), job.New...)
	bad.New[3] = 0
	assert.ErrorContains(t, jobs.Save(bad), "checksum")
	bad.New = job.New[:128]
	assert.ErrorContains(t, jobs.Save(bad), "256")
}

func TestWriteProtectedDisplayIsSaidToBe(t *testing.T) {
	for _, refuses := range []bool{false, true} {
		e, bus, jobs, job := store(t)
		e.Protected, e.Refusing = !refuses, refuses
		require.NoError(t, jobs.Save(job))
		r, err := ddc.WriteEDID(context.Background(), bus, jobs, job, job.Phrase())
		require.ErrorIs(t, err, ddc.ErrNotWritten)
		assert.ErrorContains(t, err, "write-protect pin")
		assert.Equal(t, job.Old, e.Data[:])
		assert.Equal(t, job.Old, r.ReadBack)
		assert.False(t, r.RolledBack)
	}
}

func TestWriteGoesBackWhereTheBytesDoNotHold(t *testing.T) {
	e, bus, jobs, job := store(t)
	weak := byte(54)
	for job.Old[weak]&^job.New[weak] == 0 {
		weak++
	}
	e.Weak = map[byte]byte{weak: job.Old[weak] &^ job.New[weak]}
	require.NoError(t, jobs.Save(job))
	r, err := ddc.WriteEDID(context.Background(), bus, jobs, job, job.Phrase())
	require.ErrorIs(t, err, ddc.ErrNotWritten)
	assert.True(t, r.RolledBack)
	assert.Equal(t, job.Old, e.Data[:])
}

// Killed at any transaction, the next start finds the dump and brings the
// display back.
func TestWriteKilledAnywhereHasAWayBack(t *testing.T) {
	for at := 0; ; at++ {
		e, bus, jobs, job := store(t)
		require.NoError(t, jobs.Save(job))
		killed := false
		bus.Fault = func(n int, _ []ddc.Msg) error {
			if n >= at {
				killed = true
				return ddctest.Err(ddc.ErrGone, syscall.ENODEV, 0x50)
			}
			return nil
		}
		_, err := ddc.WriteEDID(context.Background(), bus, jobs, job, job.Phrase())
		if !killed {
			require.NoError(t, err)
			require.Greater(t, at, 30, "every page and every poll was tried")
			return
		}
		require.True(t, errors.Is(err, ddc.ErrGone), "%d: %v", at, err)

		next := &ddc.WriteJobs{Dir: jobs.Dir}
		left, err := next.Unfinished()
		require.NoError(t, err)
		require.Len(t, left, 1)
		assert.Equal(t, job.Old, left[0].Old)
		bus.Fault = nil
		r, err := ddc.RestoreOld(context.Background(), bus, next, left[0])
		require.NoError(t, err, "killed at %d", at)
		assert.True(t, r.RolledBack)
		require.Equal(t, job.Old, e.Data[:], "killed at %d", at)
		left, err = next.Unfinished()
		require.NoError(t, err)
		assert.Empty(t, left)
	}
}

func TestWriteNeedsReadsThatAgree(t *testing.T) {
	e, bus, jobs, job := store(t)
	require.NoError(t, jobs.Save(job))
	bus.Wire.SetFaults(usbiptest.Drifting())
	_, err := ddc.WriteEDID(context.Background(), bus, jobs, job, job.Phrase())
	assert.ErrorIs(t, err, ddc.ErrBroken)
	assert.Equal(t, job.Old, e.Data[:], "not one byte was written")
}

type otherPort struct{}

func (otherPort) Info() ddc.PortInfo { return ddc.PortInfo{ID: "in:video0"} }

func TestOnlyADisplaysBusIsWritable(t *testing.T) {
	_, err := ddc.Writable(otherPort{})
	assert.ErrorIs(t, err, ddc.ErrPermission)
}

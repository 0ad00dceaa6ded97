//go:build vbench

// Package vbench runs the built program in the virtual bench: as a user
// would, on the kernel's real drivers.
package vbench

import (
	"bytes"
	"context"
	"encoding/hex"
	"encoding/json"
	"errors"
	"os"
	"os/exec"
	"strings"
	"syscall"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"deadhop/chain"
	"deadhop/ddc/usbiptest"
	"deadhop/ddc/vividtest"
)

// result is one run of the program.
type result struct {
	out, err string
	code     int
}

// deadhop runs the program and fails the test where it does not end.
func deadhop(t *testing.T, args ...string) result {
	t.Helper()
	ctx, cancel := context.WithTimeout(context.Background(), 40*time.Second)
	defer cancel()
	var out, errs bytes.Buffer
	cmd := exec.CommandContext(ctx, "deadhop", args...)
	cmd.Stdout, cmd.Stderr = &out, &errs
	err := cmd.Run()
	require.NoError(t, ctx.Err(), "deadhop %s did not end:\n%s%s", strings.Join(args, " "), &out, &errs)
	var exit *exec.ExitError
	if err != nil && !errors.As(err, &exit) {
		t.Fatal(err)
	}
	require.NotContains(t, errs.String(), "goroutine ", "the program panicked")
	return result{out.String(), errs.String(), cmd.ProcessState.ExitCode()}
}

// into decodes JSON output.
func (r result) into(t *testing.T, v any) {
	t.Helper()
	require.NoError(t, json.Unmarshal([]byte(r.out), v), "stdout:\n%s\nstderr:\n%s", r.out, r.err)
}

// reading is the JSON form of a chain.Reading.
type reading[T any] struct {
	State chain.State `json:"state"`
	Value T           `json:"value"`
}

type edidReading struct {
	Bytes         []byte `json:"bytes"`
	ChecksumsGood bool   `json:"checksums_good"`
}

type look struct {
	Plug   string `json:"plug"`
	Facing string `json:"facing"`
	Up     *struct {
		Power5V reading[bool]   `json:"power_5v"`
		Signal  reading[string] `json:"signal"`
	} `json:"up"`
	Down *struct {
		Connector  reading[string]      `json:"kernel_connector"`
		Ack        reading[bool]        `json:"ddc_acknowledge"`
		EDID       reading[edidReading] `json:"edid"`
		Stable     reading[bool]        `json:"edid_reads_agree"`
		KernelEDID reading[edidReading] `json:"kernel_edid"`
	} `json:"down"`
}

type ports struct {
	Ports []struct {
		ID      string   `json:"id"`
		Driver  string   `json:"driver"`
		Devices []string `json:"devices"`
		Trouble string   `json:"trouble"`
		look
	} `json:"ports"`
}

// scalerEDID is the EDID of an invented scaler that asks for 1280x720 at
// 60 Hz. The detailed timing is CTA-861's VIC 4 as table 2 there gives it:
// 74.25 MHz, 1280+370 by 720+30, front porch 110 and 5, sync 40 and 5, both
// positive.
func scalerEDID(t *testing.T) []byte {
	t.Helper()
	e, err := hex.DecodeString(strings.Join(strings.Fields(`
		00ffffffffffff00 623a 011a 01000000 0a22 0103
		80 21 13 78 0a ee91a3544c99260f5054 210800
		01010101010101010101010101010101
		011d 007251 d01e20 6e285500 4abe10 0000 1e
		000000fd00 324c1e500f00 0a202020202020
		000000fc00 43415254203135 0a2020202020
		0000001000 00000000000000000000000000
		00`), ""))
	require.NoError(t, err)
	require.Len(t, e, 127)
	var sum byte
	for _, b := range e {
		sum += b
	}
	return append(e, -sum)
}

// display plays a display's DDC lines behind a USB adapter, and names the
// port that the program should find it at.
func display(t *testing.T, edid []byte) (w *usbiptest.Wire, port string) {
	t.Helper()
	w = usbiptest.NewWire()
	usbiptest.NewDisplay(w, edid, true)
	ctx, cancel := context.WithTimeout(context.Background(), 10*time.Second)
	defer cancel()
	a, err := usbiptest.Attach(ctx, w)
	require.NoError(t, err)
	t.Cleanup(func() { assert.NoError(t, a.Close()) })
	return w, "bus:" + strings.TrimPrefix(a.Device, "/dev/")
}

// receiver is the virtual receiver, put right again after the test.
func receiver(t *testing.T) *vividtest.Receiver {
	t.Helper()
	r, err := vividtest.Open("/dev/video0")
	require.NoError(t, err)
	require.NoError(t, r.Select(0))
	t.Cleanup(func() {
		assert.NoError(t, r.SetSignal(vividtest.Good))
		assert.NoError(t, r.Close())
	})
	return r
}

const receiverPort = "in:video0.0"

func TestProgramListsThisMachine(t *testing.T) {
	receiver(t)
	r := deadhop(t, "ports", "--json")
	assert.Zero(t, r.code, r.err)
	var p ports
	r.into(t, &p)
	byID := map[string]look{}
	for _, port := range p.Ports {
		byID[port.ID] = port.look
		assert.Empty(t, port.Trouble, port.ID)
		assert.NotEqual(t, "i801_smbus", port.Driver, "the machine's own SMBus is offered")
	}

	kernel, err := os.ReadFile("/sys/class/drm/card0-Virtual-1/edid")
	require.NoError(t, err)
	require.Contains(t, byID, "out:Virtual-1")
	bochs := byID["out:Virtual-1"].Down
	assert.Equal(t, reading[string]{chain.Measured, "connected"}, bochs.Connector)
	assert.Equal(t, kernel, bochs.KernelEDID.Value.Bytes)
	assert.Equal(t, chain.CouldNotRead, bochs.Ack.State, "this output has no DDC bus")
	require.Contains(t, byID, "out:Virtual-3")
	assert.Equal(t, "disconnected", byID["out:Virtual-3"].Down.Connector.Value)

	// What the frame buffer driver read by itself at start.
	probed, err := os.ReadFile("/sys/bus/pci/devices/0000:00:04.0/edid1")
	require.NoError(t, err)
	var answering []string
	for id, l := range byID {
		if l.Down != nil && l.Down.Ack.Value {
			answering = append(answering, id)
			assert.True(t, strings.HasPrefix(id, "bus:"), id)
			assert.Equal(t, probed, l.Down.EDID.Value.Bytes, id)
		}
	}
	require.Len(t, answering, 1, "one display hangs on a DDC bus here")
	r = deadhop(t, "decode", answering[0])
	assert.Zero(t, r.code, "something in the emulated display's EDID breaks picture or sound:\n%s%s", r.out, r.err)

	require.Contains(t, byID, receiverPort)
	assert.Equal(t, "locked", byID[receiverPort].Up.Signal.Value)
	assert.True(t, byID[receiverPort].Up.Power5V.Value)
}

func TestProgramDecodesAPlayedDisplay(t *testing.T) {
	edid := scalerEDID(t)
	w, port := display(t, edid)
	var report struct {
		Bytes  int    `json:"bytes"`
		Worst  string `json:"verdict"`
		Who    struct{ Maker, Name string }
		Unsure string `json:"unsure"`
	}
	r := deadhop(t, "decode", port, "--json")
	assert.Zero(t, r.code, r.err)
	r.into(t, &report)
	assert.Equal(t, 128, report.Bytes)
	assert.Equal(t, "XQZ", report.Who.Maker)
	assert.Equal(t, "CART 15", report.Who.Name)

	t.Run("bit stuck", func(t *testing.T) {
		w.SetFaults(usbiptest.StuckLow(0x04))
		defer w.SetFaults()
		r := deadhop(t, "decode", port)
		assert.Equal(t, 1, r.code, "stdout:\n%s\nstderr:\n%s", r.out, r.err)
	})
	t.Run("no acknowledge", func(t *testing.T) {
		w.SetFaults(usbiptest.Ends(usbiptest.NoAck))
		defer w.SetFaults()
		r := deadhop(t, "decode", port)
		assert.Equal(t, 3, r.code, r.out)
		assert.Contains(t, r.err, "no such device or address")
	})
	t.Run("gone in the middle", func(t *testing.T) {
		w, port := display(t, edid)
		w.SetFaults(usbiptest.At(1, usbiptest.Ends(usbiptest.Gone)))
		r := deadhop(t, "decode", port)
		assert.Equal(t, 3, r.code, r.out)
		assert.Contains(t, r.err, "no EDID from "+port)
		r = deadhop(t, "decode", port)
		assert.Equal(t, 2, r.code, r.out)
		assert.Contains(t, r.err, "there is no port \""+port+"\" here")
	})
	t.Run("no permission", func(t *testing.T) {
		cmd := exec.Command("deadhop", "decode", port)
		const nobody = 65534
		cmd.SysProcAttr = &syscall.SysProcAttr{Credential: &syscall.Credential{Uid: nobody, Gid: nobody}}
		out, err := cmd.CombinedOutput()
		require.Error(t, err)
		assert.Equal(t, 3, cmd.ProcessState.ExitCode())
		node := "/dev/" + strings.TrimPrefix(port, "bus:")
		assert.Equal(t, "deadhop: no EDID from "+port+": open the I2C bus on "+node+
			": no permission (EACCES, permission denied); the node belongs to uid 0, group 0, mode 0600,"+
			" which lets no group in: a udev rule must set GROUP and MODE=\"0660\"\n", string(out))
	})
}

func TestProgramTellsFourSignalsApart(t *testing.T) {
	rx := receiver(t)
	seen := map[string]vividtest.Signal{}
	for signal, want := range map[vividtest.Signal]string{
		vividtest.Good: "locked", vividtest.NoSignal: "none",
		vividtest.NoLock: "no-lock", vividtest.OutOfRange: "out-of-range",
	} {
		require.NoError(t, rx.SetSignal(signal))
		r := deadhop(t, "look", "c2.display", "--chain", "testdata/medical-cart.yaml", "--port", receiverPort, "--json")
		assert.Zero(t, r.code, r.err)
		var l look
		r.into(t, &l)
		require.NotNil(t, l.Up)
		assert.Equal(t, reading[string]{chain.Measured, want}, l.Up.Signal)
		assert.Equal(t, reading[bool]{chain.Measured, signal != vividtest.NoSignal}, l.Up.Power5V, "+5 V with %s", want)
		seen[l.Up.Signal.Value] = signal
	}
	assert.Len(t, seen, 4)
}

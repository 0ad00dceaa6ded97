//go:build vbench

package vbench

import (
	"context"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"syscall"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"deadhop/ddc"
	"deadhop/ddc/usbiptest"
	"deadhop/edid"
)

type heard struct {
	State    string `json:"state"`
	Channels []struct {
		State string   `json:"state"`
		Hz    *float64 `json:"tone_hz"`
		Tone  *float64 `json:"tone_level_db"`
	} `json:"channels"`
}

// What tone plays into the kernel's sound loop, listen measures at its other
// end, to within 1 Hz and 0.5 dB, on the right channel alone.
func TestProgramPlaysAndHearsATone(t *testing.T) {
	const play, capture = "pcmC0D0p", "pcmC0D1c"
	for channel, c := range []struct {
		side, hz, level string
		wantHz, wantDB  float64
	}{{"left", "997", "-12", 997, -12}, {"right", "1499.5", "-26", 1499.5, -26}} {
		cmd, _, out := started(t, "tone", play, "--channel", c.side, "--hz", c.hz, "--level", c.level, "--for", "20s")
		time.Sleep(500 * time.Millisecond)
		r := deadhop(t, "listen", capture, "--json")
		require.Zero(t, r.code, "%s%s", r.err, out)
		var h heard
		r.into(t, &h)
		require.Len(t, h.Channels, 2)
		require.NotNil(t, h.Channels[channel].Hz, r.out)
		assert.InDelta(t, c.wantHz, *h.Channels[channel].Hz, 1)
		assert.InDelta(t, c.wantDB, *h.Channels[channel].Tone, 0.5)
		assert.Equal(t, "silence", h.Channels[1-channel].State)
		require.NoError(t, cmd.Process.Signal(syscall.SIGINT))
		assert.NoError(t, cmd.Wait())
	}
	r := deadhop(t, "listen", capture, "--json", "--for", "300ms")
	require.Zero(t, r.code, r.err)
	var h heard
	r.into(t, &h)
	assert.Equal(t, "silence", h.State)
	r = deadhop(t, "listen", "pcmC9D9c")
	assert.Equal(t, 2, r.code)
	assert.Contains(t, r.err, capture+" (Loopback)", "what there is is named")

	bench := filepath.Join(t.TempDir(), "bench.yaml")
	require.NoError(t, os.WriteFile(bench, []byte("version: 1\ninputs:\n  video0.0: {sound: "+capture+"}\n"), 0o644))
	r = deadhop(t, "listen", receiverPort, "--bench", bench)
	assert.Zero(t, r.code, r.err)
	assert.Equal(t, "left    silent\nright   silent\n", r.out)
	r = deadhop(t, "listen", receiverPort)
	assert.Equal(t, 3, r.code)
	assert.Contains(t, r.err, "no sound device belongs to it")
}

type asked struct {
	SCDC struct {
		State  string  `json:"state"`
		Locked [3]bool `json:"locked"`
		Errors [3]*int `json:"errors"`
	} `json:"scdc"`
	HDCP struct {
		State    string `json:"state"`
		Present  bool   `json:"present"`
		KeyValid bool   `json:"key_valid"`
	} `json:"hdcp"`
	Input struct {
		State string `json:"state"`
		Now   uint16 `json:"now"`
	} `json:"input_select"`
	Power struct {
		State string `json:"state"`
		Now   uint16 `json:"now"`
	} `json:"power_mode"`
}

// Register meanings by HDMI 2.0 clause 10.4.1 as linux/drm/drm_scdc.h has
// them; a key has twenty ones (HDCP 1.4 clause 2.1); control codes of MCCS.
func TestProgramAsksADisplay(t *testing.T) {
	fast, err := edid.BuildYAML("wall.yaml", []byte("maker: XQZ\nproduct: 7\nname: WALL\nyear: 2024\ninterface: hdmi\n"+
		"timings:\n  - vic: 16\nhdmi: {max_mhz: 595}\n"))
	require.NoError(t, err)
	w, port := display(t, fast)
	status := &usbiptest.Registers{}
	status.Bytes[0x01], status.Bytes[0x40] = 1, 0x0f
	count := func(errors byte) {
		copy(status.Bytes[0x50:], []byte{0, 0x80, errors, 0x80, 0, 0x80, 0})
		for _, b := range status.Bytes[0x50:0x56] {
			status.Bytes[0x56] -= b
		}
	}
	count(0)
	keys := &usbiptest.Registers{}
	copy(keys.Bytes[:], []byte{0x0f, 0x0f, 0x0f, 0x0f, 0x0f})
	w.Add(usbiptest.StatusAddr, status)
	w.Add(ddc.HDCPAddr, keys)
	w.Add(usbiptest.CommandAddr, &usbiptest.Commander{Features: map[byte]usbiptest.Feature{0x60: {Max: 18, Now: 17}, 0xd6: {Max: 5, Now: 1}}})

	ask := func() (a asked, r result) {
		r = deadhop(t, "query", port, "--json")
		r.into(t, &a)
		return a, r
	}
	a, r := ask()
	assert.Zero(t, r.code, r.out)
	assert.Equal(t, [3]bool{true, true, true}, a.SCDC.Locked)
	require.NotNil(t, a.SCDC.Errors[1])
	assert.Zero(t, *a.SCDC.Errors[1])
	assert.True(t, a.HDCP.Present && a.HDCP.KeyValid)
	assert.Equal(t, uint16(17), a.Input.Now)
	assert.Equal(t, uint16(1), a.Power.Now)

	count(42)
	a, r = ask()
	assert.Equal(t, 1, r.code, r.out)
	require.NotNil(t, a.SCDC.Errors[1])
	assert.Equal(t, 42, *a.SCDC.Errors[1])
	r = deadhop(t, "query", port)
	assert.Contains(t, r.out, "green locked, 42 errors")
	assert.Contains(t, r.out, "power  on\n")

	count(0)
	keys.Bytes[0] = 0
	a, r = ask()
	assert.Equal(t, 1, r.code)
	assert.False(t, a.HDCP.KeyValid)

	t.Run("a display without any of it", func(t *testing.T) {
		w, port := display(t, scalerEDID(t))
		touched := 0
		w.SetFaults(usbiptest.On(usbiptest.StatusAddr, func(int, *usbiptest.Message) { touched++ }))
		r := deadhop(t, "query", port, "--json")
		var a asked
		r.into(t, &a)
		assert.Zero(t, r.code, r.out)
		assert.Equal(t, "not-tried", a.SCDC.State)
		assert.Zero(t, touched, "0x54 is left alone where the EDID does not announce it")
		assert.False(t, a.HDCP.Present)
		assert.Equal(t, "could-not-read", a.Power.State)
	})
	r = deadhop(t, "query", "out:Virtual-1")
	assert.Equal(t, 3, r.code)
	assert.Contains(t, r.err, "no display can be asked at out:Virtual-1")
}

func TestProgramSaysWhichPermissionsLack(t *testing.T) {
	_, port := display(t, scalerEDID(t))
	r := deadhop(t, "access")
	assert.Zero(t, r.code, r.out+r.err)
	r = deadhop(t, "access", "--rules", "--group", "bench")
	assert.Zero(t, r.code)
	assert.Contains(t, r.out, "i2c-tiny-usb")
	assert.Contains(t, r.out, `GROUP="bench", MODE="0660"`)
	assert.NotContains(t, r.out, "I801", "the machine's own SMBus")

	ctx, cancel := context.WithTimeout(context.Background(), 30*time.Second)
	defer cancel()
	cmd := exec.CommandContext(ctx, "deadhop", "access")
	const nobody = 65534
	cmd.SysProcAttr = &syscall.SysProcAttr{Credential: &syscall.Credential{Uid: nobody, Gid: nobody}}
	out, err := cmd.Output()
	require.Error(t, err)
	assert.Equal(t, 3, cmd.ProcessState.ExitCode())
	// The text wraps, so that it is compared without its line breaks.
	flat := strings.Join(strings.Fields(string(out)), " ")
	assert.Contains(t, flat, port+" open the I2C bus on /dev/"+strings.TrimPrefix(port, "bus:")+": no permission (EACCES, permission denied); the node belongs to uid 0, group 0, mode 0600")
	assert.Contains(t, flat, "usermod -aG video")
}

// Nothing joins the emulated output and the emulated receiver, which shows its
// own picture: a loop must say that pixels are wrong, and give the screen back.
func TestProgramLoopFindsWrongPixels(t *testing.T) {
	receiver(t)
	before := console(t)
	r := deadhop(t, "loop", "--from", "out:Virtual-1", "--to", receiverPort, "--at", "DMT 0x04", "--frames", "2", "--json")
	assert.Equal(t, 1, r.code, r.out+r.err)
	var report struct {
		Steps []struct {
			State    string `json:"state"`
			Pictures []struct {
				Wrong  int `json:"wrong"`
				Pixels int `json:"pixels"`
			} `json:"pictures"`
		} `json:"steps"`
	}
	r.into(t, &report)
	require.Len(t, report.Steps, 1)
	assert.Equal(t, "different", report.Steps[0].State)
	require.Len(t, report.Steps[0].Pictures, 2)
	assert.Positive(t, report.Steps[0].Pictures[0].Wrong)
	assert.True(t, comesToShow(t, before))
}

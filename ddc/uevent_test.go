package ddc

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
)

// Messages in the form of the kernel's lib/kobject_uevent.c, with variables
// as drivers/gpu/drm/drm_sysfs.c and the V4L2 and I2C cores send them.
func TestUeventsThatConcernTheBench(t *testing.T) {
	msg := func(parts ...string) []byte { return []byte(strings.Join(parts, "\x00") + "\x00") }
	for _, c := range []struct {
		name              string
		msg               []byte
		ports, connectors bool
	}{
		{"hot-plug", msg("change@/devices/pci0000:00/0000:00:02.0/drm/card0", "ACTION=change", "SUBSYSTEM=drm", "HOTPLUG=1", "CONNECTOR=95", "SEQNUM=4711"), false, true},
		{"lease", msg("change@/devices/pci0000:00/0000:00:02.0/drm/card0", "SUBSYSTEM=drm", "LEASE=1"), false, false},
		{"connector added", msg("add@/devices/pci0000:00/0000:00:02.0/drm/card0/card0-DP-3", "SUBSYSTEM=drm"), true, true},
		{"receiver added", msg("add@/devices/x/video4linux/video0", "SUBSYSTEM=video4linux"), true, false},
		{"adapter removed", msg("remove@/devices/x/i2c-12", "SUBSYSTEM=i2c"), true, false},
		{"bus node added", msg("add@/devices/x/i2c-12/i2c-dev/i2c-12", "SUBSYSTEM=i2c-dev"), true, false},
		{"chip bound", msg("bind@/devices/x/i2c-5/5-0048", "SUBSYSTEM=i2c"), false, false},
		{"other", msg("add@/devices/x/net/eth0", "SUBSYSTEM=net", "INTERFACE=eth0"), false, false},
	} {
		u, ok := parseUevent(c.msg)
		assert.True(t, ok, c.name)
		ports, connectors := u.concerns()
		assert.Equal(t, c.ports, ports, c.name)
		assert.Equal(t, c.connectors, connectors, c.name)
	}
	u, ok := parseUevent(msg("add@/devices/x", "SUBSYSTEM=usb", "MODALIAS=usb:v1=2=3", "SEQNUM=9"))
	assert.True(t, ok)
	assert.Equal(t, "usb:v1=2=3", u.vars["MODALIAS"])
	assert.Equal(t, uint64(9), u.seq)
	for _, bad := range []string{"", "libudev\x00\xfe\xed\xca\xfe", "add", "@/devices", "add@relative"} {
		_, ok := parseUevent([]byte(bad))
		assert.False(t, ok, "%q", bad)
	}
}

func TestSequenceGapIsALoss(t *testing.T) {
	var g seqGap
	for _, c := range []struct {
		seq  uint64
		lost bool
	}{{100, false}, {101, false}, {103, true}, {102, false}, {104, false}, {0, false}, {110, true}, {111, false}} {
		assert.Equal(t, c.lost, g.next(c.seq), "%d", c.seq)
	}
}

func FuzzParseUevent(f *testing.F) {
	f.Add([]byte("add@/devices/x\x00A=b=c\x00SEQNUM=7\x00"))
	f.Add([]byte("\x00\x00@\x00="))
	f.Fuzz(func(t *testing.T, b []byte) {
		if u, ok := parseUevent(b); ok && !strings.HasPrefix(u.devpath, "/") {
			t.Errorf("%q gave the path %q", b, u.devpath)
		}
	})
}

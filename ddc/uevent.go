package ddc

import (
	"bytes"
	"strconv"
	"strings"
)

// uevent is one message of the kernel about a device.
type uevent struct {
	action    string // "add", "change", "remove"
	devpath   string
	subsystem string
	seq       uint64
	vars      map[string]string
}

// parseUevent reads "ACTION@DEVPATH" and the NUL-ended variables after it.
// A value may contain "=". It reports false for anything else, such as a
// message of the device manager.
func parseUevent(msg []byte) (uevent, bool) {
	parts := bytes.Split(bytes.TrimSuffix(msg, []byte{0}), []byte{0})
	action, devpath, ok := strings.Cut(string(parts[0]), "@")
	if !ok || action == "" || !strings.HasPrefix(devpath, "/") {
		return uevent{}, false
	}
	u := uevent{action: action, devpath: devpath, vars: make(map[string]string, len(parts))}
	for _, p := range parts[1:] {
		if k, v, ok := strings.Cut(string(p), "="); ok {
			u.vars[k] = v
		}
	}
	u.subsystem = u.vars["SUBSYSTEM"]
	u.seq, _ = strconv.ParseUint(u.vars["SEQNUM"], 10, 64)
	return u, true
}

// concerns says what a uevent means for the bench.
func (u uevent) concerns() (ports, connectors bool) {
	switch u.subsystem {
	case "drm":
		if u.action == "change" {
			return false, u.vars["HOTPLUG"] == "1" || u.vars["CONNECTOR"] != ""
		}
		return true, true
	case "video4linux", "i2c-dev", "i2c-adapter", "media", "cec":
		return u.action == "add" || u.action == "remove", false
	case "i2c":
		// Adapters; clients come and go with drivers and are no ports.
		last := u.devpath[strings.LastIndexByte(u.devpath, '/')+1:]
		_, isAdapter := adapterNumber(last)
		return isAdapter && (u.action == "add" || u.action == "remove"), false
	default:
		return false, false
	}
}

// seqGap follows the sequence numbers of uevents and reports a gap. Newer
// kernels may send two that were counted at the same time in either order,
// and events of other network namespaces are counted but not heard: a gap is
// a reason to look again, no proof of a loss.
type seqGap struct{ last uint64 }

func (g *seqGap) next(seq uint64) (lost bool) {
	if seq == 0 {
		return false
	}
	lost = g.last != 0 && seq > g.last+1
	g.last = max(g.last, seq)
	return lost
}

package ddc

import (
	"errors"
	"io/fs"
	"path"
	"strings"
)

// sysRead reads one attribute and drops the newline that text attributes end
// in. Not for EDIDs, whose last byte may be 0x0a: see readBinary.
func sysRead(sys fs.FS, name string) (string, error) {
	b, err := readBinary(sys, name)
	return strings.TrimRight(string(b), "\n"), err
}

// readBinary reads a whole attribute. A sysfs file says 4096 or 0 for its
// size whatever it holds, so the buffer alone bounds the read: the largest
// EDID is 32 KiB.
func readBinary(sys fs.FS, name string) ([]byte, error) {
	f, err := sys.Open(name)
	if err != nil {
		return nil, err
	}
	defer f.Close()
	buf := make([]byte, maxBlocks*blockLen+1)
	n := 0
	for n < len(buf) {
		m, err := f.Read(buf[n:])
		n += m
		if err != nil || m == 0 {
			if err != nil && !isEOF(err) {
				return nil, err
			}
			break
		}
	}
	return buf[:n:n], nil
}

// sysLink follows one link of sysfs and returns where it leads, as a path
// below the root. It returns "" where there is no such link.
func sysLink(sys fs.FS, name string) string {
	to, err := fs.ReadLink(sys, name)
	if err != nil {
		return ""
	}
	if path.IsAbs(to) {
		return strings.TrimPrefix(strings.TrimPrefix(to, "/sys"), "/")
	}
	dir := sysResolve(sys, path.Dir(name))
	return path.Join(dir, to)
}

// sysResolve is the folder behind a path whose elements may be links. Class
// folders hold links into the device tree, and "..", in a link of the device
// tree, means the tree's parent.
func sysResolve(sys fs.FS, name string) string {
	done := "."
	for i, el := range strings.Split(path.Clean(name), "/") {
		if i > 64 {
			break
		}
		next := path.Join(done, el)
		if to, err := fs.ReadLink(sys, next); err == nil {
			if path.IsAbs(to) {
				next = strings.TrimPrefix(strings.TrimPrefix(to, "/sys"), "/")
			} else {
				next = path.Join(done, to)
			}
		}
		done = next
	}
	return done
}

// sysDriver is the kernel driver of a device: its own, or the nearest one of
// its parents, since class devices have none.
func sysDriver(sys fs.FS, dev string) string {
	for d := sysResolve(sys, dev); d != "." && d != "/" && d != "devices"; d = path.Dir(d) {
		if to, err := fs.ReadLink(sys, path.Join(d, "driver")); err == nil {
			return path.Base(to)
		}
	}
	return ""
}

// sysPCIClass is the PCI class code of the nearest PCI parent, "0x0c0500",
// or "".
func sysPCIClass(sys fs.FS, dev string) string {
	for d := sysResolve(sys, dev); d != "." && d != "/" && d != "devices"; d = path.Dir(d) {
		if sub := sysLink(sys, path.Join(d, "subsystem")); path.Base(sub) == "pci" {
			class, _ := sysRead(sys, path.Join(d, "class"))
			return class
		}
	}
	return ""
}

func notExist(err error) bool { return errors.Is(err, fs.ErrNotExist) }

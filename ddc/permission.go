package ddc

import (
	"errors"
	"fmt"
	"os"
	"os/user"
	"slices"
	"strconv"
	"strings"
	"syscall"
)

// openError explains why a device node could not be opened: what is missing
// is read from the node, never guessed.
func openError(op, path string, err error) *OpError {
	e := &OpError{Op: op, Path: path, Kind: deviceKind(err), Err: bareErrno(err)}
	switch {
	case errors.Is(err, syscall.EACCES), errors.Is(err, syscall.EPERM):
		e.Kind, e.Do = ErrPermission, permissionAdvice(path)
	case errors.Is(err, syscall.ENOENT) && strings.Contains(path, "/i2c-"):
		e.Do = "the kernel has the bus but no node for it: load the module i2c-dev (as root: modprobe i2c-dev)"
	case errors.Is(err, syscall.ENXIO):
		e.Kind = ErrGone
	case errors.Is(err, syscall.EBUSY):
		if who := holders(path); who != "" {
			e.Do = "held by " + who + ": end it first"
		}
	}
	return e
}

// permissionAdvice says whom the node lets in and how to become one of them.
func permissionAdvice(path string) string {
	info, err := os.Stat(path)
	if err != nil {
		return "its folder cannot be searched: " + errnoText(bareErrno(err))
	}
	st, ok := info.Sys().(*syscall.Stat_t)
	if !ok {
		return ""
	}
	mode := info.Mode().Perm()
	gid := strconv.FormatUint(uint64(st.Gid), 10)
	group := gid
	if g, err := user.LookupGroupId(gid); err == nil {
		group = g.Name
	}
	has := fmt.Sprintf("the node belongs to uid %d, group %s, mode %04o", st.Uid, group, mode)
	groups, _ := os.Getgroups()
	member := os.Getegid() == int(st.Gid) || slices.Contains(groups, int(st.Gid))
	switch {
	case mode&0o060 != 0o060:
		return has + ", which lets no group in: a udev rule must set GROUP and MODE=\"0660\""
	case member:
		return has + ", and this process is in that group: something else forbids it (a container, a security module)"
	default:
		return fmt.Sprintf("%s: join the group (as root: usermod -aG %s %s) and log in again", has, group, userName())
	}
}

func userName() string {
	if u, err := user.Current(); err == nil {
		return u.Username
	}
	return strconv.Itoa(os.Getuid())
}

// holders names the processes that have the node open, as far as this user
// may see them.
func holders(path string) string {
	procs, err := os.ReadDir("/proc")
	if err != nil {
		return ""
	}
	var found []string
	for _, p := range procs {
		pid, err := strconv.Atoi(p.Name())
		if err != nil || pid == os.Getpid() {
			continue
		}
		dir := "/proc/" + p.Name()
		fds, err := os.ReadDir(dir + "/fd")
		if err != nil {
			continue
		}
		for _, fd := range fds {
			if to, err := os.Readlink(dir + "/fd/" + fd.Name()); err == nil && to == path {
				name, _ := os.ReadFile(dir + "/comm")
				found = append(found, fmt.Sprintf("%s (process %d)", strings.TrimSpace(string(name)), pid))
				break
			}
		}
	}
	return strings.Join(found, ", ")
}

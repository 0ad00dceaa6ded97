package ddc

import (
	_ "embed"
	"errors"
	"path"
	"slices"
	"sync"
	"syscall"

	"deadhop/edid/yamlfile"
)

//go:embed adapters.yaml
var adaptersYAML []byte

// adapterRule is one entry of adapters.yaml: which adapters it is about, what
// they are for and what their errnos mean.
type adapterRule struct {
	Driver string            `yaml:"driver"` // kernel driver of the parent device, a glob; "" for any
	Name   string            `yaml:"name"`   // adapter name, a glob; "" for any
	Use    string            `yaml:"use"`    // "bench", "graphics", "system", "named"
	Source string            `yaml:"source"` // where the knowledge is from
	Errno  map[string]string `yaml:"errno"`  // errno name to meaning
	Note   string            `yaml:"note"`
}

type adapterFile struct {
	Adapters []adapterRule `yaml:"adapters"`
}

// meanings are the words that adapters.yaml may use.
var meanings = map[string]error{
	"no-ack":      ErrNoAck,
	"timed-out":   ErrTimedOut,
	"arbitration": ErrArbitration,
	"broken":      ErrBroken,
	"no-answer":   ErrNoAnswer,
	"unsupported": ErrUnsupported,
	"gone":        ErrGone,
	"busy":        ErrBusy,
}

// errnoNames are the errnos that I2C adapters and receivers return.
var errnoNames = map[string]syscall.Errno{
	"EACCES": syscall.EACCES, "EAGAIN": syscall.EAGAIN, "EBADMSG": syscall.EBADMSG,
	"EBUSY": syscall.EBUSY, "EINVAL": syscall.EINVAL, "EIO": syscall.EIO,
	"ENODATA": syscall.ENODATA, "ENODEV": syscall.ENODEV, "ENOENT": syscall.ENOENT,
	"ENOLCK": syscall.ENOLCK, "ENOLINK": syscall.ENOLINK, "ENOTTY": syscall.ENOTTY,
	"ENOSYS": syscall.ENOSYS, "ENXIO": syscall.ENXIO, "EOPNOTSUPP": syscall.EOPNOTSUPP,
	"EPERM": syscall.EPERM, "EPROTO": syscall.EPROTO, "ERANGE": syscall.ERANGE,
	"EREMOTEIO": syscall.EREMOTEIO, "ESHUTDOWN": syscall.ESHUTDOWN,
	"ETIMEDOUT": syscall.ETIMEDOUT, "E2BIG": syscall.E2BIG, "ENOBUFS": syscall.ENOBUFS,
}

func errnoName(no syscall.Errno) (string, bool) {
	for name, n := range errnoNames {
		if n == no {
			return name, true
		}
	}
	return "", false
}

// adapterRules parses the built-in table once. A fault in it is a fault of
// the build, and the tests parse it.
var adapterRules = sync.OnceValues(func() ([]adapterRule, error) {
	var f adapterFile
	if _, err := yamlfile.Decode("adapters.yaml", adaptersYAML, &f); err != nil {
		return nil, err
	}
	return f.Adapters, nil
})

// matchRule finds the first rule for an adapter, or the zero rule.
func matchRule(driver, name string) adapterRule {
	rules, err := adapterRules()
	if err != nil {
		return adapterRule{}
	}
	i := slices.IndexFunc(rules, func(r adapterRule) bool {
		return globs(r.Driver, driver) && globs(r.Name, name)
	})
	if i < 0 {
		return adapterRule{}
	}
	return rules[i]
}

func globs(pattern, s string) bool {
	if pattern == "" {
		return true
	}
	ok, err := path.Match(pattern, s)
	return err == nil && ok
}

// wireKind is the meaning of a transfer's errno on an adapter of this rule.
// An adapter that the table does not know gets ErrNoAnswer for the errnos
// that drivers use differently.
func (r adapterRule) wireKind(err error) error {
	for name, meaning := range r.Errno {
		if errors.Is(err, errnoNames[name]) {
			return meanings[meaning]
		}
	}
	if kind := deviceKind(err); kind != nil && kind != ErrBusy {
		return kind
	}
	return ErrNoAnswer
}

package main

import (
	"context"
	"errors"
	"os"

	"github.com/spf13/pflag"

	"deadhop/edid"
	"deadhop/edid/timing"
)

// limitsOptions say where the limits come from.
type limitsOptions struct {
	files []string
	edid  string
}

func (o *limitsOptions) flags(fs *pflag.FlagSet) {
	fs.StringArrayVar(&o.files, "limits", nil, "file of limits (may be given several times)")
	fs.StringVar(&o.edid, "edid", "", "EDID of the display, as a file or a port")
}

// knownLimits are all limits of a call.
type knownLimits struct {
	*timing.LimitsFile
	// edid is the display's, nil where none was given.
	edid     *edid.EDID
	edidName string
}

// all are the limits of every part, the source's and the link's first.
func (k knownLimits) all() []timing.Limits {
	return append(k.Of(timing.KindSource, timing.KindLink, timing.KindScalerInput), k.Of(timing.KindPanel)...)
}

// size is the active size of the panel, 0 where no file says it.
func (k knownLimits) size() (width, height uint32) {
	for _, p := range k.Parts {
		if p.Kind == timing.KindPanel && p.Width > 0 {
			return p.Width, p.Height
		}
	}
	return 0, 0
}

// readLimits reads the limits files and takes the range limits of the EDID in
// as one more part that the source's timing meets.
func (a *app) readLimits(ctx context.Context, verb string, o limitsOptions) (knownLimits, error) {
	k := knownLimits{LimitsFile: &timing.LimitsFile{}}
	if len(o.files) == 0 && o.edid == "" {
		return k, &usageError{verb, errors.New("--limits is missing: a file that says what the parts accept")}
	}
	for _, name := range o.files {
		data, err := os.ReadFile(name)
		if err != nil {
			return k, badInputf("cannot read the limits: %w", err)
		}
		f, err := timing.ParseLimits(name, data)
		if err != nil {
			return k, badInput(err)
		}
		k.Buffers = k.Buffers || f.Buffers
		k.Parts = append(k.Parts, f.Parts...)
	}
	if o.edid == "" {
		return k, nil
	}
	in, err := a.readEDID(ctx, o.edid, 2)
	if err != nil {
		return k, err
	}
	k.edidName = in.name
	if k.edid, err = edid.Decode(in.bytes); err != nil {
		return k, badInputf("%s: %w", in.name, err)
	}
	r := k.edid.RangeLimits()
	if r == nil {
		if len(o.files) == 0 {
			return k, badInputf("%s: this EDID states no range limits; give a file of limits too", in.name)
		}
		return k, nil
	}
	k.Parts = append(k.Parts, timing.Part{Kind: timing.KindScalerInput, Limits: timing.RangeLimits(
		timing.Hz(uint64(r.MinVHz)), timing.Hz(uint64(r.MaxVHz)),
		timing.KHz(uint64(r.MinHKHz)), timing.KHz(uint64(r.MaxHKHz)), timing.Hz(r.MaxClockHz()))})
	return k, nil
}

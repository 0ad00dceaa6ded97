package edid

import (
	"deadhop/edid/timing"
)

// The rules by which the Linux 6.1 kernel's mode list differs from what an
// EDID states; read in drivers/gpu/drm/drm_edid.c and drm_edid_load.c.

// kernelView is what the rules need to know of one EDID.
type kernelView struct {
	e       *EDID
	formats []Format
	modes   []kernelMode
}

func (k *kernelView) has(f timing.Timing, clock timing.Freq, tol int64) bool {
	form := formOf(f)
	for _, m := range k.modes {
		if m.form() == form && near(int64(m.kHz), kHzOf(clock), tol) {
			return true
		}
	}
	return false
}

func (m kernelMode) rate() uint64 {
	total := uint64(m.ht) * uint64(m.vt)
	return (m.kHz*1000 + total/2) / total
}

// hasSize: drm_mode_std makes no mode of a standard timing whose size and
// rounded rate the list has already, and prefers reduced blanking where the
// display may take it.
func (k *kernelView) hasSize(t timing.Timing, hz uint64) bool {
	for _, m := range k.modes {
		if m.h == t.H.Active && m.v == t.V.Active && near(int64(m.rate()), int64(hz), 1) {
			return true
		}
	}
	return false
}

// whyAbsent names the rule by which the kernel's list lacks a progressive
// format that the EDID states, "listed" where it does not lack it, and "" where
// there is no rule.
func (k *kernelView) whyAbsent(f *Format) string {
	t := f.Timing.Unrepeated()
	switch {
	case k.has(f.Timing, t.PixelClock, 1):
		return "listed"
	case k.allPlaces(f, k.dropped):
		return "the kernel drops blocks with a wrong checksum"
	case k.allPlaces(f, k.unread):
		return "the kernel does not read this kind of block"
	case k.allPlaces(f, func(p Place) bool { return p.Kind == PlaceDetailed || p.Kind == PlaceIDDetailed }) && k.has(f.Timing, t.PixelClock, 5):
		return "the kernel moves a detailed timing onto a CTA-861 clock within 5 kHz"
	case k.allPlaces(f, func(p Place) bool { return p.Kind == PlaceEstablished }) && t.H.Active == 1152 && t.V.Active == 870:
		return "the kernel reads the 1152x870 bit as 1152x864"
	case k.allPlaces(f, coded) && k.hasSize(t, t.FieldRate().Round(1)):
		return "a standard timing gives way to a mode of its size and rate"
	case k.allPlaces(f, func(p Place) bool { return p.Kind == PlaceStandard && p.Inferred() }) && !k.e.Base.Features.ContinuousOrGTF():
		return "the kernel makes no mode of a standard timing without an announced formula"
	case t.H.Sync == 0 || t.V.Sync == 0:
		return "the kernel refuses a timing without sync"
	case k.allPlaces(f, k.stereo):
		return "the kernel refuses a stereo timing"
	case gtfOnly(f) && k.has(f.Timing, t.PixelClock, kHzOf(t.PixelClock)/1000):
		return "the kernel's GTF is less exact"
	case cvtOnly(f) && k.has(f.Timing, t.PixelClock, 249):
		return "the kernel's CVT does not round the clock"
	case uint64(t.H.Active)*uint64(t.V.Active)*8 > 128<<20:
		return "two frames need more than the emulated card's 128 MiB"
	}
	return ""
}

func gtfOnly(f *Format) bool {
	for _, p := range f.Places {
		if p.Formula != useGTF {
			return false
		}
	}
	return true
}

// cvtOnly: all places leave the porches to CVT's standard blanking.
func cvtOnly(f *Format) bool {
	for _, p := range f.Places {
		if p.Formula != useCVT {
			return false
		}
	}
	return true
}

// stereo: drm_mode_detailed refuses a timing with bit 5 of its flags set.
func (k *kernelView) stereo(p Place) bool {
	return p.Kind == PlaceDetailed && k.e.raw[p.Block*BlockSize+p.Offset+17]&0x20 != 0
}

func coded(p Place) bool { return p.Kind == PlaceStandard }

func (k *kernelView) allPlaces(f *Format, is func(Place) bool) bool {
	for _, p := range f.Places {
		if !is(p) {
			return false
		}
	}
	return true
}

func (k *kernelView) dropped(p Place) bool {
	return p.Block > 0 && sum(k.e.raw[p.Block*BlockSize:(p.Block+1)*BlockSize]) != 0
}

// unread: Linux 6.1 reads no VTB-EXT, and of DisplayID only Type I and VII
// timings and CTA blocks.
func (k *kernelView) unread(p Place) bool {
	if p.Block == 0 {
		return false
	}
	x := k.e.Extensions[p.Block-1]
	return x.Tag() == VTBTag || x.Tag() == DisplayIDTag && p.Kind != PlaceIDDetailed && p.Kind != PlaceVIC
}

// whyPresent names the rule by which the kernel's list has a mode, "" where
// there is none.
func (k *kernelView) whyPresent(m kernelMode) string {
	for i := range k.formats {
		f := &k.formats[i]
		if f.Timing.Interlaced || formOf(f.Timing) != m.form() {
			continue
		}
		clock := kHzOf(f.Timing.Unrepeated().PixelClock)
		if over := int64(m.kHz) - clock; cvtOnly(f) && over >= 0 && over < 250 {
			return "the kernel's CVT does not round the clock"
		}
		tol := int64(1)
		if f.Places[0].Kind == PlaceDetailed || f.Places[0].Kind == PlaceIDDetailed {
			tol = 5
		}
		if near(int64(m.kHz), clock, tol) {
			if f.Stated() {
				return "stated"
			}
			return "a formula, from a stated size and rate"
		}
		if gtfOnly(f) && kernelGTF(m, f.Timing) {
			return "the kernel's GTF is less exact"
		}
		if twin(int64(m.kHz), clock) {
			return "the 1000/1001 twin"
		}
	}
	switch {
	case k.lengthened(m):
		return "the kernel lengthens a total that the sync runs past"
	case m.h == 1152 && m.v == 864 && m.kHz == 108000 && k.e.Base.Established.Has(16):
		return "the kernel reads the 1152x870 bit as 1152x864"
	case k.standardReduced(m):
		return "a standard timing with reduced blanking"
	case k.formulaOfStandard(m):
		return "a standard timing by the formula that the kernel prefers"
	case k.inRange(m) && isDMT(m):
		return "a DMT timing within the range limits"
	case k.inRange(m) && isExtra(m, k.gtf()):
		return "the kernel's own list of sizes by GTF or CVT within the range limits"
	}
	return ""
}

// lengthened: drm_mode_detailed makes a total one more than the end of a sync
// that runs past it.
func (k *kernelView) lengthened(m kernelMode) bool {
	for _, t := range k.detailed() {
		hb, vb := t.blanks()
		f := formOf(t.Timing)
		f.ht, f.vt = f.h+hb, f.v+vb
		if f.he > f.ht {
			f.ht = f.he + 1
		}
		if f.ve > f.vt {
			f.vt = f.ve + 1
		}
		if f == m.form() && near(int64(m.kHz), kHzOf(t.Timing.PixelClock), 5) {
			return true
		}
	}
	return false
}

func (k *kernelView) detailed() []*DetailedTiming {
	var out []*DetailedTiming
	for _, x := range k.e.Base.Descriptors {
		if t, ok := x.(*DetailedTiming); ok {
			out = append(out, t)
		}
	}
	for _, c := range k.e.CTAs() {
		for i := range c.Timings {
			out = append(out, &c.Timings[i])
		}
	}
	return out
}

func twin(a, b int64) bool {
	return near(a, (b*1000+500)/1001, 1) || near(a, (b*1001+500)/1000, 1)
}

func sameForm(m kernelMode, t timing.Timing, tol int64) bool {
	return formOf(t) == m.form() && near(int64(m.kHz), kHzOf(t.PixelClock), tol)
}

func isDMT(m kernelMode) bool {
	for _, s := range timing.Standards(timing.SourceDMT) {
		if sameForm(m, s.Timing, 1) {
			return true
		}
	}
	return false
}

// standardReduced: a display that may take reduced blanking gets DMT's
// reduced timing for a standard timing of its size and rate.
func (k *kernelView) standardReduced(m kernelMode) bool {
	if !isDMT(m) {
		return false
	}
	return k.anyStandard(func(w, h, hz int) bool {
		return int(m.h) == w && int(m.v) == h && near(int64(m.rate()), int64(hz), 1)
	})
}

func (k *kernelView) anyStandard(is func(w, h, hz int) bool) bool {
	codes := k.e.Base.Standard[:]
	for _, x := range k.e.Base.Descriptors {
		if s, ok := x.(*StandardTimings); ok {
			codes = append(append([]StandardTiming(nil), codes...), s.Codes[:]...)
		}
	}
	for _, s := range codes {
		if s.Used() && is(s.HActive(), s.VActive(k.e.Base.Version), s.Hz()) {
			return true
		}
	}
	return false
}

func (k *kernelView) formulaOfStandard(m kernelMode) bool {
	return k.anyStandard(func(w, h, hz int) bool {
		m := m
		if hz == 60 && (w == 1360 && h == 765 || w == 1368 && h == 769) && m.h == 1366 {
			w, h, m = 1360, 768, m.unpatched(1360)
		}
		r := timing.Request{Width: uint32(w), Height: uint32(h), Rate: timing.Hz(uint64(hz))}
		g, err := timing.GTF(r, k.gtf())
		return kernelCVT(m, r) || err == nil && kernelGTF(m, g)
	})
}

func (k *kernelView) gtf() *timing.GTFCurve { return (&gatherer{e: k.e}).secondaryGTF() }

// inRange: drm_edid's mode_in_range, for displays with the continuous
// frequency or GTF flag.
func (k *kernelView) inRange(m kernelMode) bool {
	if !k.e.Base.Features.ContinuousOrGTF() {
		return false
	}
	for _, x := range k.e.Base.Descriptors {
		r, ok := x.(*RangeLimits)
		if !ok {
			continue
		}
		h := (m.kHz + uint64(m.ht)/2) / uint64(m.ht)
		v := m.rate()
		limit := r.MaxClockHz()/1000 + 5001
		if h >= uint64(r.MinHKHz) && h <= uint64(r.MaxHKHz) && v >= uint64(r.MinVHz) && v <= uint64(r.MaxVHz) &&
			(r.MaxClockMHz == 0 || m.kHz <= limit) {
			return true
		}
	}
	return false
}

// kernelCVT: drm_cvt_mode means to round the clock down to 250 kHz as CVT does
// but
// subtracts the remainder of a clock that is still 0.
func kernelCVT(m kernelMode, r timing.Request) bool {
	for _, b := range []timing.CVTBlanking{timing.CVTStandard, timing.CVTReduced1} {
		t, err := timing.CVT(r, b)
		if err != nil {
			continue
		}
		f := formOf(t)
		if m.hs == f.hs+8 {
			f.hs += 8
		}
		if m.ve != f.ve && m.ve-m.vs >= 4 && m.ve-m.vs <= 10 {
			f.ve = m.ve
		}
		if over := int64(m.kHz) - kHzOf(t.PixelClock); f == m.form() && over >= -1 && over <= 251 {
			return true
		}
	}
	return false
}

// unpatched undoes what drm_edid does to make 1366 of 1360 or 1368.
func (m kernelMode) unpatched(w uint32) kernelMode {
	m.h, m.hs, m.he = w, m.hs+1, m.he+1
	return m
}

// kernelGTF: drm_gtf_mode works in integers, which moves the clock by up to a
// thousandth.
func kernelGTF(m kernelMode, t timing.Timing) bool {
	return sameForm(m, t, kHzOf(t.PixelClock)/1000)
}

// isExtra: drm_edid's extra_modes, all at 60 Hz.
func isExtra(m kernelMode, curve *timing.GTFCurve) bool {
	for _, s := range [][2]uint32{{1024, 576}, {1366, 768}, {1600, 900}, {1680, 945}, {1920, 1080}, {2048, 1152}, {2048, 1536}} {
		if m.v != s[1] || m.h > s[0]+2 || m.h+2 < s[0] {
			continue
		}
		// 1366 comes out of the formulas as 1360 or 1368 and is then patched.
		widths := []uint32{s[0]}
		if s[0] == 1366 {
			widths = []uint32{1360, 1368}
		}
		for _, w := range widths {
			n := m
			if w != s[0] {
				n = m.unpatched(w)
			}
			r := timing.Request{Width: w, Height: s[1], Rate: timing.Hz(60)}
			for _, c := range []*timing.GTFCurve{nil, curve} {
				if t, err := timing.GTF(r, c); err == nil && kernelGTF(n, t) {
					return true
				}
			}
			if kernelCVT(n, r) {
				return true
			}
		}
	}
	return false
}

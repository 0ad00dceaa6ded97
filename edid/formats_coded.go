package edid

import "deadhop/edid/timing"

// coded adds what the base block states by code: CVT codes, standard and
// established timings.
func (g *gatherer) coded() {
	b := &g.e.Base
	for _, x := range b.Descriptors {
		if c, ok := x.(*CVTCodes); ok {
			for i, code := range c.Codes {
				g.cvt(code, c.at+6+3*i)
			}
		}
	}
	for i, s := range b.Standard {
		g.standard(s, 0x26+2*i)
	}
	for _, x := range b.Descriptors {
		switch x := x.(type) {
		case *StandardTimings:
			for i, s := range x.Codes {
				g.standard(s, x.at+5+2*i)
			}
		case *EstablishedIII:
			for n := range 8 * len(x.Bits) {
				if x.Has(n) {
					s, ok := timing.EstablishedIII(uint8(6+n/8), uint8(7-n%8))
					g.established(s, ok, x.at+6+n/8)
				}
			}
		}
	}
	for n := range 17 {
		if b.Established.Has(n) {
			s, ok := timing.Established(uint8(0x23+n/8), uint8(7-n%8))
			g.established(s, ok, 0x23+n/8)
		}
	}
}

func (g *gatherer) established(s timing.Standard, ok bool, at int) {
	if ok {
		g.putStandard(rankCoded, s, Place{Kind: PlaceEstablished, Offset: at, Len: 1, Code: s.Code})
	}
}

// standard adds a standard timing. DMT gives the porches where it has the
// code or the size and rate; otherwise the formula that the display announces
// does, and where it announces none the one of its time: GTF before EDID 1.4,
// CVT since.
func (g *gatherer) standard(s StandardTiming, at int) {
	v := g.e.Base.Version
	if !s.Used() {
		return
	}
	p := Place{Kind: PlaceStandard, Offset: at, Len: 2, Code: uint16(s[0])<<8 | uint16(s[1])}
	if d, ok := timing.DMTByStandardCode(s); ok && (s[1]>>6 != 0 || v.AtLeast(3)) {
		g.putStandard(rankCoded, d, p)
		return
	}
	w, h, hz := uint32(s.HActive()), uint32(s.VActive(v)), s.Hz()
	if hz == 60 && (w == 1360 && h == 765 || w == 1368 && h == 769) {
		// 1366x768 cannot be coded; these two are its usual stand-ins.
		w, h = 1366, 768
	}
	if d, ok := dmtBySize(w, h, hz); ok {
		g.putStandard(rankCoded, d, p)
		return
	}
	if w == 1366 {
		g.panel1366(p)
		return
	}
	g.byFormula(rankCoded, timing.Request{Width: w, Height: h, Rate: timing.Hz(uint64(hz))}, g.standardFormula(), p)
}

// dmtBySize finds the DMT timing of a size and rate, with normal blanking.
func dmtBySize(w, h uint32, hz int) (timing.Standard, bool) {
	for id := uint8(1); ; id++ {
		d, ok := timing.DMT(id)
		if !ok {
			return d, false
		}
		if t := d.Timing; t.H.Active == w && t.V.Active == h && !t.Interlaced &&
			d.Reduced == timing.NotReduced && t.FieldRate().Round(1) == uint64(hz) {
			return d, true
		}
	}
}

// panel1366 is 1366x768 at 60 Hz as sources make it: CVT of 1368 pixels, cut
// by one pixel on either side.
func (g *gatherer) panel1366(p Place) {
	t, err := timing.CVT(timing.Request{Width: 1368, Height: 768, Rate: timing.Hz(60)}, timing.CVTStandard)
	if err != nil {
		return
	}
	t.H.Active -= 2
	t.H.Front++
	t.H.Back++
	p.Formula = "CVT"
	g.put(rankCoded, t, p)
}

const (
	useCVT = "CVT"
	useRB  = "CVT-RB"
	useRB2 = "CVT-RB2"
	useRB3 = "CVT-RB3"
	useGTF = "GTF"
)

func (g *gatherer) standardFormula() string {
	if g.e.Base.Version.AtLeast(4) {
		return useCVT
	}
	return useGTF
}

func (g *gatherer) byFormula(class int, r timing.Request, formula string, p Place) int {
	var t timing.Timing
	var err error
	switch formula {
	case useGTF:
		t, err = timing.GTF(r, g.secondaryGTF())
	case useRB:
		t, err = timing.CVT(r, timing.CVTReduced1)
	case useRB2:
		t, err = timing.CVT(r, timing.CVTReduced2)
	case useRB3:
		t, err = timing.CVT(r, timing.CVTReduced3)
	default:
		t, err = timing.CVT(r, timing.CVTStandard)
	}
	if err != nil {
		return -1
	}
	p.Formula = formula
	return g.put(class, t, p)
}

func (g *gatherer) secondaryGTF() *timing.GTFCurve {
	r := g.e.RangeLimits()
	if r == nil || r.GTF == nil {
		return nil
	}
	return &timing.GTFCurve{
		Start: timing.KHz(uint64(r.GTF.StartKHz)), C2: r.GTF.C2, J2: r.GTF.J2, M: r.GTF.M, K: r.GTF.K,
	}
}

func (g *gatherer) cvt(c CVTCode, at int) {
	if !c.Used() {
		return
	}
	for _, r := range c.Rates() {
		formula := useCVT
		if r.Reduced {
			formula = useRB
		}
		g.byFormula(rankCoded,
			timing.Request{Width: uint32(c.HActive()), Height: uint32(c.VActive()), Rate: timing.Hz(uint64(r.Hz))},
			formula, Place{Kind: PlaceCVT, Offset: at, Len: 3, Code: uint16(c[0]) | uint16(c[1])<<8})
	}
}

package edid

import (
	"slices"

	"deadhop/edid/timing"
)

func sortBy(order, rank []int) {
	slices.SortStableFunc(order, func(a, b int) int { return rank[a] - rank[b] })
}

func (g *gatherer) cta(c *CTA) {
	g.native += int(c.NativeTimings)
	for i := range c.Timings {
		g.putDetailed(rankDetailed, &c.Timings[i])
	}
	g.blocks(c.Blocks)
}

func (g *gatherer) blocks(blocks []DataBlock) {
	for _, b := range blocks {
		switch b := b.(type) {
		case *Video:
			for i, s := range b.SVDs {
				g.svds = append(g.svds, g.vic(PlaceVIC, s, b.at+1+i))
			}
		case *YCbCr420Video:
			for i, s := range b.SVDs {
				if n := g.vic(PlaceVIC420, s, b.at+2+i); n >= 0 && g.list[n].Chroma == ChromaFull {
					g.list[n].Chroma = ChromaOnly420
				}
			}
		case *YCbCr420Map:
			if g.map420 == nil {
				g.map420 = b
			}
		case *Preference:
			g.prefer = append(g.prefer, b.SVRs...)
		case *HDMI:
			if b.Video == nil {
				continue
			}
			for _, v := range b.Video.VICs {
				if s, ok := timing.HDMIVIC(v); ok {
					g.putStandard(rankVIC, s, Place{Kind: PlaceHDMIVIC, Offset: b.at, Len: len(b.raw), Code: uint16(v)})
				}
			}
		case *CTATypeVII:
			g.idTiming(b.Timing, b.at, len(b.raw))
		case *CTATypeVIII:
			g.timingCodes(b.TimingCodes, b.at, len(b.raw))
		case *CTATypeX:
			for _, f := range b.Formulas {
				g.formula(f, b.at, len(b.raw))
			}
		case *VideoFormats:
			// OVT timings follow from a formula that no open source gives;
			// the sizes stay in the block.
		}
	}
}

func (g *gatherer) vic(kind PlaceKind, s SVD, at int) int {
	v, ok := timing.VIC(s.VIC())
	if !ok {
		return -1
	}
	i := g.putStandard(rankVIC, v, Place{Kind: kind, Offset: at, Len: 1, Code: v.Code})
	if i >= 0 && s.Native() {
		g.list[i].Native = true
	}
	return i
}

// mark420 applies the 4:2:0 capability map to the short video descriptors,
// counted over all video blocks.
func (g *gatherer) mark420() {
	if g.map420 == nil {
		return
	}
	for n, i := range g.svds {
		if i >= 0 && g.map420.Has(n) && g.list[i].Chroma == ChromaFull {
			g.list[i].Chroma = ChromaAlso420
		}
	}
}

// markNative marks the first detailed timings that the CTA extensions
// announce as native, and the preferred one where EDID 1.4 calls it so.
func (g *gatherer) markNative() {
	n := g.native
	if n == 0 && g.e.Base.Version.AtLeast(4) && g.e.Base.Features.PreferredNative() && len(g.e.CTAs()) == 0 {
		n = 1
	}
	for _, i := range g.detailed[:min(n, len(g.detailed))] {
		if i >= 0 {
			g.list[i].Native = true
		}
	}
	for _, c := range g.e.CTAs() {
		for _, b := range c.Blocks {
			if r, ok := b.(*NativeResolution); ok {
				if i := g.resolve(r.Format); i >= 0 {
					g.list[i].Native = true
				}
			}
		}
	}
}

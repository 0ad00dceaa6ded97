package edid

import "deadhop/edid/timing"

func (g *gatherer) displayID(s *DisplayID) {
	for _, b := range s.Blocks {
		switch b := b.(type) {
		case *IDTimings:
			size := 20
			if b.Kind == IDTypeII {
				size = 11
			} else if b.Kind == IDTypeVII {
				size += int(b.Revision >> 4 & 7)
			}
			for i, t := range b.Timings {
				g.idTiming(t, b.at+3+size*i, size)
			}
		case *IDFormulas:
			for _, f := range b.Timings {
				g.formula(f, b.at, len(b.raw))
			}
		case *IDTimingCodes:
			g.timingCodes(b.TimingCodes, b.at, len(b.raw))
		case *IDCTABlocks:
			g.blocks(b.Blocks)
		}
	}
}

func (g *gatherer) idTiming(t IDTiming, at, n int) {
	class := rankDetailed
	if t.Preferred {
		class = rankIDPreferred
	}
	i := g.put(class, t.Timing, Place{Kind: PlaceIDDetailed, Offset: at, Len: n})
	g.typeVII = append(g.typeVII, i)
	if i >= 0 && t.YCbCr420 && g.list[i].Chroma == ChromaFull {
		g.list[i].Chroma = ChromaAlso420
	}
}

func (g *gatherer) formula(f FormulaTiming, at, n int) {
	names := [4]string{useCVT, useRB, useRB2, useRB3}
	if f.V == 0 || int(f.Formula) >= len(names) {
		return
	}
	class := rankDetailed
	if f.Preferred {
		class = rankIDPreferred
	}
	r := timing.Request{Width: f.H, Height: f.V, Rate: timing.Hz(uint64(f.Hz)), Interlaced: f.Interlaced}
	i := g.byFormula(class, r, names[f.Formula], Place{Kind: PlaceIDFormula, Offset: at, Len: n})
	g.typeVII = append(g.typeVII, i)
	if i >= 0 && f.YCbCr420 && g.list[i].Chroma == ChromaFull {
		g.list[i].Chroma = ChromaAlso420
	}
}

func (g *gatherer) timingCodes(t TimingCodes, at, n int) {
	for _, c := range t.Codes {
		if c > 0xFF {
			continue
		}
		var s timing.Standard
		var ok bool
		switch t.CodeKind {
		case CodeDMT:
			s, ok = timing.DMT(uint8(c))
		case CodeVIC:
			s, ok = timing.VIC(uint8(c))
		case CodeHDMIVIC:
			s, ok = timing.HDMIVIC(uint8(c))
		}
		if !ok {
			g.typeVIII = append(g.typeVIII, -1)
			continue
		}
		i := g.putStandard(rankVIC, s, Place{Kind: PlaceIDCode, Offset: at, Len: n, Code: c})
		g.typeVIII = append(g.typeVIII, i)
		if i >= 0 && t.YCbCr420 && g.list[i].Chroma == ChromaFull {
			g.list[i].Chroma = ChromaAlso420
		}
	}
}

package edid

import (
	"deadhop/edid/timing"
)

// Format is one picture format that the display accepts.
type Format struct {
	Timing timing.Timing
	// Twin is the pixel clock of the 1000/1001 partner, which a display that
	// lists the format by a CTA-861 code accepts as well (CTA-861 4.3); zero
	// where there is none.
	Twin   timing.Freq
	Aspect string // "16:9" where a code states it, else ""
	// Places are all the places that state the format, in the order in which
	// a source weighs them.
	Places []Place
	// Native: a place marks it as the display's own raster.
	Native bool
	Chroma Chroma
}

// Chroma says whether a format is taken in YCbCr 4:2:0.
type Chroma uint8

const (
	ChromaFull    Chroma = iota // not in 4:2:0
	ChromaAlso420               // in 4:2:0 too
	ChromaOnly420               // in 4:2:0 only
)

func (c Chroma) String() string {
	return nameOf([]string{"RGB or YCbCr 4:4:4", "YCbCr 4:2:0 too", "YCbCr 4:2:0 only"}, "chroma", int(c))
}

// Place is where, and as what, a format is stated.
type Place struct {
	Kind        PlaceKind
	Block       int
	Offset, Len int    // within the block
	Code        uint16 // VIC, HDMI VIC, DMT id or the code's raw value, by Kind
	// Formula is the formula that fills in the porches where the place
	// states size and rate only, "" where all numbers are stated.
	Formula string
}

// Inferred reports whether the porches follow from a formula.
func (p Place) Inferred() bool { return p.Formula != "" }

// PlaceKind is how a place states a format.
type PlaceKind uint8

const (
	PlaceDetailed    PlaceKind = iota + 1 // 18-byte detailed timing
	PlaceVIC                              // short video descriptor
	PlaceVIC420                           // short video descriptor of the 4:2:0 video block
	PlaceHDMIVIC                          // HDMI VIC
	PlaceEstablished                      // bit of established timings I to III
	PlaceStandard                         // two-byte standard timing
	PlaceCVT                              // three-byte CVT code
	PlaceIDDetailed                       // DisplayID Type I, II or VII
	PlaceIDFormula                        // DisplayID Type III, V, IX or X
	PlaceIDCode                           // DisplayID Type IV or VIII, or a bit list
)

func (k PlaceKind) String() string {
	return nameOf([]string{"", "detailed timing", "VIC", "4:2:0 VIC", "HDMI VIC", "established timing", "standard timing",
		"CVT code", "DisplayID timing", "DisplayID formula", "DisplayID code"}, "place", int(k))
}

// Stated reports whether some place states all numbers of the timing, so that
// none had to be computed.
func (f *Format) Stated() bool {
	for _, p := range f.Places {
		if !p.Inferred() {
			return true
		}
	}
	return false
}

// TMDSRate is the TMDS character rate that the format needs in Hz at 8, 10,
// 12 or 16 bits per component: the pixel clock times bits over 8, and half of
// that in YCbCr 4:2:0 (HDMI 1.4b 6.5.1, HDMI 2.1 7.1). YCbCr 4:2:2 always
// needs the rate of 8 bits.
func (f *Format) TMDSRate(bits int, ycc420 bool) timing.Freq {
	r := f.Timing.PixelClock.Scale(uint64(bits), 8)
	if ycc420 {
		return r.Div(2)
	}
	return r
}

// Formats merges all picture formats of the EDID into one list, each timing
// once, the one most wanted first: what a video format preference block
// names, then the preferred timing of the base block, DisplayID's preferred
// timings, further detailed timings, video codes in their order, and last
// standard and established timings.
//
// Interlaced formats are in the list; formats that are damaged beyond use are
// not. 3D structures and formats that a display with continuous frequency
// accepts unlisted are not either.
func (e *EDID) Formats() []Format {
	g := gatherer{e: e, index: map[timing.Timing]int{}}
	g.base()
	for i, x := range e.Extensions {
		g.block = i + 1
		switch x := x.(type) {
		case *CTA:
			g.cta(x)
		case *DisplayID:
			g.displayID(x)
		case *VTB:
			g.vtb(x)
		}
	}
	g.block = 0
	g.coded()
	g.mark420()
	g.markNative()
	return g.ordered()
}

// gatherer collects formats. The rank of a format is the lowest of its
// places' ranks.
type gatherer struct {
	e     *EDID
	block int
	list  []Format
	rank  []int
	seq   int
	index map[timing.Timing]int

	svds     []int // list index of each short video descriptor, -1 for none
	detailed []int // list index of each 18-byte timing
	typeVII  []int
	typeVIII []int
	map420   *YCbCr420Map
	prefer   []SVR
	native   int // announced number of native detailed timings
}

// Classes of rank, the most wanted first.
const (
	rankFirst = iota * 1000
	rankIDPreferred
	rankDetailed
	rankVIC
	rankCoded
)

// put adds a format or a place of it and returns its index in the list.
func (g *gatherer) put(class int, t timing.Timing, p Place) int {
	// No display has so few pixels; filler bytes look like it.
	if t.Validate() != nil || t.H.Active < 64 || t.V.Active < 64 {
		return -1
	}
	p.Block = g.block
	r := class + g.seq
	g.seq++
	i, ok := g.index[t]
	if !ok {
		i = len(g.list)
		g.index[t] = i
		g.list = append(g.list, Format{Timing: t})
		g.rank = append(g.rank, r)
	}
	f := &g.list[i]
	f.Places = append(f.Places, p)
	g.rank[i] = min(g.rank[i], r)
	return i
}

// putStandard adds an entry of a published table.
func (g *gatherer) putStandard(class int, s timing.Standard, p Place) int {
	i := g.put(class, s.Timing, p)
	if i >= 0 && (s.Source == timing.SourceCTA || s.Source == timing.SourceHDMI) {
		f := &g.list[i]
		f.Twin = s.TwinClock
		if f.Aspect == "" {
			f.Aspect = s.Aspect
		}
	}
	return i
}

func (g *gatherer) putDetailed(class int, t *DetailedTiming) {
	h, v := t.blanks()
	if t.Timing.H.Front+t.Timing.H.Sync > h || t.Timing.V.Front+t.Timing.V.Sync > v {
		g.detailed = append(g.detailed, -1)
		return
	}
	i := g.put(class, t.Timing, Place{Kind: PlaceDetailed, Offset: t.at, Len: 18})
	g.detailed = append(g.detailed, i)
}

func (g *gatherer) base() {
	first := true
	for _, x := range g.e.Base.Descriptors {
		if t, ok := x.(*DetailedTiming); ok {
			class := rankDetailed
			if first {
				class = rankFirst
			}
			g.putDetailed(class, t)
		}
		first = false
	}
}

func (g *gatherer) vtb(v *VTB) {
	for i := range v.Timings {
		g.putDetailed(rankDetailed, &v.Timings[i])
	}
	at := 5 + 18*len(v.Timings)
	for _, c := range v.CVT {
		g.cvt(c, at)
		at += 3
	}
	for _, s := range v.Standard {
		g.standard(s, at)
		at += 2
	}
}

// ordered sorts the list by rank. A preference block names its formats before
// all others.
func (g *gatherer) ordered() []Format {
	for n, s := range g.prefer {
		if i := g.resolve(s); i >= 0 {
			g.rank[i] = min(g.rank[i], n-len(g.prefer))
		}
	}
	order := make([]int, len(g.list))
	for i := range order {
		order[i] = i
	}
	sortBy(order, g.rank)
	out := make([]Format, len(order))
	for n, i := range order {
		out[n] = g.list[i]
	}
	return out
}

// resolve is the list index that a short video reference points to, or -1.
func (g *gatherer) resolve(s SVR) int {
	kind, n := s.Refers()
	pick := func(list []int, n int) int {
		if n >= 1 && n <= len(list) {
			return list[n-1]
		}
		return -1
	}
	switch kind {
	case SVRVIC:
		if v, ok := timing.VIC(uint8(n)); ok {
			if i, ok := g.index[v.Timing]; ok {
				return i
			}
		}
	case SVRDetailed:
		return pick(g.detailed, n)
	case SVRTypeVII:
		return pick(g.typeVII, n)
	case SVRTypeVIII:
		return pick(g.typeVIII, n)
	}
	return -1
}

package edid

import "fmt"

// Field names a run of bytes. The fields of an EDID cover every byte once, in
// order.
type Field struct {
	Block, Offset, Len int
	Name               string
	Value              string // in words, "" where the bytes say enough
}

// Fields maps every byte of the EDID to its field.
func (e *EDID) Fields() []Field {
	m := mapper{e: e}
	m.base()
	for i, x := range e.Extensions {
		m.block, m.at = i+1, 0
		switch x := x.(type) {
		case *CTA:
			m.cta(x)
		case *DisplayID:
			m.displayID(x)
		case *VTB:
			m.vtb(x)
		case *BlockMap:
			m.put(1, "extension tag", x.Tag().String())
			for n, t := range x.Tags {
				if t != 0 {
					m.put(1, fmt.Sprintf("tag of block %d", m.block+1+n), t.String())
				} else {
					m.put(1, "unused", "")
				}
			}
		default:
			m.put(1, "extension tag", x.Tag().String())
			m.put(126, "not decoded", "")
		}
		m.checksum(x.Raw())
	}
	if n := len(e.raw) % BlockSize; n != 0 {
		m.block, m.at = len(e.raw)/BlockSize, 0
		m.put(n, "trailing bytes", "")
	}
	return m.out
}

type mapper struct {
	e         *EDID
	block, at int
	out       []Field
}

func (m *mapper) put(n int, name, value string) {
	if n > 0 {
		m.out = append(m.out, Field{m.block, m.at, n, name, value})
		m.at += n
	}
}

func (m *mapper) checksum(b []byte) {
	v := "right"
	if s := sum(b); s != 0 {
		v = fmt.Sprintf("wrong, should be %02X", b[127]-s)
	}
	m.put(127-m.at, "padding", "")
	m.put(1, "checksum", v)
}

func (m *mapper) base() {
	b := &m.e.Base
	m.put(8, "header", fmt.Sprintf("%d of 8 right", headerMatch(m.e.raw)))
	m.put(2, "maker", b.Maker.String())
	m.put(2, "product", fmt.Sprintf("%04X", b.Product))
	m.put(4, "serial number", fmt.Sprint(b.Serial))
	m.put(2, "date", b.Made.String())
	m.put(2, "version", b.Version.String())
	m.put(1, "video input", inputWords(b))
	m.put(2, "screen size", screen(m.e))
	g := "given in an extension"
	if v, ok := b.Gamma.Value(); ok {
		g = fmt.Sprintf("%.2f", v)
	}
	m.put(1, "gamma", g)
	m.put(1, "features", featureWords(b))
	m.put(10, "chromaticity", chromaWords(b.Chroma))
	for i := range b.Established {
		m.put(1, "established timings", establishedWords(b.Established, i))
	}
	for _, s := range b.Standard {
		m.put(2, "standard timing", standardWords(s, b.Version))
	}
	for _, x := range b.Descriptors {
		m.descriptor(x)
	}
	m.put(1, "extension count", fmt.Sprint(b.ExtensionCount))
	m.checksum(m.e.raw[:BlockSize])
}

func (m *mapper) descriptor(x Descriptor) {
	if t, ok := x.(*DetailedTiming); ok {
		m.timing(t)
		return
	}
	m.put(3, "descriptor mark", "")
	m.put(1, "descriptor tag", x.Tag().String())
	if r, ok := x.(*RangeLimits); ok {
		m.put(1, "limit offsets", "")
		m.put(2, "vertical limits", fmt.Sprintf("%d-%d Hz", r.MinVHz, r.MaxVHz))
		m.put(2, "horizontal limits", fmt.Sprintf("%d-%d kHz", r.MinHKHz, r.MaxHKHz))
		m.put(1, "pixel clock limit", fmt.Sprintf("%d MHz", r.MaxClockMHz))
		m.put(1, "timing support", r.Support.String())
		m.put(7, "timing support data", "")
		return
	}
	m.put(1, "reserved", "")
	m.put(13, "descriptor data", DescribeDescriptor(x, m.e.Base.Version))
}

func (m *mapper) timing(t *DetailedTiming) {
	x := t.Timing
	m.put(2, "pixel clock", x.PixelClock.String())
	m.put(3, "pixels: active, blanking", fmt.Sprintf("%d, %d", x.H.Active, x.H.Blank()))
	m.put(3, "lines: active, blanking", fmt.Sprintf("%d, %d", x.V.Active, x.V.Blank()))
	m.put(4, "front porch and sync", fmt.Sprintf("pixels %d, %d; lines %d, %d", x.H.Front, x.H.Sync, x.V.Front, x.V.Sync))
	m.put(3, "picture size", fmt.Sprintf("%d x %d mm", t.WidthMM, t.HeightMM))
	m.put(2, "border", fmt.Sprintf("%d pixels, %d lines", t.BorderH, t.BorderV))
	m.put(1, "timing flags", timingWords(t))
}

func (m *mapper) cta(c *CTA) {
	m.put(1, "extension tag", c.Tag().String())
	m.put(1, "revision", fmt.Sprint(c.Revision))
	m.put(1, "timing offset", fmt.Sprint(c.TimingOffset))
	m.put(1, "flags", ctaWords(c))
	m.dataBlocks(c.Blocks)
	if d := int(c.TimingOffset); d >= 4 && d <= 127 {
		m.put(d-m.at, "reserved", "")
		for i := range c.Timings {
			m.timing(&c.Timings[i])
		}
	}
}

func (m *mapper) dataBlocks(blocks []DataBlock) {
	for _, b := range blocks {
		raw := b.Raw()
		m.put(1, "data block header", b.Tag().String())
		n := len(raw) - 1
		if b.Tag() >= ExtendedTag && n > 0 {
			m.put(1, "extended tag", "")
			n--
		}
		m.put(n, b.Tag().String(), DescribeBlock(b))
	}
}

func (m *mapper) displayID(s *DisplayID) {
	m.put(1, "extension tag", s.Tag().String())
	m.put(1, "version", s.Version.String())
	m.put(1, "section size", fmt.Sprint(s.Size))
	m.put(1, "use", s.UseName())
	m.put(1, "extension count", fmt.Sprint(s.MoreSections))
	for _, b := range s.Blocks {
		raw := b.Raw()
		m.put(1, "data block tag", b.Tag().String())
		m.put(min(1, len(raw)-1), "revision and flags", "")
		m.put(min(1, len(raw)-2), "length", fmt.Sprint(len(raw)-3))
		if c, ok := b.(*IDCTABlocks); ok {
			m.dataBlocks(c.Blocks)
			continue
		}
		m.put(len(raw)-3, b.Tag().String(), DescribeID(b))
	}
	if end := 5 + int(s.Size); end <= 126 {
		m.put(end-m.at, "filler", "")
		m.put(1, "section checksum", "")
	}
}

func (m *mapper) vtb(v *VTB) {
	m.put(1, "extension tag", v.Tag().String())
	m.put(1, "version", fmt.Sprint(v.Version))
	m.put(3, "counts", "")
	for i := range v.Timings {
		m.timing(&v.Timings[i])
	}
	for _, c := range v.CVT {
		m.put(3, "CVT code", cvtWords(c))
	}
	for _, s := range v.Standard {
		m.put(2, "standard timing", standardWords(s, m.e.Base.Version))
	}
}

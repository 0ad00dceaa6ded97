package edid

// Change is one byte that a repair would write.
type Change struct {
	Block, Offset int
	Old, New      byte
	Code          IssueCode // the issue that it cures
	Why           string
}

// Repair is a proposal; nothing is changed until it is written by other
// means.
type Repair struct {
	Bytes   []byte // the repaired EDID
	Changes []Change
	// Left are the issues that break picture, sound or the standard and
	// stay after the repair.
	Left []Issue
	// Refused says why nothing can be proposed, "" where something is.
	Refused string
}

// ProposeRepair proposes the smallest change that makes a damaged EDID legal
// again: header, erased head, timing offset of a CTA extension, extension
// count and checksums. golden is a known-good EDID of the same display, nil
// where there is none; only from it can an erased head be filled in.
//
// What comes from a bad read, such as shifted or rolled blocks, is refused:
// the store may be whole, so it must be read again first.
func (e *EDID) ProposeRepair(golden []byte) *Repair {
	r := &Repair{Bytes: append([]byte(nil), e.raw...)}
	p := repairer{r: r, b: r.Bytes}
	for _, i := range e.Issues {
		switch i.Code {
		case AllFF, AllZero, RolledRead, ByteLost, ByteDoubled, TrailingBytes:
			r.Refused = "this comes from the read, not from the store: read again before anything is written (" + i.Code.String() + ")"
			return r
		case HeadErased:
			if !p.restoreHead(i, golden) {
				r.Refused = "the erased bytes are known to a golden EDID of this display only"
				return r
			}
		case HeaderMissing:
			r.Refused = "too little of the header is left to tell that this is an EDID"
			return r
		case HeaderDamaged:
			for at, v := range header {
				p.set(0, at, v, HeaderDamaged, "the header of every EDID")
			}
		case BlockOverrun:
			p.moveTimings(e, i)
		}
	}
	p.count(e)
	for n := 0; (n+1)*BlockSize <= len(p.b); n++ {
		b := p.b[n*BlockSize : (n+1)*BlockSize]
		code := ExtensionChecksum
		switch {
		case n == 0:
			code = BaseChecksum
		case b[0] == byte(CTATag):
			code = CTAChecksum
		}
		p.set(n, 127, b[127]-sum(b), code, "the block's sum must be 0 modulo 256")
	}
	if after, err := Decode(r.Bytes); err == nil {
		r.Left = after.IssuesAt(BreaksStandard)
	}
	return r
}

type repairer struct {
	r *Repair
	b []byte
}

func (p *repairer) set(block, at int, v byte, code IssueCode, why string) {
	i := block*BlockSize + at
	if old := p.b[i]; old != v {
		p.b[i] = v
		p.r.Changes = append(p.r.Changes, Change{block, at, old, v, code, why})
	}
}

// restoreHead fills the erased bytes from the golden EDID. The rest of the
// block must agree with it, else it is another display's.
func (p *repairer) restoreHead(i Issue, golden []byte) bool {
	if len(golden) < BlockSize || sum(golden[:BlockSize]) != 0 || headerMatch(golden) != 8 {
		return false
	}
	differ := 0
	for at := i.Len; at < BlockSize; at++ {
		if p.b[at] != golden[at] {
			differ++
		}
	}
	// The serial number and the checksum may differ between units.
	if differ > 18 {
		return false
	}
	for at := range i.Len {
		p.set(0, at, golden[at], HeadErased, "from the golden EDID")
	}
	return true
}

// moveTimings corrects a timing offset that is too small: the data blocks are
// whole if the offset is moved to where the last of them ends, and a timing
// or padding must follow there.
func (p *repairer) moveTimings(e *EDID, i Issue) {
	c, ok := e.Extensions[i.Block-1].(*CTA)
	if !ok {
		return
	}
	b := c.raw
	end := i.Offset + 1 + int(b[i.Offset]&31)
	if end > 127 {
		return
	}
	for end+18 <= 127 && (b[end] != 0 || b[end+1] != 0) {
		t := decodeDetailedTiming(b, end)
		h, v := t.blanks()
		if t.Timing.H.Active >= 64 && t.Timing.V.Active >= 64 &&
			t.Timing.H.Front+t.Timing.H.Sync <= h && t.Timing.V.Front+t.Timing.V.Sync <= v {
			break
		}
		return
	}
	p.set(i.Block, 2, byte(end), BlockOverrun, "the last data block ends there, and the timings begin")
}

// count makes the extension count what is here, if what is here is whole.
func (p *repairer) count(e *EDID) {
	n := len(e.Extensions)
	for _, i := range e.Issues {
		if i.Code == ExtensionsExtra && n <= 255 {
			for _, x := range e.Extensions {
				if sum(x.Raw()) != 0 || headerMatch(x.Raw()) == 8 {
					return
				}
			}
			p.set(0, 0x7E, byte(n), ExtensionsExtra, "as many extension blocks follow")
		}
	}
}

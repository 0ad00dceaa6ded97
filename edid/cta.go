package edid

// CTA is a CTA-861 extension block, revisions 1 to 3 (CTA-861 section 7).
type CTA struct {
	body
	Revision uint8
	// TimingOffset is byte 2: where the detailed timings start, 0 where
	// there are neither timings nor data blocks.
	TimingOffset uint8
	CTAFlags
	// Blocks are the data blocks in their order, with duplicates.
	Blocks []DataBlock
	// Timings are the detailed timings at the end.
	Timings []DetailedTiming
}

// CTAFlags is byte 3 of a CTA-861 extension of revision 2 or later.
type CTAFlags struct {
	Underscan          bool // underscans IT formats by default
	BasicAudio         bool
	YCbCr444, YCbCr422 bool
	NativeTimings      uint8 // how many of the EDID's detailed timings are native
}

// Tag is CTATag.
func (*CTA) Tag() ExtensionTag { return CTATag }

func (d *decoder) decodeCTA(b []byte) *CTA {
	d.overrun = false
	c := &CTA{body: body{raw: b}, Revision: b[1], TimingOffset: b[2]}
	if c.Revision >= 2 {
		f := b[3]
		c.CTAFlags = CTAFlags{f&0x80 != 0, f&0x40 != 0, f&0x20 != 0, f&0x10 != 0, f & 15}
	}
	if c.Revision == 0 || c.Revision > 3 {
		d.add(CTARevision, 1, 1, "revision", int(c.Revision))
	}
	end := int(c.TimingOffset)
	switch {
	case end == 0:
		return c
	case end < 4 || end > 127:
		d.add(CTATimingOffset, 2, 1, "detailed timing offset", end)
		return c
	}
	if c.Revision >= 3 {
		c.Blocks = d.decodeDataBlocks(b, 4, end)
	} else if !zero(b[4:end]) {
		d.add(CTAReservedBytes, 4, end-4, "reserved", int(c.Revision))
	}
	n := 0
	for at := end; at+18 <= 127 && (b[at] != 0 || b[at+1] != 0); at += 18 {
		n++
	}
	if n > 0 {
		c.Timings = make([]DetailedTiming, n)
	}
	for i := range c.Timings {
		c.Timings[i] = decodeDetailedTiming(b, end+18*i)
		if !d.overrun {
			d.judgeTiming(&c.Timings[i])
		}
	}
	if rest := end + 18*n; !zero(b[rest:127]) {
		d.add(CTAPadding, rest, 127-rest, "padding")
	}
	d.judgeCTA(c)
	return c
}

func zero(b []byte) bool {
	for _, v := range b {
		if v != 0 {
			return false
		}
	}
	return true
}

// decodeDataBlocks walks the data blocks in b[at:end].
func (d *decoder) decodeDataBlocks(b []byte, at, end int) []DataBlock {
	n := 0
	for p := at; p < end; p += 1 + int(b[p]&31) {
		n++
	}
	if n == 0 {
		return nil
	}
	blocks := make([]DataBlock, 0, n)
	for at < end {
		size := int(b[at] & 31)
		stop := at + 1 + size
		tag := BlockTag(b[at] >> 5)
		if tag == 7 && size > 0 && at+1 < end {
			tag = ExtendedTag | BlockTag(b[at+1])
		}
		if stop > end {
			d.judgeOverrun(b, at, end, size, tag)
			return append(blocks, &BadBlock{body{b[at:end:end], at}, tag, size, BlockOverruns})
		}
		blocks = append(blocks, d.decodeDataBlock(b[at:stop:stop], at, tag))
		at = stop
	}
	return blocks
}

// decodeDataBlock decodes one whole block b that starts at offset at.
func (d *decoder) decodeDataBlock(b []byte, at int, tag BlockTag) DataBlock {
	o, p := body{b, at}, b[1:]
	if tag >= ExtendedTag && len(p) > 0 {
		p = p[1:]
	}
	if need := shortest(tag); len(p) < need {
		d.add(BlockShort, at, len(b), tag.String(), len(p), need)
		return &BadBlock{o, tag, len(b) - 1, BlockTooShort}
	}
	switch tag {
	case AudioTag:
		return d.decodeAudio(o, p)
	case VideoTag:
		return d.decodeVideo(o, p)
	case VendorTag:
		return d.decodeVendor(o, p)
	case SpeakerTag:
		return &Speakers{o, decodeMask(p)}
	case VideoFormatTag:
		return d.decodeVideoFormats(o, p)
	case VideoCapabilityTag:
		return decodeVideoCapability(o, p)
	case VendorVideoTag, VendorAudioTag:
		return &VendorBlock{o, tag, OUI(le24(p)), p[3:]}
	case ColorimetryTag:
		return &Colorimetry{o, Colorimetries(le16(p))}
	case HDRStaticTag:
		return d.decodeHDRStatic(o, p)
	case HDRDynamicTag:
		return d.decodeHDRDynamic(o, p)
	case NativeResolutionTag:
		return &NativeResolution{o, SVR(p[0]), p[1:]}
	case PreferenceTag:
		return &Preference{o, decodeSVRs(p)}
	case YCbCr420VideoTag:
		return &YCbCr420Video{o, decodeSVDs(p)}
	case YCbCr420MapTag:
		return &YCbCr420Map{o, p}
	case TypeVIITag:
		return d.decodeCTATypeVII(o, p)
	case TypeVIIITag:
		return decodeCTATypeVIII(o, p)
	case TypeXTag:
		return d.decodeCTATypeX(o, p)
	case HDMIOverrideTag:
		return &HDMIOverride{o, p[0]}
	case HDMISinkTag:
		return d.decodeHDMIForum(o, HDMISinkTag, p[2:])
	}
	return &UnknownBlock{o, tag, p}
}

// shortest is the smallest payload of a block after its tags, 0 where the
// kind sets none.
func shortest(tag BlockTag) int {
	switch tag {
	case VendorTag, SpeakerTag, VendorVideoTag, VendorAudioTag:
		return 3
	case VideoFormatTag, VideoCapabilityTag, NativeResolutionTag, HDMIOverrideTag:
		return 1
	case ColorimetryTag, HDRStaticTag, TypeVIIITag:
		return 2
	case TypeVIITag:
		return 21
	case TypeXTag:
		return 7
	case HDMISinkTag:
		return 6 // two reserved bytes, then version to rates
	}
	return 0
}

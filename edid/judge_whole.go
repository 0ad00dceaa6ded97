package edid

// overview is what the checks across blocks need to know.
type overview struct {
	svds, timings, map420 int // counts; map420 is the highest marked entry plus 1
	vga                   bool
	hasCTA, audio, basic  bool
	speakers, hasMap      bool
	ctaBlock              int // first CTA block
	channels              int
	hdmi                  *HDMI
	forum                 *HDMIForum
	forumBlock, mapBlock  int
	mapAt, audioBlock     int
	audioAt               int
	hdrAt, hdrBlock       int
	hdr, wide, anyTiming  bool
	override              int
}

// judgeWhole makes the checks that need more than one block.
func (d *decoder) judgeWhole() {
	e := d.e
	d.block = 0
	if d.mute {
		return
	}
	o := overview{override: -1}
	for i, x := range e.Extensions {
		d.block = i + 1
		switch x := x.(type) {
		case *CTA:
			if !o.hasCTA {
				o.hasCTA, o.ctaBlock = true, d.block
			}
			o.basic = o.basic || x.BasicAudio
			o.timings += len(x.Timings)
			d.overlook(&o, x.Blocks)
			d.judgeSVDs(x.Blocks)
		case *DisplayID:
			for _, b := range x.Blocks {
				if c, ok := b.(*IDCTABlocks); ok {
					d.overlook(&o, c.Blocks)
				}
				switch b.(type) {
				case *IDTimings, *IDTimingCodes, *IDFormulas:
					o.anyTiming = true
				}
			}
		case *VTB:
			o.timings += len(x.Timings)
		case *UnknownExtension:
			raw := x.raw
			if zero(raw) {
				d.add(BlockEmpty, 0, BlockSize, "")
			} else if headerMatch(raw) == 8 {
				d.add(BlockRepeatsBase, 0, BlockSize, "")
			}
		}
	}
	d.block = 0
	d.judgeCount(&o)
	d.judgeTimingsThere(&o)
	d.judgeSound(&o)
	d.judgeLink(&o)
	d.judgeContradictions(&o)
}

func (d *decoder) overlook(o *overview, blocks []DataBlock) {
	for _, b := range blocks {
		switch b := b.(type) {
		case *Video:
			o.svds += len(b.SVDs)
			for _, s := range b.SVDs {
				o.vga = o.vga || s.VIC() == 1
			}
		case *YCbCr420Video:
			o.anyTiming = true
		case *YCbCr420Map:
			o.hasMap, o.mapBlock, o.mapAt = true, d.block, b.at
			for n := len(b.Bits)*8 - 1; n >= 0; n-- {
				if b.Has(n) {
					o.map420 = n + 1
					break
				}
			}
		case *Audio:
			o.audio, o.audioBlock, o.audioAt = true, d.block, b.at
			for _, s := range b.SADs {
				if s.Format() != ExtendedAudio {
					o.channels = max(o.channels, s.Channels())
				}
			}
		case *Speakers:
			o.speakers = true
		case *HDMI:
			if o.hdmi == nil {
				o.hdmi = b
			}
		case *HDMIForum:
			o.forum, o.forumBlock = b, d.block
		case *HDRStatic:
			o.hdr, o.hdrBlock, o.hdrAt = b.EOTFs&(PQ|HLG) != 0, d.block, b.at
		case *Colorimetry:
			o.wide = o.wide || b.Set.BT2020() || b.Set&0x8000 != 0
		case *HDMIOverride:
			if o.override < 0 && d.block == 1 {
				o.override = int(b.Count)
			}
		}
	}
}

// judgeSVDs finds video codes that one extension lists twice.
func (d *decoder) judgeSVDs(blocks []DataBlock) {
	var seen [256]bool
	for _, b := range blocks {
		v, ok := b.(*Video)
		if !ok {
			continue
		}
		for i, s := range v.SVDs {
			n := s.VIC()
			if n != 0 && seen[n] {
				d.add(VICRepeated, v.at+1+i, 1, "video", int(n))
			}
			seen[n] = true
		}
	}
}

// judgeCount compares the announced number of extensions with what is here.
func (d *decoder) judgeCount(o *overview) {
	want, have := int(d.e.Base.ExtensionCount), len(d.e.Extensions)
	if o.override > want {
		want = o.override
	}
	switch {
	case have < want:
		s := BreaksStandard
		if !o.hasCTA {
			s = BreaksSound
		}
		d.addAs(s, ExtensionsMissing, 0x7E, 1, "extension count", want, have)
	case have > want:
		s := BreaksStandard
		if o.hasCTA && o.ctaBlock > want && (o.audio || o.hdmi != nil) {
			s = BreaksSound
		}
		d.addAs(s, ExtensionsExtra, 0x7E, 1, "extension count", want, have)
	}
	if have > 1 && d.e.Base.Version == (Version{1, 3}) && d.e.Extensions[0].Tag() != BlockMapTag {
		d.add(BlockMapNeeded, 0x7E, 1, "extension count")
	}
}

func (d *decoder) judgeTimingsThere(o *overview) {
	p := &d.e.Base
	if o.anyTiming || o.svds > 0 || o.timings > 0 || p.Established != (Established{}) {
		return
	}
	for _, s := range p.Standard {
		if s.Used() {
			return
		}
	}
	for _, x := range p.Descriptors {
		switch x.Tag() {
		case TimingTag, StandardTag, CVTTag, EstablishedIIITag:
			return
		}
	}
	d.add(NoTimings, 0x23, 0, "timings")
}

func (d *decoder) judgeSound(o *overview) {
	if !o.hasCTA {
		return
	}
	displayPort := d.e.Base.Version.AtLeast(4) && d.e.Base.Input.Interface() == InterfaceDisplayPort
	d.block = o.ctaBlock
	switch {
	case o.hdmi != nil || displayPort || d.hidesHDMI:
	case o.forum != nil:
		d.block = o.forumBlock
		d.add(ForumNoHDMI, o.forum.at, len(o.forum.raw), "HDMI")
	case o.audio || o.basic:
		d.add(NoHDMI, 4, 0, "HDMI")
	default:
		d.add(PictureOnly, 4, 0, "HDMI")
	}
	if o.audio {
		d.block = o.audioBlock
		if !o.basic {
			d.add(AudioNotBasic, 3, 1, "basic audio")
		}
		if o.channels > 2 && !o.speakers {
			d.add(AudioNoSpeakers, o.audioAt, 0, "speaker allocation", o.channels)
		}
	}
	d.block = o.ctaBlock
	if !o.vga && !d.e.Base.Established.Has(2) && o.hdmi != nil {
		d.add(NoVGA, 4, 0, "video")
	}
	d.block = 0
}

// judgeLink asks whether the preferred timing fits the stated TMDS rate.
func (d *decoder) judgeLink(o *overview) {
	t, ok := d.e.Preferred()
	if !ok || o.hdmi == nil {
		return
	}
	limit := int(o.hdmi.MaxTMDSMHz)
	if limit == 0 || o.forum != nil && (o.forum.MaxFRL > 0 || o.forum.MaxTMDSMHz > 0) {
		return
	}
	if need := int(t.PixelClock.Round(1e6) / 1e6); need > limit+1 {
		d.add(RateTooLow, 0x36, 2, "preferred timing", need, limit)
	}
}

func (d *decoder) judgeContradictions(o *overview) {
	if o.hasMap {
		d.block = o.mapBlock
		switch {
		case o.svds == 0:
			d.add(MapNoVideo, o.mapAt, 0, YCbCr420MapTag.String())
		case o.map420 > o.svds:
			d.add(MapBeyond, o.mapAt, 0, YCbCr420MapTag.String(), o.map420, o.svds)
		}
	}
	if o.hdr && !o.wide {
		d.block = o.hdrBlock
		d.add(HDRNoColour, o.hdrAt, 0, HDRStaticTag.String())
	}
	if o.hasCTA {
		stated := o.timings
		for _, x := range d.e.Base.Descriptors {
			if x.Tag() == TimingTag {
				stated++
			}
		}
		for i, x := range d.e.Extensions {
			if c, ok := x.(*CTA); ok && int(c.NativeTimings) > stated {
				d.block = i + 1
				d.add(NativeCount, 3, 1, "native timings", int(c.NativeTimings), stated)
			}
		}
	}
	d.block = 0
}

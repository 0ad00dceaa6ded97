package edid

// judgeOverrun reports a data block that runs past the end of its
// collection. The HDMI block, or one that hides it, costs the sound.
func (d *decoder) judgeOverrun(b []byte, at, end, size int, tag BlockTag) {
	s := BreaksStandard
	for i := at; i+2 < len(b); i++ {
		if b[i] == 0x03 && b[i+1] == 0x0C && b[i+2] == 0x00 {
			s = BreaksSound
			d.hidesHDMI = true
			break
		}
	}
	d.overrun = true
	d.addAs(s, BlockOverrun, at, end-at, tag.String(), int(b[at]>>5), size, end-at-1)
}

// judgeCTA judges one CTA-861 extension by itself.
func (d *decoder) judgeCTA(c *CTA) {
	var seen [8]BlockTag
	n := 0
	for i, b := range c.Blocks {
		tag := b.Tag()
		if tag == 0 {
			d.add(BlockReserved, b.Offset(), len(b.Raw()), "data block", int(tag))
			continue
		}
		if once(tag) {
			for _, s := range seen[:n] {
				if s == tag {
					d.add(BlockDuplicate, b.Offset(), len(b.Raw()), tag.String())
				}
			}
			if n < len(seen) {
				seen[n] = tag
				n++
			}
		}
		switch b := b.(type) {
		case *HDMI:
			d.judgeHDMI(b)
		case *HDMIForum:
			d.judgeForum(b)
		case *HDMIOverride:
			if d.block != 1 || i != 0 {
				d.add(OverrideMisplaced, b.at, len(b.raw), "extension override", b.at)
			}
		}
	}
}

// once tells the kinds that an EDID holds at most one of.
func once(tag BlockTag) bool {
	switch tag {
	case SpeakerTag, VideoCapabilityTag, ColorimetryTag, HDRStaticTag, YCbCr420MapTag, PreferenceTag,
		HDMIOverrideTag, HDMISinkTag, RoomTag, InfoFrameTag:
		return true
	}
	return false
}

func (d *decoder) judgeHDMI(h *HDMI) {
	const field = "HDMI"
	if h.PhysicalAddress == 0xFFFF || !validAddress(h.PhysicalAddress) {
		d.add(AddressInvalid, h.at+4, 2, field, int(h.PhysicalAddress))
	}
	if h.DeepColour != 0 {
		if h.MaxTMDSMHz == 0 {
			d.add(DeepNoRate, h.at, len(h.raw), field)
		}
		if h.DeepColour&Deep12 == 0 {
			d.add(Deep16No12, h.at+6, 1, field)
		}
	}
}

// validAddress reports whether no number follows a zero in the address.
func validAddress(p PhysicalAddress) bool {
	zero := false
	for s := 12; s >= 0; s -= 4 {
		n := p >> s & 15
		if n != 0 && zero {
			return false
		}
		zero = zero || n == 0
	}
	return true
}

func (d *decoder) judgeForum(h *HDMIForum) {
	const field = "HDMI Forum"
	if h.Version != 1 {
		d.add(ForumVersion, h.at+4, 1, field, int(h.Version))
	}
	switch {
	case h.MaxTMDSMHz > 0 && h.MaxTMDSMHz <= 340:
		d.add(ForumRate, h.at+5, 1, field, int(h.MaxTMDSMHz))
	case h.MaxTMDSMHz > 340 && !h.SCDC:
		d.add(ForumNoSCDC, h.at+5, 2, field, int(h.MaxTMDSMHz))
	}
	if h.MaxFRL > 6 {
		d.add(FRLReserved, h.at+7, 1, field, int(h.MaxFRL))
	}
	if h.VRRMaxHz != 0 && h.VRRMaxHz < h.VRRMinHz {
		d.add(VRRInverted, h.at+9, 2, field, int(h.VRRMinHz), int(h.VRRMaxHz))
	}
}

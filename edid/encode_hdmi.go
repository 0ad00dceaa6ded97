package edid

func (h *HDMI) payload() ([]byte, error) {
	const spec = "HDMI 1.4b 8.3.2"
	if h.MaxTMDSMHz%5 != 0 || h.MaxTMDSMHz > 1275 {
		return nil, refuse("HDMI", spec, "%d MHz; the TMDS clock is a multiple of 5 up to 1275", h.MaxTMDSMHz)
	}
	if h.DeepColour != 0 && h.DeepColour&Deep12 == 0 {
		return nil, refuse("HDMI", "HDMI 1.4b 6.5.2", "deep colour must include 12 bits a component (36 bit)")
	}
	if h.Interlaced != nil && h.Latency == nil {
		return nil, refuse("HDMI", spec, "interlaced latency needs the progressive one")
	}
	p := append(ouiBytes(HDMIOUI), byte(h.PhysicalAddress>>8), byte(h.PhysicalAddress))
	flags := byte(h.DeepColour&7) << 4
	if h.SupportsAI {
		flags |= 0x80
	}
	if h.DeepColour444 {
		flags |= 8
	}
	if h.DualDVI {
		flags |= 1
	}
	more := byte(h.ContentTypes & 15)
	var tail []byte
	if h.Latency != nil {
		more |= 0x80
		tail = append(tail, h.Latency.Video, h.Latency.Audio)
	}
	if h.Interlaced != nil {
		more |= 0x40
		tail = append(tail, h.Interlaced.Video, h.Interlaced.Audio)
	}
	if h.Video != nil {
		more |= 0x20
		v, err := h.Video.payload()
		if err != nil {
			return nil, err
		}
		tail = append(tail, v...)
	}
	// Bytes at the end that say nothing are left out, unless they were there.
	rest := append([]byte{flags, byte(h.MaxTMDSMHz / 5), more}, tail...)
	keep := max(0, len(h.raw)-6)
	for len(rest) > keep && len(rest) > 0 && rest[len(rest)-1] == 0 && h.Video == nil && len(rest) <= 3 {
		rest = rest[:len(rest)-1]
	}
	return append(p, rest...), nil
}

func (v *HDMIVideo) payload() ([]byte, error) {
	var threeD []byte
	if v.Multi == 1 || v.Multi == 2 {
		threeD = append(threeD, byte(v.Structures>>8), byte(v.Structures))
	}
	if v.Multi == 2 {
		threeD = append(threeD, byte(v.Mask>>8), byte(v.Mask))
	}
	for _, f := range v.Formats {
		threeD = append(threeD, f.SVD<<4|byte(f.Structure&15))
		if f.Structure >= 8 {
			threeD = append(threeD, f.Detail<<4)
		}
	}
	if len(v.VICs) > 7 || len(threeD) > 31 {
		return nil, refuse("HDMI", "HDMI 1.4b 8.3.2", "%d HDMI VICs and %d bytes of 3D; 7 and 31 can be counted", len(v.VICs), len(threeD))
	}
	b := v.Multi&3<<5 | v.ImageSize&3<<3
	if v.ThreeD {
		b |= 0x80
	}
	p := append([]byte{b, byte(len(v.VICs))<<5 | byte(len(threeD))}, v.VICs...)
	return append(append(p, threeD...), v.Rest...), nil
}

func (h *HDMIForum) payload() ([]byte, error) {
	const spec = "HDMI 2.1 10.3.2"
	switch {
	case h.MaxTMDSMHz%5 != 0 || h.MaxTMDSMHz > 600:
		return nil, refuse("HDMI Forum", spec, "%d MHz; the TMDS character rate is a multiple of 5 up to 600", h.MaxTMDSMHz)
	case h.MaxTMDSMHz > 340 && !h.SCDC:
		return nil, refuse("HDMI Forum", "HDMI 2.1 10.4", "a rate above 340 MHz needs SCDC")
	case h.MaxFRL > 6:
		return nil, refuse("HDMI Forum", spec, "the FRL rate code %d is reserved", uint8(h.MaxFRL))
	case h.VRRMinHz > 63 || h.VRRMaxHz > 1023:
		return nil, refuse("HDMI Forum", spec, "VRR from %d to %d Hz; 63 and 1023 can be coded", h.VRRMinHz, h.VRRMaxHz)
	}
	bits := func(on ...bool) byte {
		var b byte
		for i, v := range on {
			if v {
				b |= 0x80 >> i
			}
		}
		return b
	}
	p := ouiBytes(HDMIForumOUI)
	if h.Kind == HDMISinkTag {
		p = []byte{0, 0}
	}
	p = append(p, h.Version, byte(h.MaxTMDSMHz/5),
		bits(h.SCDC, h.ReadRequest, h.CableStatus, h.CCBPCI, h.ScrambleUnder340, h.IndependentView, h.DualView, h.OSDDisparity),
		byte(h.MaxFRL)<<4|byte(h.DeepColour420&7)|bits(false, false, false, false, h.UHDVIC))
	flags := bits(h.FAPAEndExtended, h.QMS, h.MDelta, h.CinemaVRR, h.NegativeMVRR, h.FVA, h.ALLM, h.FAPAStart)
	var dsc [3]byte
	if d := h.DSC; d != nil {
		dsc[0] = bits(true, d.Native420, false, false, d.AllBpp, d.Bpc16, d.Bpc12, d.Bpc10)
		dsc[1] = byte(d.MaxFRL)<<4 | byte(d.MaxSlices&15)
		dsc[2] = byte(d.TotalChunkBytes/1024-1) & 0x3F
	}
	dsc[0] |= bits(false, false, h.QMSTFRMax, h.QMSTFRMin)
	if flags != 0 || h.VRRMaxHz != 0 || h.VRRMinHz != 0 || dsc != [3]byte{} || len(h.raw) > len(p)+1 {
		p = append(p, flags, byte(h.VRRMaxHz>>8<<6)|byte(h.VRRMinHz), byte(h.VRRMaxHz))
	}
	if dsc != [3]byte{} || len(h.Rest) > 0 {
		p = append(p, dsc[:]...)
	}
	return append(p, h.Rest...), nil
}

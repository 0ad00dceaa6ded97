package edid

// appendDescriptor appends the 18 bytes of a descriptor.
func appendDescriptor(dst []byte, x Descriptor, v Version) ([]byte, error) {
	head := []byte{0, 0, 0, byte(x.Tag()), 0}
	switch x := x.(type) {
	case *DetailedTiming:
		return x.append(dst)
	case *Text:
		return x.append(dst)
	case *RangeLimits:
		return x.append(dst, v)
	case *OtherDescriptor:
		if x.Kind > DummyTag {
			return dst, refuse("descriptor", "E-EDID 3.10.3", "the tag %02X is reserved", byte(x.Kind))
		}
		return append(append(dst, head[:4]...), x.Data[:]...), nil
	case *StandardTimings:
		dst = append(dst, head...)
		for _, c := range x.Codes {
			if c[0] == 0 {
				return dst, refuse("standard timing", "E-EDID 3.9", "the code %02X %02X is reserved", c[0], c[1])
			}
			dst = append(dst, c[:]...)
		}
		return append(dst, 0x0A), nil
	case *CVTCodes:
		dst = append(append(dst, head...), x.Version)
		for _, c := range x.Codes {
			dst = append(dst, c[:]...)
		}
		return dst, nil
	case *EstablishedIII:
		dst = append(append(dst, head...), x.Revision)
		return append(append(dst, x.Bits[:]...), 0, 0, 0, 0, 0, 0), nil
	case *ColourPoints:
		dst = append(dst, head...)
		for _, p := range x.Points {
			w := p.White
			dst = append(dst, p.Index, byte(w.X&3<<2|w.Y&3), byte(w.X>>2), byte(w.Y>>2), byte(p.Gamma))
		}
		return append(dst, 0x0A, 0x20, 0x20), nil
	case *ColourManagement:
		dst = append(append(dst, head...), x.Version)
		for _, c := range [3]CubicTerms{x.Red, x.Green, x.Blue} {
			dst = append(dst, byte(c.A3), byte(c.A3>>8), byte(c.A2), byte(c.A2>>8))
		}
		return dst, nil
	}
	return dst, refuse("descriptor", "", "this kind of descriptor cannot be encoded")
}

func (t *Text) append(dst []byte) ([]byte, error) {
	dst = append(dst, 0, 0, 0, byte(t.Kind), 0)
	n := 0
	for _, r := range t.Text {
		if r < ' ' || r > 0xFF || r >= 0x7F && r < 0xA0 {
			return dst, refuse(t.Kind.String(), "E-EDID 3.10.3.1", "%q cannot be coded; only printable characters can", r)
		}
		if n++; n > 13 {
			return dst, refuse(t.Kind.String(), "E-EDID 3.10.3.1", "%q is longer than 13 characters", t.Text)
		}
		dst = append(dst, byte(r))
	}
	if n < 13 {
		dst = append(dst, 0x0A)
		for n++; n < 13; n++ {
			dst = append(dst, ' ')
		}
	}
	return dst, nil
}

// append appends the 18 bytes of a detailed timing.
func (t *DetailedTiming) append(dst []byte) ([]byte, error) {
	const field, spec = "detailed timing", "E-EDID 3.10.2"
	h, v := t.Timing.H, t.Timing.V
	hz, den := t.Timing.PixelClock.Fraction()
	switch {
	case den != 1 || hz%10000 != 0:
		return dst, refuse(field, spec, "the pixel clock %s is no multiple of 10 kHz", t.Timing.PixelClock)
	case hz == 0 || hz > 655350000:
		return dst, refuse(field, spec, "the pixel clock %s; 0.01 to 655.35 MHz can be coded", t.Timing.PixelClock)
	case t.Timing.Repeat > 1:
		return dst, refuse(field, spec, "pixel repetition cannot be coded; state the pixels as sent")
	}
	for _, c := range []struct {
		what     string
		n, limit uint32
	}{
		{"active pixels", h.Active, 4095}, {"pixels of blanking", h.Blank(), 4095},
		{"pixels of front porch", h.Front, 1023}, {"pixels of sync", h.Sync, 1023},
		{"active lines", v.Active, 4095}, {"lines of blanking", v.Blank(), 4095},
		{"lines of front porch", v.Front, 63}, {"lines of sync", v.Sync, 63},
		{"mm of width", uint32(t.WidthMM), 4095}, {"mm of height", uint32(t.HeightMM), 4095},
	} {
		if c.n > c.limit {
			return dst, refuse(field, spec, "%d %s; %d is the most that can be coded", c.n, c.what, c.limit)
		}
	}
	if h.Active == 0 || v.Active == 0 || h.Blank() == 0 || v.Blank() == 0 {
		return dst, refuse(field, spec, "active picture and blanking must both be there")
	}
	clock := hz / 10000
	hb, vb := h.Blank(), v.Blank()
	flags := byte(t.Sync)<<3 | byte(t.Stereo&6)<<4 | byte(t.Stereo&1)
	set := func(on bool, bit byte) {
		if on {
			flags |= bit
		}
	}
	set(t.Timing.Interlaced, 0x80)
	switch t.Sync {
	case SyncDigitalSeparate:
		set(v.Positive, 4)
		set(h.Positive, 2)
	case SyncDigitalComposite:
		set(t.Serration, 4)
		set(h.Positive, 2)
	default:
		set(t.Serration, 4)
		set(t.SyncOnRGB, 2)
	}
	return append(dst, byte(clock), byte(clock>>8),
		byte(h.Active), byte(hb), byte(h.Active>>8<<4|hb>>8),
		byte(v.Active), byte(vb), byte(v.Active>>8<<4|vb>>8),
		byte(h.Front), byte(h.Sync), byte(v.Front&15<<4|v.Sync&15),
		byte(h.Front>>8<<6|h.Sync>>8<<4|v.Front>>4<<2|v.Sync>>4),
		byte(t.WidthMM), byte(t.HeightMM), byte(t.WidthMM>>8<<4|t.HeightMM>>8),
		t.BorderH, t.BorderV, flags), nil
}

func (r *RangeLimits) append(dst []byte, v Version) ([]byte, error) {
	const field, spec = "range limits", "E-EDID 3.10.3.3"
	var offsets byte
	pair := func(lo, hi uint16, shift uint) (a, b byte, err error) {
		switch {
		case lo == 0 || lo > hi || hi > 510:
			return 0, 0, refuse(field, spec, "%d to %d; limits run from 1 to 510, the lower one first", lo, hi)
		case hi > 255 && !v.AtLeast(4):
			return 0, 0, refuse(field, spec, "%d needs the offsets of version 1.4", hi)
		case lo > 255:
			offsets |= 3 << shift
			return byte(lo - 255), byte(hi - 255), nil
		case hi > 255:
			offsets |= 2 << shift
			hi -= 255
		}
		return byte(lo), byte(hi), nil
	}
	v0, v1, err := pair(r.MinVHz, r.MaxVHz, 0)
	if err != nil {
		return dst, err
	}
	h0, h1, err := pair(r.MinHKHz, r.MaxHKHz, 2)
	if err != nil {
		return dst, err
	}
	if r.MaxClockMHz%10 != 0 || r.MaxClockMHz > 2550 {
		return dst, refuse(field, spec, "%d MHz; the clock limit is a multiple of 10 up to 2550", r.MaxClockMHz)
	}
	dst = append(dst, 0, 0, 0, byte(RangeTag), offsets, v0, v1, h0, h1, byte(r.MaxClockMHz/10), byte(r.Support))
	switch {
	case r.Support == SupportSecondaryGTF && r.GTF != nil:
		g := r.GTF
		return append(dst, 0, byte(g.StartKHz/2), g.C2, byte(g.M), byte(g.M>>8), g.K, g.J2), nil
	case r.Support == SupportCVT && r.CVT != nil:
		if !v.AtLeast(4) {
			return dst, refuse(field, spec, "CVT support needs version 1.4")
		}
		return r.CVT.append(dst), nil
	case r.Support == SupportDefaultGTF || r.Support == SupportLimitsOnly && v.AtLeast(4):
		return append(dst, 0x0A, ' ', ' ', ' ', ' ', ' ', ' '), nil
	}
	return dst, refuse(field, spec, "timing support %s is not complete or not known to version %s", r.Support, v)
}

func (c *CVTSupport) append(dst []byte) []byte {
	bits := func(on ...bool) byte {
		var b byte
		for i, v := range on {
			if v {
				b |= 0x80 >> i
			}
		}
		return b
	}
	h := c.MaxHActive / 8
	return append(dst, c.Version, c.ClockLessQuarterMHz<<2|byte(h>>8&3), byte(h), byte(c.Ratios),
		c.Preferred<<5|bits(false, false, false, c.Reduced, c.Standard),
		bits(c.HShrink, c.HStretch, c.VShrink, c.VStretch), c.PreferredHz)
}

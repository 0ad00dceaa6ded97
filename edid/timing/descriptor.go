package timing

import "fmt"

// Descriptor is the timing as an 18-byte detailed timing descriptor (E-EDID
// section 3.10.2) with digital separate sync, no border and the image size in
// mm. The clock has to be a multiple of 10 kHz and every number has to fit
// into its bits; nothing is rounded or cut.
func (t Timing) Descriptor(widthMM, heightMM uint16) ([18]byte, error) {
	var b [18]byte
	clock := t.PixelClock.over(KHz(10))
	for _, f := range []struct {
		what string
		v    uint64
		most uint64
	}{
		{"H active", uint64(t.H.Active), 4095}, {"H blanking", uint64(t.H.Blank()), 4095},
		{"H front porch", uint64(t.H.Front), 1023}, {"H sync", uint64(t.H.Sync), 1023},
		{"V active", uint64(t.V.Active), 4095}, {"V blanking", uint64(t.V.Blank()), 4095},
		{"V front porch", uint64(t.V.Front), 63}, {"V sync", uint64(t.V.Sync), 63},
		{"image width in mm", uint64(widthMM), 4095}, {"image height in mm", uint64(heightMM), 4095},
	} {
		if f.v > f.most {
			return b, fmt.Errorf("detailed timing descriptor: %s %d is above %d", f.what, f.v, f.most)
		}
	}
	switch {
	case clock.IsZero() || clock.den != 1:
		return b, fmt.Errorf("detailed timing descriptor: pixel clock %s is no multiple of 10 kHz", t.PixelClock)
	case clock.num > 65535:
		return b, fmt.Errorf("detailed timing descriptor: pixel clock %s is above 655.35 MHz", t.PixelClock)
	}
	b[0], b[1] = byte(clock.num), byte(clock.num>>8)
	hb, vb := t.H.Blank(), t.V.Blank()
	b[2], b[3], b[4] = byte(t.H.Active), byte(hb), byte(t.H.Active>>8<<4|hb>>8)
	b[5], b[6], b[7] = byte(t.V.Active), byte(vb), byte(t.V.Active>>8<<4|vb>>8)
	b[8], b[9] = byte(t.H.Front), byte(t.H.Sync)
	b[10] = byte(t.V.Front<<4 | t.V.Sync&15)
	b[11] = byte(t.H.Front>>8<<6 | t.H.Sync>>8<<4 | t.V.Front>>4<<2 | t.V.Sync>>4)
	b[12], b[13], b[14] = byte(widthMM), byte(heightMM), byte(widthMM>>8<<4|heightMM>>8)
	b[17] = 0x18
	if t.H.Positive {
		b[17] |= 2
	}
	if t.V.Positive {
		b[17] |= 4
	}
	if t.Interlaced {
		b[17] |= 0x80
	}
	return b, nil
}

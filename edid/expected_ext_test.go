package edid

import (
	"fmt"
	"strings"
)

func renderExtensions(e *EDID, row map[string]string) {
	for i, x := range e.Extensions {
		p := fmt.Sprintf("block %d", i+1)
		switch x := x.(type) {
		case *CTA:
			row[p] = fmt.Sprintf("CTA-861 revision %d, DTD offset %d (0x%02X)", x.Revision, x.TimingOffset, x.TimingOffset)
			row[p+" flags"] = fmt.Sprintf("underscan %d basic audio %d YCbCr444 %d YCbCr422 %d native DTDs %d",
				bit(x.Underscan), bit(x.BasicAudio), bit(x.YCbCr444), bit(x.YCbCr422), x.NativeTimings)
			for _, b := range x.Blocks {
				if bad, ok := b.(*BadBlock); ok {
					a := x.Raw()[bad.Offset()+4:]
					row[fmt.Sprintf("%s offset %d", p, b.Offset())] = fmt.Sprintf("HDMI VSDB: physical address %s (RUNS PAST DTD OFFSET)",
						PhysicalAddress(a[0])<<8|PhysicalAddress(a[1]))
					continue
				}
				row[fmt.Sprintf("%s offset %d", p, b.Offset())] = renderBlock(b)
			}
			for n := range x.Timings {
				t := &x.Timings[n]
				row[fmt.Sprintf("%s timing %d at %d", p, n+1, t.Offset())] = renderTiming(t)
			}
		case *DisplayID:
			row[p] = fmt.Sprintf("DisplayID version %s, section bytes %d, product type %d, extensions %d",
				x.Version, x.Size, x.Use, x.MoreSections)
			row[p+" DisplayID section checksum"] = "OK"
			for _, i := range e.Issues {
				if i.Code == IDSectionChecksum {
					row[p+" DisplayID section checksum"] = "OFF"
				}
			}
			for _, b := range x.Blocks {
				row[fmt.Sprintf("%s DisplayID at %d", p, b.Offset())] = renderID(b)
			}
		case *BlockMap:
			var tags []string
			for _, t := range x.Tags {
				if t != 0 {
					tags = append(tags, fmt.Sprintf("%02X", byte(t)))
				}
			}
			row[p] = "block map: " + strings.Join(tags, " ")
		}
	}
}

func renderBlock(b DataBlock) string {
	switch b := b.(type) {
	case *Video:
		var out []string
		for _, s := range b.SVDs {
			w := fmt.Sprint(s.VIC())
			if s.Native() {
				w += " native"
			}
			out = append(out, w)
		}
		return "video: VIC " + strings.Join(out, ", ")
	case *Audio:
		var out []string
		for _, s := range b.SADs {
			var rates []string
			for _, hz := range s.RatesHz() {
				rates = append(rates, strings.TrimSuffix(fmt.Sprintf("%.1f", float64(hz)/1000), ".0"))
			}
			out = append(out, fmt.Sprintf("%s %d ch, %s kHz, byte3 0x%02X", s.Format(), s.Channels(), strings.Join(rates, "/"), s[2]))
		}
		return "audio: " + strings.Join(out, "; ")
	case *Speakers:
		return fmt.Sprintf("speakers: % x", b.Raw()[1:])
	case *HDMI:
		return renderHDMI(b)
	case *HDMIForum:
		r := b.Raw()
		rest := "none"
		if len(r) > 8 {
			rest = fmt.Sprintf("% x", r[8:])
		}
		return fmt.Sprintf("HDMI Forum VSDB: version %d, max TMDS %d MHz, byte6 0x%02X (SCDC %d RR %d cable %d CCBPCI %d LTE340 %d), byte7 0x%02X (FRL %d UHD_VIC %d DC48 %d DC36 %d DC30 %d), rest %s",
			b.Version, b.MaxTMDSMHz, r[6], bit(b.SCDC), bit(b.ReadRequest), bit(b.CableStatus), bit(b.CCBPCI), bit(b.ScrambleUnder340),
			r[7], b.MaxFRL, bit(b.UHDVIC), b.DeepColour420>>2&1, b.DeepColour420>>1&1, b.DeepColour420&1, rest)
	case *VendorBlock:
		return fmt.Sprintf("vendor OUI %06X: % x", uint32(b.OUI), b.Data)
	case *VideoCapability:
		return fmt.Sprintf("ext tag 0x00 video capability: %02x (QY %d QS %d PT %d IT %d CE %d)",
			b.Raw()[2], bit(b.YCCRange), bit(b.RGBRange), b.PT, b.IT, b.CE)
	case *Colorimetry:
		return fmt.Sprintf("ext tag 0x05 colorimetry: %02x %02x", byte(b.Set), byte(b.Set>>8))
	case *HDRStatic:
		s := fmt.Sprintf("ext tag 0x06 HDR static metadata: % x (EOTF 0x%02X, SM 0x%02X", b.Raw()[2:], byte(b.EOTFs), b.Descriptor)
		if b.MaxCode != 0 {
			s += fmt.Sprintf(", max %.1f, avg %.1f, min %.4f cd/m2", b.MaxNits(), b.AvgNits(), b.MinNits())
		}
		return s + ")"
	case *YCbCr420Video:
		var out []string
		for _, s := range b.SVDs {
			out = append(out, fmt.Sprint(s.VIC()))
		}
		return fmt.Sprintf("ext tag 0x0E YCbCr 4:2:0 video: % x (VIC %s)", b.Raw()[2:], strings.Join(out, ", "))
	case *YCbCr420Map:
		return fmt.Sprintf("ext tag 0x0F YCbCr 4:2:0 capability map: % x", b.Bits)
	}
	return fmt.Sprintf("% x", b.Raw())
}

func renderHDMI(h *HDMI) string {
	r := h.Raw()
	at := func(i int) byte {
		if i < len(r) {
			return r[i]
		}
		return 0
	}
	s := fmt.Sprintf("HDMI VSDB: physical address %s", h.PhysicalAddress)
	if len(r) > 6 {
		d := h.DeepColour
		s += fmt.Sprintf(", byte6 0x%02X (AI %d DC48 %d DC36 %d DC30 %d Y444 %d dualDVI %d)", at(6), bit(h.SupportsAI),
			d>>2&1, d>>1&1, d&1, bit(h.DeepColour444), bit(h.DualDVI))
	}
	if len(r) > 7 {
		s += fmt.Sprintf(", max TMDS %d MHz", h.MaxTMDSMHz)
	}
	if len(r) > 8 {
		s += fmt.Sprintf(", byte8 0x%02X (latency %d i-latency %d video %d CNC %d)", at(8), bit(h.Latency != nil), bit(h.Interlaced != nil),
			bit(h.Video != nil), h.ContentTypes)
	}
	if v := h.Video; v != nil {
		s += fmt.Sprintf(", 3D present %d multi %d image size %d, HDMI VIC len %d 3D len %d", bit(v.ThreeD), v.Multi, v.ImageSize,
			len(v.VICs), at(10)&31)
		if len(v.VICs) > 0 {
			s += ", HDMI VICs " + strings.Trim(fmt.Sprint(v.VICs), "[]")
		}
	}
	return s
}

func renderID(b IDBlock) string {
	r := b.Raw()
	s := fmt.Sprintf("tag 0x%02X rev/flags 0x%02X len %d", r[0], r[1], len(r)-3)
	t, ok := b.(*IDTimings)
	if !ok {
		return s + fmt.Sprintf(": % x", r[3:])
	}
	sign := func(p bool) string { return map[bool]string{true: "+", false: "-"}[p] }
	for i, x := range t.Timings {
		h, v := x.Timing.H, x.Timing.V
		s += fmt.Sprintf("; timing %dx%d clock %d kHz H %d/%d/%d%s V %d/%d/%d%s rate %.3f Hz flags 0x%02X",
			h.Active, v.Active, x.Timing.PixelClock.Round(1)/1000, h.Front, h.Sync, h.Back, sign(h.Positive),
			v.Front, v.Sync, v.Back, sign(v.Positive), x.Timing.FieldRate().Float(), r[3+20*i+3])
	}
	return s
}

package edid

import (
	"fmt"
	"strings"

	"deadhop/edid/timing"
)

// DescribeBlock says in words what a data block states, "" where its contents
// are not decoded.
func DescribeBlock(b DataBlock) string {
	switch b := b.(type) {
	case *Video:
		return vicWords(b.SVDs)
	case *YCbCr420Video:
		return vicWords(b.SVDs)
	case *YCbCr420Map:
		if len(b.Bits) == 0 {
			return "all video codes"
		}
		var out []string
		for n := range 8 * len(b.Bits) {
			if b.Has(n) {
				out = append(out, itoa(n+1))
			}
		}
		return "video codes in place " + strings.Join(out, ", ")
	case *Audio:
		var out []string
		for _, s := range b.SADs {
			out = append(out, audioWords(s))
		}
		return strings.Join(out, "; ")
	case *Speakers:
		return strings.Join(b.Mask.Names(), " ")
	case *HDMI:
		return hdmiWords(b)
	case *HDMIForum:
		return forumWords(b)
	case *VendorBlock:
		return "vendor " + b.OUI.String()
	case *VideoCapability:
		return words(when(b.YCCRange, "YCC range selectable"), when(b.RGBRange, "RGB range selectable"),
			"preferred "+b.PT.String(), "IT "+b.IT.String(), "CE "+b.CE.String())
	case *Colorimetry:
		return strings.Join(b.Set.Names(), ", ")
	case *HDRStatic:
		return words(hdrNames(b.EOTFs), nits("max", b.MaxNits()), nits("average", b.AvgNits()), nits("min", b.MinNits()))
	case *HDMIOverride:
		return fmt.Sprintf("%d extension blocks", b.Count)
	case *Preference:
		var out []string
		for _, s := range b.SVRs {
			out = append(out, svrWords(s))
		}
		return strings.Join(out, ", ")
	case *CTATypeVII:
		return b.Timing.Timing.String()
	case *CTATypeVIII:
		return codeWords(b.TimingCodes)
	case *CTATypeX:
		return formulaWords(b.Formulas)
	case *BadBlock:
		return fmt.Sprintf("declares %d bytes, %s", b.Declared, b.Reason)
	}
	return ""
}

func vicWords(svds []SVD) string {
	var out []string
	for _, s := range svds {
		n := s.VIC()
		if n == 0 {
			out = append(out, fmt.Sprintf("reserved %d", uint8(s)))
			continue
		}
		w := fmt.Sprintf("VIC %d", n)
		if v, ok := timing.VIC(n); ok {
			w += " " + v.Name
		}
		out = append(out, w+when(s.Native(), " native"))
	}
	return strings.Join(out, ", ")
}

func audioWords(s SAD) string {
	if s.Format() == ExtendedAudio {
		return fmt.Sprintf("extended audio type %d", s.ExtendedFormat())
	}
	var rates []string
	for _, hz := range s.RatesHz() {
		rates = append(rates, strings.TrimSuffix(fmt.Sprintf("%.1f", float64(hz)/1000), ".0"))
	}
	w := fmt.Sprintf("%s %d channels %s kHz", s.Format(), s.Channels(), strings.Join(rates, "/"))
	if bits := s.LPCMBits(); len(bits) > 0 {
		w += " " + strings.ReplaceAll(strings.Trim(fmt.Sprint(bits), "[]"), " ", "/") + " bit"
	}
	if k := s.MaxKbps(); k > 0 {
		w += fmt.Sprintf(" to %d kbit/s", k)
	}
	return w
}

func hdmiWords(h *HDMI) string {
	rate, deep := "", ""
	if h.MaxTMDSMHz != 0 {
		rate = fmt.Sprintf("to %d MHz", h.MaxTMDSMHz)
	}
	if h.DeepColour != 0 {
		deep = fmt.Sprintf("deep colour %v bit", h.DeepColour.Bits())
	}
	var vics string
	if h.Video != nil && len(h.Video.VICs) > 0 {
		vics = strings.Trim(fmt.Sprint("HDMI VIC ", h.Video.VICs), "[]")
		vics = strings.ReplaceAll(vics, "[", "")
	}
	return words("HDMI, CEC address "+h.PhysicalAddress.String(), rate, deep, when(h.DeepColour444, "deep colour in 4:4:4"),
		when(h.SupportsAI, "ACP/ISRC"), when(h.DualDVI, "dual-link DVI"), vics,
		when(h.Video != nil && h.Video.ThreeD, "3D"))
}

func forumWords(h *HDMIForum) string {
	rate, frl, vrr, deep := "", "", "", ""
	if h.MaxTMDSMHz != 0 {
		rate = fmt.Sprintf("TMDS to %d MHz", h.MaxTMDSMHz)
	}
	if h.MaxFRL != 0 {
		frl = "FRL " + h.MaxFRL.String()
	}
	if h.VRRMinHz != 0 {
		vrr = fmt.Sprintf("VRR from %d Hz", h.VRRMinHz)
		if h.VRRMaxHz != 0 {
			vrr += fmt.Sprintf(" to %d Hz", h.VRRMaxHz)
		}
	}
	if h.DeepColour420 != 0 {
		deep = fmt.Sprintf("4:2:0 deep colour %v bit", h.DeepColour420.Bits())
	}
	return words("HDMI Forum", rate, when(h.SCDC, "SCDC"), when(h.ScrambleUnder340, "scrambles below 340 MHz"), frl, deep,
		vrr, when(h.ALLM, "ALLM"), when(h.QMS, "QMS"), when(h.DSC != nil, "DSC"))
}

func nits(what string, v float64) string {
	if v == 0 {
		return ""
	}
	return fmt.Sprintf("%s %.4g cd/m2", what, v)
}

func svrWords(s SVR) string {
	k, n := s.Refers()
	return fmt.Sprintf("%s %d", [...]string{"reserved", "VIC", "detailed timing", "Type VII timing", "video format", "Type VIII code"}[k], n)
}

func codeWords(t TimingCodes) string {
	return strings.Trim(fmt.Sprintf("%s %v", t.CodeKind, t.Codes), "[]") + when(t.YCbCr420, ", 4:2:0 too")
}

func formulaWords(list []FormulaTiming) string {
	var out []string
	for _, f := range list {
		out = append(out, fmt.Sprintf("%dx%d %d Hz %s", f.H, f.V, f.Hz, f.Formula))
	}
	return strings.Join(out, "; ")
}

// DescribeID says in words what a DisplayID block states, "" where its
// contents are not decoded.
func DescribeID(b IDBlock) string {
	switch b := b.(type) {
	case *IDTimings:
		var out []string
		for _, t := range b.Timings {
			out = append(out, t.Timing.String()+when(t.Preferred, " preferred"))
		}
		return strings.Join(out, "; ")
	case *IDFormulas:
		return formulaWords(b.Timings)
	case *IDTimingCodes:
		return codeWords(b.TimingCodes)
	case *IDProduct:
		return words(fmt.Sprintf("maker % X", b.Maker), fmt.Sprintf("product %04X", b.Product), b.Name)
	case *IDParameters:
		return words(fmt.Sprintf("%.1f x %.1f mm", float64(b.WidthTenthMM)/10, float64(b.HeightTenthMM)/10),
			fmt.Sprintf("%dx%d", b.HPixels, b.VPixels), nits("max", b.MaxFullNits), nits("min", b.MinNits))
	case *IDRange:
		return fmt.Sprintf("%d-%d Hz, %d-%d kHz clock", b.MinVHz, b.MaxVHz, b.MinClockKHz, b.MaxClockKHz)
	case *IDTiled:
		return fmt.Sprintf("tile %d,%d of %d x %d, %dx%d pixels", b.Column+1, b.Row+1, b.Columns, b.Rows, b.TileH, b.TileV)
	case *IDAdaptive:
		var out []string
		for _, r := range b.Ranges {
			out = append(out, fmt.Sprintf("%d-%d Hz", r.MinHz, r.MaxHz))
		}
		return strings.Join(out, "; ")
	case *IDLuminanceRange:
		return words(nits("SDR from", b.MinSDR), nits("to", b.MaxSDR), nits("boost", b.MaxBoost))
	case *IDString:
		return b.Text
	case *IDVendor:
		return fmt.Sprintf("vendor % X", b.Vendor)
	case *IDBad:
		return fmt.Sprintf("declares %d bytes, %s", b.Declared, b.Reason)
	}
	return ""
}

package edid

// SAD is a short audio descriptor, three bytes as on the wire (CTA-861
// 7.5.2).
type SAD [3]byte

// AudioFormat is the audio coding type of a short audio descriptor.
type AudioFormat uint8

const (
	LPCM          AudioFormat = 1
	AC3           AudioFormat = 2
	MPEG1         AudioFormat = 3
	MP3           AudioFormat = 4
	MPEG2         AudioFormat = 5
	AACLC         AudioFormat = 6
	DTS           AudioFormat = 7
	ATRAC         AudioFormat = 8
	DSD           AudioFormat = 9
	EnhancedAC3   AudioFormat = 10
	DTSHD         AudioFormat = 11
	MAT           AudioFormat = 12
	DST           AudioFormat = 13
	WMAPro        AudioFormat = 14
	ExtendedAudio AudioFormat = 15 // see SAD.ExtendedFormat
)

func (f AudioFormat) String() string {
	return nameOf([]string{"", "LPCM", "AC-3", "MPEG-1", "MP3", "MPEG-2", "AAC LC", "DTS", "ATRAC",
		"One Bit Audio", "Enhanced AC-3", "DTS-HD", "MAT", "DST", "WMA Pro", "extended audio"}, "audio format", int(f))
}

// Format is the coding type.
func (s SAD) Format() AudioFormat { return AudioFormat(s[0] >> 3 & 15) }

// ExtendedFormat is the extended coding type of an ExtendedAudio descriptor.
// Its further fields are known from memory of the standard only, and stay raw.
func (s SAD) ExtendedFormat() uint8 { return s[2] >> 3 }

// Channels is the maximum number of channels. It has no meaning for the
// extended types 11 to 13.
func (s SAD) Channels() int { return int(s[0]&7) + 1 }

// RatesHz lists the sampling rates, lowest first.
func (s SAD) RatesHz() []int {
	var out []int
	for i, hz := range [7]int{32000, 44100, 48000, 88200, 96000, 176400, 192000} {
		if s[1]&(1<<i) != 0 {
			out = append(out, hz)
		}
	}
	return out
}

// LPCMBits lists the sample sizes of LPCM in bits, nothing for other formats.
func (s SAD) LPCMBits() []int {
	if s.Format() != LPCM {
		return nil
	}
	var out []int
	for i, n := range [3]int{16, 20, 24} {
		if s[2]&(1<<i) != 0 {
			out = append(out, n)
		}
	}
	return out
}

// MaxKbps is the maximum bit rate of formats 2 to 8, 0 for others.
func (s SAD) MaxKbps() int {
	if f := s.Format(); f >= AC3 && f <= ATRAC {
		return int(s[2]) * 8
	}
	return 0
}

// Audio is an audio data block.
type Audio struct {
	body
	SADs []SAD
}

// Tag is AudioTag.
func (*Audio) Tag() BlockTag { return AudioTag }

func (d *decoder) decodeAudio(o body, p []byte) *Audio {
	if len(p)%3 != 0 {
		d.add(AudioLength, o.at, len(o.raw), "audio", len(p))
	}
	a := &Audio{body: o}
	if len(p) >= 3 {
		a.SADs = make([]SAD, len(p)/3)
	}
	for i := range a.SADs {
		copy(a.SADs[i][:], p[3*i:])
		if a.SADs[i].Format() == 0 {
			d.add(AudioReserved, o.at+1+3*i, 3, "audio")
		}
	}
	return a
}

// SpeakerMask is a set of speakers; bit 0 is bit 0 of the first byte.
type SpeakerMask uint32

// Speaker positions of the first byte, as NVIDIA's open header names them
// (the later ones are known from memory only and print by number).
const (
	SpeakerFront       SpeakerMask = 1 << 0 // front left and right
	SpeakerLFE         SpeakerMask = 1 << 1
	SpeakerFrontCentre SpeakerMask = 1 << 2
	SpeakerBack        SpeakerMask = 1 << 3 // back left and right
	SpeakerBackCentre  SpeakerMask = 1 << 4
	SpeakerFrontInner  SpeakerMask = 1 << 5 // front left and right of centre
	SpeakerBackInner   SpeakerMask = 1 << 6 // rear left and right of centre
)

// Names lists the speakers of the mask in bit order.
func (m SpeakerMask) Names() []string {
	names := []string{"FL/FR", "LFE", "FC", "BL/BR", "BC", "FLC/FRC", "RLC/RRC"}
	var out []string
	for i := range 24 {
		if m&(1<<i) != 0 {
			out = append(out, nameOf(names, "speaker bit", i))
		}
	}
	return out
}

// Speakers is a speaker allocation block (CTA-861 7.5.3).
type Speakers struct {
	body
	Mask SpeakerMask
}

// Tag is SpeakerTag.
func (*Speakers) Tag() BlockTag { return SpeakerTag }

func decodeMask(p []byte) SpeakerMask { return SpeakerMask(le24(p)) }

package timing

import "fmt"

// Sampling is how colour is sampled on a link.
type Sampling uint8

const (
	Sampling444 Sampling = iota // RGB or YCbCr 4:4:4
	Sampling422
	Sampling420
)

func (s Sampling) String() string {
	switch s {
	case Sampling444:
		return "4:4:4"
	case Sampling422:
		return "4:2:2"
	case Sampling420:
		return "4:2:0"
	}
	return fmt.Sprintf("Sampling(%d)", uint8(s))
}

// CharacterRate is the TMDS character rate of the timing (HDMI 1.4b section
// 6.5, HDMI 2.0 section 7.1): the pixel clock, times depth over 8 for deep
// colour, halved for 4:2:0. 4:2:2 carries up to 12 bits in the same room.
// bits 0 counts as 8.
func (t Timing) CharacterRate(bits uint8, s Sampling) Freq {
	if bits == 0 {
		bits = 8
	}
	switch s {
	case Sampling422:
		return t.PixelClock
	case Sampling420:
		return t.PixelClock.Scale(uint64(bits), 16)
	}
	return t.PixelClock.Scale(uint64(bits), 8)
}

// MaxTMDSWithoutSCDC is the character rate above which HDMI 2.0 demands
// scrambling and a clock of a tenth, set up over SCDC; without SCDC nothing
// faster is legal.
var MaxTMDSWithoutSCDC = Hz(340_000_000)

// TMDSLink are the limits of a TMDS link up to a character rate, at a colour
// depth and sampling.
func TMDSLink(rate Freq, bits uint8, s Sampling) Limits {
	return Limits{Origin: "link", BitsPerComponent: bits, Sampling: s, List: []Limit{
		At(CharacterRate, Hz(25_000_000), rate)}}
}

// FRLLink are the limits of an HDMI 2.1 fixed-rate link: lanes times Gbit/s a
// lane, of which 16 bits in 18 are payload, 8 bits a character and three
// characters a pixel at 4:4:4 and 8 bits. Error correction takes about 2 %
// more, which is not subtracted: the limit is the upper bound. (HDMI 2.1, from
// memory.)
func FRLLink(lanes, gbits, bits uint8, s Sampling) (Limits, error) {
	if ok := lanes == 3 && (gbits == 3 || gbits == 6) || lanes == 4 && (gbits == 6 || gbits == 8 || gbits == 10 || gbits == 12); !ok {
		return Limits{}, fmt.Errorf("FRL %d lanes at %d Gbit/s: HDMI 2.1 knows 3 lanes at 3 and 6, 4 lanes at 6, 8, 10 and 12", lanes, gbits)
	}
	rate := Hz(uint64(lanes)*uint64(gbits)*1e9).Scale(16, 18*24)
	return Limits{Origin: "link", BitsPerComponent: bits, Sampling: s, List: []Limit{At(CharacterRate, Freq{}, rate)}}, nil
}

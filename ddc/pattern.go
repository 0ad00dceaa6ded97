package ddc

import "fmt"

// Pattern is a test picture.
type Pattern uint8

const (
	Bars    Pattern = iota + 1 // white, yellow, cyan, green, magenta, red, blue, black
	Ramps                      // red, green, blue and grey from black to full
	Grid                       // lines every 32 pixels and a border of one pixel: is the edge visible?
	FullRed                    // full colours, to see a lane missing
	FullGreen
	FullBlue
	FullWhite
	FullBlack
	Alternate // black and white by pixel: the most edges that a link can carry
	Mark      // a mark that moves with the frame's number
	Counter   // the frame's number as a row of squares, one a bit
)

var patternNames = [...]string{Bars: "bars", Ramps: "ramps", Grid: "grid", FullRed: "red", FullGreen: "green",
	FullBlue: "blue", FullWhite: "white", FullBlack: "black", Alternate: "alternate", Mark: "mark", Counter: "counter"}

func (p Pattern) String() string {
	if int(p) < len(patternNames) && p > 0 {
		return patternNames[p]
	}
	return fmt.Sprintf("Pattern(%d)", uint8(p))
}

// Paint draws frame number n of a pattern. The same arguments give the same
// pixels, so that what was received can be compared with what was sent.
func (p Pattern) Paint(w, h, n int) Frame {
	f := Frame{W: w, H: h, RGB: make([]byte, 3*w*h), Sequence: uint32(n)}
	for y := range h {
		for x := range w {
			c := p.at(x, y, w, h, n)
			copy(f.RGB[3*(y*w+x):], c[:])
		}
	}
	return f
}

var (
	black = [3]byte{}
	white = [3]byte{255, 255, 255}
)

func (p Pattern) at(x, y, w, h, n int) [3]byte {
	switch p {
	case Bars:
		k := 7 - 8*x/w // white first: bits green, red, blue as the bars of television
		return [3]byte{full(k & 2), full(k & 4), full(k & 1)}
	case Ramps:
		v := byte(255 * x / max(1, w-1))
		return [...][3]byte{{v, 0, 0}, {0, v, 0}, {0, 0, v}, {v, v, v}}[min(3, 4*y/h)]
	case Grid:
		if x == 0 || y == 0 || x == w-1 || y == h-1 || x%32 == 0 || y%32 == 0 {
			return white
		}
		return black
	case FullRed:
		return [3]byte{255, 0, 0}
	case FullGreen:
		return [3]byte{0, 255, 0}
	case FullBlue:
		return [3]byte{0, 0, 255}
	case FullWhite:
		return white
	case Alternate:
		if (x+y)%2 == 0 {
			return white
		}
		return black
	case Mark:
		side := max(8, h/16)
		left := n * side / 2 % max(1, w)
		if y >= h/2 && y < h/2+side && x >= left && x < left+side {
			return white
		}
		return [3]byte{32, 32, 32}
	case Counter:
		side := max(1, w/32)
		if y < side && x/side < 32 && n>>(31-x/side)&1 == 1 {
			return white
		}
		return black
	default:
		return black
	}
}

func full(on int) byte {
	if on != 0 {
		return 255
	}
	return 0
}

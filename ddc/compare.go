package ddc

import (
	"fmt"
	"math"
)

// Comparison is how received frames agree with what was sent.
type Comparison struct {
	Frames, Pixels, Wrong int
	// Bound is the upper limit of the rate of wrong pixels at 95 % confidence,
	// one-sided: with none wrong among n it is about 3/n.
	Bound float64
	// Lanes counts wrong pixels by colour: red, green, blue.
	Lanes [3]int
	// Worst is the largest difference of a level.
	Worst int
	Size  bool // false where a frame had another size than was sent
}

// Rate is the share of wrong pixels.
func (c Comparison) Rate() float64 {
	if c.Pixels == 0 {
		return 0
	}
	return float64(c.Wrong) / float64(c.Pixels)
}

func (c Comparison) String() string {
	return fmt.Sprintf("%d of %d pixels wrong in %d frames; the true rate is below %.2g (95 %%)", c.Wrong, c.Pixels, c.Frames, c.Bound)
}

// Compare compares received frames with the frame that was sent, pixel by
// pixel. A level may differ by tolerance: 0 on a link that keeps RGB, 2 where
// a receiver converts.
func Compare(sent Frame, got []Frame, tolerance int) Comparison {
	c := Comparison{Frames: len(got), Size: true}
	for _, f := range got {
		if f.W != sent.W || f.H != sent.H || len(f.RGB) != len(sent.RGB) {
			c.Size = false
			c.Pixels += sent.W * sent.H
			c.Wrong += sent.W * sent.H
			continue
		}
		for i := 0; i < len(f.RGB); i += 3 {
			wrong := false
			for lane := range 3 {
				d := int(f.RGB[i+lane]) - int(sent.RGB[i+lane])
				d = max(d, -d)
				c.Worst = max(c.Worst, d)
				if d > tolerance {
					wrong = true
					c.Lanes[lane]++
				}
			}
			c.Pixels++
			if wrong {
				c.Wrong++
			}
		}
	}
	c.Bound = upperBound(c.Wrong, c.Pixels)
	return c
}

// upperBound is the one-sided 95 % bound of a rate with k events among n by
// the chi-squared relation of the Poisson distribution, in the
// Wilson–Hilferty approximation. For k = 0 it is exact: −ln 0.05 / n.
func upperBound(k, n int) float64 {
	if n == 0 {
		return 1
	}
	if k == 0 {
		return min(1, -math.Log(0.05)/float64(n))
	}
	const z = 1.6449 // 95 % of the normal distribution
	m := float64(k + 1)
	t := 1 - 1/(9*m) + z/(3*math.Sqrt(m))
	return min(1, m*t*t*t/float64(n))
}

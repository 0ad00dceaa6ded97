package ddc

import (
	"math"
	"math/cmplx"
)

// JudgeSound measures interleaved samples. Frequencies are good to a
// hundredth of the resolution (rate over number of samples) for a clean tone.
func JudgeSound(samples []int16, channels, rate int) SoundReport {
	var r SoundReport
	if channels <= 0 || rate <= 0 {
		return r
	}
	for c := range channels {
		x := make([]float64, 0, len(samples)/channels)
		for i := c; i < len(samples); i += channels {
			x = append(x, float64(samples[i])/32768)
		}
		r.Channels = append(r.Channels, measureChannel(x, float64(rate)))
	}
	return r
}

func measureChannel(x []float64, rate float64) ChannelSound {
	var mean, power float64
	for _, v := range x {
		mean += v
	}
	mean /= float64(max(1, len(x)))
	for _, v := range x {
		power += (v - mean) * (v - mean)
	}
	power /= float64(max(1, len(x)))
	// A full-scale sine has the power 1/2.
	c := ChannelSound{Level: decibel(2 * power)}
	if c.Level < silence {
		c.Silent = true
		return c
	}
	n := 1
	for 2*n <= len(x) {
		n *= 2
	}
	if n < 64 {
		return c
	}
	// Hann window: main lobe of four bins, side lobes that fall fast.
	spectrum := make([]complex128, n)
	var windowPower float64
	for i := range spectrum {
		w := 0.5 - 0.5*math.Cos(2*math.Pi*float64(i)/float64(n))
		spectrum[i] = complex((x[i]-mean)*w, 0)
		windowPower += w * w
	}
	fft(spectrum)
	mag := func(k int) float64 { return cmplx.Abs(spectrum[k]) }
	peak := 1
	for k := 1; k < n/2; k++ {
		if mag(k) > mag(peak) {
			peak = k
		}
	}
	var near, all float64
	for k := 1; k < n/2; k++ {
		p := mag(k) * mag(k)
		all += p
		if k >= peak-4 && k <= peak+4 {
			near += p
		}
	}
	c.Tone = near >= toneHold*all && peak > 1
	if !c.Tone {
		return c
	}
	// For a Hann window the ratio of the two highest bins gives the place of
	// the tone between them exactly: d = (2r-1)/(r+1).
	side, sign := peak+1, 1.0
	if mag(peak-1) > mag(peak+1) {
		side, sign = peak-1, -1
	}
	ratio := mag(side) / mag(peak)
	d := (2*ratio - 1) / (ratio + 1)
	c.ToneHz = (float64(peak) + sign*d) * rate / float64(n)
	// Parseval over the lobe, both halves of the spectrum.
	c.ToneLevel = decibel(2 * 2 * near / (float64(n) * windowPower))
	return c
}

func decibel(power float64) float64 {
	if power <= 0 {
		return math.Inf(-1)
	}
	return 10 * math.Log10(power)
}

// fft is the radix-2 transform in place. The length is a power of two.
func fft(a []complex128) {
	n := len(a)
	for i, j := 1, 0; i < n; i++ {
		bit := n >> 1
		for ; j&bit != 0; bit >>= 1 {
			j ^= bit
		}
		j ^= bit
		if i < j {
			a[i], a[j] = a[j], a[i]
		}
	}
	for size := 2; size <= n; size *= 2 {
		step := cmplx.Exp(complex(0, -2*math.Pi/float64(size)))
		for start := 0; start < n; start += size {
			w := complex(1, 0)
			for k := start; k < start+size/2; k++ {
				u, v := a[k], a[k+size/2]*w
				a[k], a[k+size/2] = u+v, u-v
				w *= step
			}
		}
	}
}

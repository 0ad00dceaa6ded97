package sim

import (
	"testing"

	"github.com/stretchr/testify/assert"
)

// The factor 0.8473 is that of NXP UM10204 section 7.1; the results are
// worked by hand from it, to two digits.
func TestRiseTime(t *testing.T) {
	for _, c := range []struct {
		name       string
		ohms, pF   float64
		nanosecond float64
	}{
		{"2 kilohm beside 47 kilohm, 400 pF", parallel(2000, 47000), 400, 650},
		{"2 kilohm beside 47 kilohm, 750 pF", parallel(2000, 47000), 750, 1220},
		{"1.5 kilohm beside 47 kilohm, 750 pF", parallel(1500, 47000), 750, 920},
		{"1.5 kilohm beside 47 kilohm, 800 pF", parallel(1500, 47000), 800, 990},
		{"source pull-up missing, 400 pF", 47000, 400, 15900},
		{"source pull-up missing, 750 pF", 47000, 750, 29900},
		{"the limit of 1 us with 47 kilohm alone", 47000, 25, 1000},
	} {
		assert.InEpsilon(t, c.nanosecond, riseTime(c.ohms, c.pF), 0.01, c.name)
	}
}

package chain

import (
	"fmt"
	"strconv"
	"strings"
)

// Num is a number of the catalogue with where it comes from: "0.6 estimate".
type Num struct {
	V    float64
	From string
	// fault is what kept the number from being read; it is reported with the
	// number's place in the file.
	fault error
}

// UnmarshalText reads a number, a space and its source in words.
func (n *Num) UnmarshalText(b []byte) error {
	text, from, _ := strings.Cut(strings.TrimSpace(string(b)), " ")
	v, err := strconv.ParseFloat(text, 64)
	if err != nil {
		n.fault = fmt.Errorf("%q is no number", text)
		return nil
	}
	if strings.TrimSpace(from) == "" {
		n.fault = fmt.Errorf("the number %s does not say where it comes from: write its source or \"estimate\" after it", text)
		return nil
	}
	n.V, n.From = v, strings.TrimSpace(from)
	return nil
}

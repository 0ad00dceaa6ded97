// Package screentest shows a test in the virtual bench what an emulated
// display shows: it asks the host of the machine for a screendump. That is
// the far end of the cable, seen without any code of the kernel.
package screentest

import (
	"bufio"
	"errors"
	"fmt"
	"image"
	"image/color"
	"io"
	"os"
	"strings"
	"syscall"
	"time"
)

// Names of the emulated cards, as scripts/vbench/machine.sh gives them.
const (
	Bochs  = "bochs0"
	Virtio = "gpu0"
	ATI    = "ati0"
)

// HostEnv names the variable with the node of the port to the host.
const HostEnv = "DEADHOP_VBENCH_HOST"

// Dump returns what a card's output shows now. head counts its outputs from
// 0. Outside the virtual bench it fails.
func Dump(card string, head int) (*image.RGBA, error) {
	node := os.Getenv(HostEnv)
	if node == "" {
		return nil, errors.New(HostEnv + " is not set: screendumps exist in the virtual bench only")
	}
	port, err := open(node)
	if err != nil {
		return nil, fmt.Errorf("opening the port to the host: %w", err)
	}
	defer port.Close()
	if _, err := fmt.Fprintf(port, "screendump %s %d\n", card, head); err != nil {
		return nil, fmt.Errorf("asking for a screendump: %w", err)
	}
	return answer(bufio.NewReader(port))
}

// open waits for the port, which one process at a time can hold.
func open(node string) (*os.File, error) {
	for until := time.Now().Add(10 * time.Second); ; {
		f, err := os.OpenFile(node, os.O_RDWR, 0)
		if !errors.Is(err, syscall.EBUSY) || time.Now().After(until) {
			return f, err
		}
		time.Sleep(10 * time.Millisecond)
	}
}

func answer(r *bufio.Reader) (*image.RGBA, error) {
	line, err := r.ReadString('\n')
	if err != nil {
		return nil, fmt.Errorf("reading the host's answer: %w", err)
	}
	var length int64
	if _, err := fmt.Sscanf(line, "ok %d\n", &length); err != nil {
		return nil, fmt.Errorf("the host gave no screendump: %s", strings.TrimSpace(line))
	}
	picture := bufio.NewReader(io.LimitReader(r, length))
	img, err := decodePPM(picture)
	if err != nil {
		return nil, fmt.Errorf("reading the screendump: %w", err)
	}
	if _, err := picture.ReadByte(); err != io.EOF {
		return nil, errors.New("reading the screendump: it goes on after its pixels")
	}
	return img, nil
}

// decodePPM reads a binary portable pixmap of 8 bits a sample, without
// comments, which is what the emulator writes.
func decodePPM(r io.Reader) (*image.RGBA, error) {
	const largest = 1 << 14
	var magic string
	var width, height, most int
	// The one white space after the last number belongs to the header.
	if _, err := fmt.Fscanf(r, "%s\n%d %d\n%d\n", &magic, &width, &height, &most); err != nil {
		return nil, fmt.Errorf("header: %w", err)
	}
	if magic != "P6" || most != 255 || width < 1 || height < 1 || width > largest || height > largest {
		return nil, fmt.Errorf("%s picture of %d x %d, %d levels: want P6 with 255", magic, width, height, most)
	}
	img := image.NewRGBA(image.Rect(0, 0, width, height))
	row := make([]byte, 3*width)
	for y := range height {
		if _, err := io.ReadFull(r, row); err != nil {
			return nil, fmt.Errorf("row %d of %d: %w", y, height, err)
		}
		for x := range width {
			img.SetRGBA(x, y, color.RGBA{row[3*x], row[3*x+1], row[3*x+2], 0xff})
		}
	}
	return img, nil
}

package ddc

import (
	"bytes"
	"fmt"
	"image"
	"image/jpeg"
	"time"

	"deadhop/ddc/internal/uapi"
)

// Frame is one picture as red, green and blue, eight bits each, in rows from
// the top without gaps.
type Frame struct {
	W, H     int
	RGB      []byte // 3×W×H bytes
	Sequence uint32 // the driver's count: a gap is a dropped frame
	At       time.Time
	Damaged  bool // the driver marked the frame as faulty
}

// fourCC is a pixel format's number (V4L2_PIX_FMT_* are built this way).
func fourCC(s string) uint32 {
	return uint32(s[0]) | uint32(s[1])<<8 | uint32(s[2])<<16 | uint32(s[3])<<24
}

// frameFormats are the pixel formats that can be read, best first: what keeps
// the pixels of the link comes before what has lost colour resolution, and
// what is compressed comes last.
var frameFormats = []struct {
	code string // FourCC of linux/videodev2.h
	rgb  func(dst, src []byte, w, h, stride int, m matrix) bool
}{
	{"RGB3", packed(3, 0, 1, 2)}, // V4L2_PIX_FMT_RGB24
	{"BGR3", packed(3, 2, 1, 0)}, // BGR24
	{"XR24", packed(4, 2, 1, 0)}, // XBGR32: bytes B G R X
	{"BX24", packed(4, 1, 2, 3)}, // XRGB32: bytes X R G B
	{"BGR4", packed(4, 2, 1, 0)}, // BGR32
	{"RGB4", packed(4, 1, 2, 3)}, // RGB32
	{"YUYV", packed422(0, 1, 2, 3)},
	{"UYVY", packed422(1, 0, 3, 2)},
	{"NV12", nv12},
	{"MJPG", nil}, // by image/jpeg
}

// matrix is a YCbCr to RGB conversion: limited range, by the luma weights of
// ITU-R BT.601 (standard definition) or BT.709.
type matrix struct{ rv, gu, gv, bu int } // in 1/256

func matrixFor(height uint32) matrix {
	if height < 720 {
		return matrix{409, 100, 208, 516} // BT.601
	}
	return matrix{459, 55, 136, 541} // BT.709
}

func (m matrix) put(dst []byte, y, u, v byte) {
	c, d, e := 298*(int(y)-16), int(u)-128, int(v)-128
	dst[0] = clamp8((c + m.rv*e + 128) >> 8)
	dst[1] = clamp8((c - m.gu*d - m.gv*e + 128) >> 8)
	dst[2] = clamp8((c + m.bu*d + 128) >> 8)
}

func clamp8(v int) byte { return byte(max(0, min(255, v))) }

func packed(size, r, g, b int) func(dst, src []byte, w, h, stride int, _ matrix) bool {
	return func(dst, src []byte, w, h, stride int, _ matrix) bool {
		if stride < w*size || len(src) < stride*(h-1)+w*size {
			return false
		}
		for y := range h {
			row := src[y*stride:]
			for x := range w {
				p, q := row[x*size:], dst[3*(y*w+x):]
				q[0], q[1], q[2] = p[r], p[g], p[b]
			}
		}
		return true
	}
}

func packed422(y0, u, y1, v int) func(dst, src []byte, w, h, stride int, m matrix) bool {
	return func(dst, src []byte, w, h, stride int, m matrix) bool {
		if w%2 != 0 || stride < 2*w || len(src) < stride*(h-1)+2*w {
			return false
		}
		for y := range h {
			row := src[y*stride:]
			for x := 0; x < w; x += 2 {
				p, q := row[2*x:], dst[3*(y*w+x):]
				m.put(q, p[y0], p[u], p[v])
				m.put(q[3:], p[y1], p[u], p[v])
			}
		}
		return true
	}
}

func nv12(dst, src []byte, w, h, stride int, m matrix) bool {
	if stride < w || len(src) < stride*h+stride*((h+1)/2) {
		return false
	}
	chroma := src[stride*h:]
	for y := range h {
		for x := range w {
			c := chroma[y/2*stride+x/2*2:]
			m.put(dst[3*(y*w+x):], src[y*stride+x], c[0], c[1])
		}
	}
	return true
}

// toFrame makes a Frame of captured memory.
func toFrame(p uapi.V4L2PixFormat, f uapi.V4L2Frame) (Frame, error) {
	out := Frame{W: int(p.Width), H: int(p.Height), Sequence: f.Sequence, At: sinceBoot(f.At), Damaged: f.Damaged}
	for _, format := range frameFormats {
		if fourCC(format.code) != p.FourCC {
			continue
		}
		if format.rgb == nil {
			return fromJPEG(out, f.Data)
		}
		if out.W <= 0 || out.H <= 0 || out.W > 1<<14 || out.H > 1<<14 {
			return Frame{}, fmt.Errorf("a frame of %d x %d pixels", out.W, out.H)
		}
		out.RGB = make([]byte, 3*out.W*out.H)
		if !format.rgb(out.RGB, f.Data, out.W, out.H, int(p.BytesPerLine), matrixFor(p.Height)) {
			return Frame{}, fmt.Errorf("%d bytes are too few for %d x %d pixels of %s", len(f.Data), out.W, out.H, format.code)
		}
		return out, nil
	}
	return Frame{}, fmt.Errorf("pixel format %q cannot be read", fourCCText(p.FourCC))
}

func fourCCText(c uint32) string {
	return string([]byte{byte(c), byte(c >> 8), byte(c >> 16), byte(c >> 24)})
}

// fromJPEG reads a motion-JPEG frame, the form in which most USB sticks send.
func fromJPEG(out Frame, data []byte) (Frame, error) {
	img, err := jpeg.Decode(bytes.NewReader(data))
	if err != nil {
		return Frame{}, fmt.Errorf("motion JPEG: %w", err)
	}
	b := img.Bounds()
	out.W, out.H = b.Dx(), b.Dy()
	out.RGB = make([]byte, 0, 3*out.W*out.H)
	for y := b.Min.Y; y < b.Max.Y; y++ {
		for x := b.Min.X; x < b.Max.X; x++ {
			r, g, bl, _ := img.At(x, y).RGBA()
			out.RGB = append(out.RGB, byte(r>>8), byte(g>>8), byte(bl>>8))
		}
	}
	return out, nil
}

// Image is the frame for the image packages. It copies.
func (f Frame) Image() *image.NRGBA {
	img := image.NewNRGBA(image.Rect(0, 0, f.W, f.H))
	for i := range f.W * f.H {
		copy(img.Pix[4*i:], f.RGB[3*i:3*i+3])
		img.Pix[4*i+3] = 0xff
	}
	return img
}

// Package timing holds video timings in exact frequencies and the published
// tables and formulas that name them. It knows nothing of any operating
// system.
package timing

// Axis is one direction of a raster: pixels of a line, or lines of a frame
// (of one field where the timing is interlaced). Front is the blanking before
// the sync pulse, Back the blanking after it; both contain any border.
type Axis struct {
	Active, Front, Sync, Back uint32
	Positive                  bool // polarity of the sync pulse
}

// Blank is the blanking in pixels or lines.
func (a Axis) Blank() uint32 { return a.Front + a.Sync + a.Back }

// Total is active plus blanking.
func (a Axis) Total() uint32 { return a.Active + a.Blank() }

// Timing is one video timing as it is on the link. It is comparable: two
// timings are the same timing exactly when they are ==.
//
// Vertical numbers of an interlaced timing are those of its first field. Its
// frame has 2×V.Total() lines, and one more where HalfLine is set (each field
// is then half a line longer than V says; all common interlaced formats but
// 1920x1080i with 1250 lines are so).
type Timing struct {
	PixelClock Freq
	H, V       Axis
	Interlaced bool
	HalfLine   bool
	// Repeat is how many times each pixel is sent, 1 for once. H and
	// PixelClock count the pixels as sent.
	Repeat uint8
}

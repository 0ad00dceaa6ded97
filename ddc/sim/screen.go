package sim

import (
	"deadhop/ddc"
)

// Screen is what a person sees on a display.
type Screen string

const (
	ScreenDark     Screen = "dark"     // no light
	ScreenBlack    Screen = "black"    // light, and nothing else
	ScreenWhite    Screen = "white"    // light, and a glass that is not driven
	ScreenMessage  Screen = "message"  // the display's own "no signal" or "out of range"
	ScreenPicture  Screen = "picture"  // as it should be
	ScreenFrozen   Screen = "frozen"   //
	ScreenColour   Screen = "colour"   // one colour is missing
	ScreenSparkles Screen = "sparkles" // noise over the picture
	ScreenLines    Screen = "lines"    // lines or wrong colours, in the menu too
	ScreenGarbled  Screen = "garbled"  // torn or rolling, the menu too
	ScreenBand     Screen = "band"     // a fixed line or band, nothing else wrong
)

// panelState is what is wrong inside the panel.
type panelState struct {
	noSupply bool // the timing controller's own converter
	glass    bool
	noLight  bool
}

func (p *panelState) inject(f fault) {
	switch f.kind {
	case "panel-supply":
		p.noSupply = true
	case "glass":
		p.glass = true
	case "backlight":
		p.noLight = true
	}
}

// shown is what a received signal looks like on a whole display.
func shown(r reception) Screen {
	if r.signal != ddc.Locked {
		return ScreenMessage
	}
	switch r.picture {
	case ddc.PictureBlack:
		return ScreenBlack
	case ddc.PictureFrozen:
		return ScreenFrozen
	case ddc.PictureLaneMissing:
		return ScreenColour
	case ddc.PictureNoise:
		return ScreenSparkles
	}
	return ScreenPicture
}

// ownScreen is what the equipment's own screen shows with the chain closed.
// menu asks for the scaler's menu to be opened on it. lit is the backlight.
func (w *world) ownScreen(menu bool) (seen Screen, lit bool) {
	last := len(w.boards) - 1
	scaler, ok := w.boards[last].(*scalerBoard)
	if !ok || len(w.eq.stages) == len(w.boards) {
		return ScreenDark, false // no screen inside
	}
	panel := &w.eq.stages[len(w.boards)]
	lit = scaler.powered && w.supplied(len(w.boards)) && !w.panel.lightOpen && !w.screen.noLight
	_, r := w.closed().watch(scaler.accepts.fits)
	if scaler.inputDead {
		r = reception{signal: ddc.NoSignal}
	}
	if !scaler.retimes && r.signal == ddc.Locked && !panel.accepts.fits(r.timing) {
		return w.onGlass(scaler, ScreenGarbled), lit
	}
	seen = shown(r)
	if menu {
		seen = ScreenMessage
	}
	return w.onGlass(scaler, seen), lit
}

// onGlass takes what the scaler means to show through the panel cable and
// the panel, as if there were light.
func (w *world) onGlass(s *scalerBoard, meant Screen) Screen {
	switch {
	case !s.powered:
		return ScreenBlack
	case w.panel.vddOpen || w.screen.noSupply:
		return ScreenWhite // an undriven normally white cell; common practice
	case s.outputDead || w.panel.clockOpen || w.panel.laneOpen[2]:
		return ScreenBlack // lane 2 carries data enable and syncs, JEIDA-59-1999
	case s.wrongTable:
		return ScreenGarbled
	case w.panel.laneOpen[0] || w.panel.laneOpen[1] || w.panel.laneOpen[3]:
		return ScreenLines
	case w.screen.glass && meant != ScreenBlack:
		return ScreenBand
	}
	return meant
}

// soundOut reports whether the equipment's amplifier gives sound.
func (w *world) soundOut() bool {
	last := len(w.boards) - 1
	scaler, ok := w.boards[last].(*scalerBoard)
	if !ok || !scaler.powered || scaler.inputDead || scaler.muted {
		return false
	}
	_, r := w.closed().watch(scaler.accepts.fits)
	return r.sound
}

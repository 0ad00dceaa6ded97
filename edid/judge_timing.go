package edid

// judgeTiming judges one detailed timing by itself.
func (d *decoder) judgeTiming(t *DetailedTiming) {
	const field = "detailed timing"
	h, v := t.Timing.H, t.Timing.V
	if h.Active == 0 || v.Active == 0 {
		d.add(TimingEmpty, t.at+2, 6, field, int(h.Active), int(v.Active))
		return
	}
	hb, vb := t.blanks()
	switch {
	case hb == 0 || vb == 0:
		d.add(TimingNoBlanking, t.at+3, 5, field, int(hb), int(vb))
		return
	case h.Front+h.Sync > hb || v.Front+v.Sync > vb:
		d.add(TimingSyncOutside, t.at+8, 4, field, int(h.Front+h.Sync), int(v.Front+v.Sync), int(hb), int(vb))
	case h.Sync == 0 || v.Sync == 0:
		d.add(TimingNoSync, t.at+8, 4, field, int(h.Sync), int(v.Sync))
	}
	if (h.Active|h.Front|h.Sync|h.Total())&1 != 0 {
		d.add(TimingOddPixels, t.at+2, 8, field, int(h.Active), int(h.Front), int(h.Sync), int(h.Total()))
	}
	if t.BorderH != 0 || t.BorderV != 0 {
		d.add(TimingBorder, t.at+15, 2, field, int(t.BorderH), int(t.BorderV))
	}
	if t.Sync != SyncDigitalSeparate && d.e.raw[0x14]&0x80 != 0 {
		d.add(TimingComposite, t.at+17, 1, field)
	}
	clock, _ := t.Timing.PixelClock.Fraction()
	if rate := clock / (uint64(hb+h.Active) * uint64(vb+v.Active)); rate < 20 || rate > 600 {
		d.add(TimingRate, t.at, 18, field, int(rate))
	}
}

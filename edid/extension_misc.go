package edid

// VTB is a video timing block extension (VESA VTB-EXT).
type VTB struct {
	body
	Version  uint8
	Timings  []DetailedTiming
	CVT      []CVTCode
	Standard []StandardTiming
}

// Tag is VTBTag.
func (*VTB) Tag() ExtensionTag { return VTBTag }

func (d *decoder) decodeVTB(b []byte) *VTB {
	v := &VTB{body: body{raw: b}, Version: b[1]}
	w, y, z := int(b[2]), int(b[3]), int(b[4])
	if w*18+y*3+z*2 > 122 {
		d.add(VTBOverrun, 2, 3, "counts", w, y, z)
	}
	at := 5
	for ; w > 0 && at+18 <= 127; w-- {
		t := decodeDetailedTiming(b, at)
		d.judgeTiming(&t)
		v.Timings = append(v.Timings, t)
		at += 18
	}
	for ; w == 0 && y > 0 && at+3 <= 127; y-- {
		v.CVT = append(v.CVT, CVTCode(b[at:at+3]))
		at += 3
	}
	for ; w == 0 && y == 0 && z > 0 && at+2 <= 127; z-- {
		v.Standard = append(v.Standard, StandardTiming(b[at:at+2]))
		at += 2
	}
	return v
}

// BlockMap lists the tags of the blocks that follow it (E-EDID 3.11).
type BlockMap struct {
	body
	Tags [126]ExtensionTag
}

// Tag is BlockMapTag.
func (*BlockMap) Tag() ExtensionTag { return BlockMapTag }

func (d *decoder) decodeBlockMap(b []byte) *BlockMap {
	m := &BlockMap{body: body{raw: b}}
	for i := range m.Tags {
		m.Tags[i] = ExtensionTag(b[1+i])
		// Byte 1 speaks of the block after the map.
		at := d.block + 1 + i
		if m.Tags[i] != 0 && at*BlockSize < len(d.e.raw) && d.e.raw[at*BlockSize] != b[1+i] {
			d.add(BlockMapWrong, 1+i, 1, "block map", at, int(b[1+i]), int(d.e.raw[at*BlockSize]))
		}
	}
	return m
}

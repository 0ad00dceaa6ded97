package edid

// judgeShape looks at the bytes as a whole, before any field is read.
func (d *decoder) judgeShape() {
	raw := d.e.raw
	if n := len(raw) % BlockSize; n != 0 {
		d.block = len(raw) / BlockSize
		d.add(TrailingBytes, 0, n, "", n)
		d.block = 0
	}
	head := raw[:BlockSize]
	right := headerMatch(head)
	if right == 8 {
		d.judgeChecksum(head)
		return
	}
	switch {
	case all(raw, 0xFF):
		d.mute = true
		d.add(AllFF, 0, BlockSize, "")
		return
	case all(raw, 0):
		d.mute = true
		d.add(AllZero, 0, BlockSize, "")
		return
	}
	if at := d.baseElsewhere(); at > 0 {
		d.mute = true
		d.add(RolledRead, 0, 1, "header", at)
		return
	}
	if d.judgeShift(head) {
		d.mute = true
		return
	}
	if n := erased(head); n >= 8 {
		// What lies behind the erased head is still worth reading.
		d.mute = n > 16
		d.add(HeadErased, 0, n, "header", n, int(head[0]))
		return
	}
	if right >= 6 {
		d.add(HeaderDamaged, 0, 8, "header", right)
		d.judgeChecksum(head)
		return
	}
	d.mute = true
	d.add(HeaderMissing, 0, 8, "header", right)
}

func headerMatch(b []byte) int {
	n := 0
	for i, v := range header {
		if b[i] == v {
			n++
		}
	}
	return n
}

func all(b []byte, v byte) bool {
	for _, c := range b {
		if c != v {
			return false
		}
	}
	return true
}

// baseElsewhere is the number of the first later block that has the header,
// 0 where none has.
func (d *decoder) baseElsewhere() int {
	for i := 1; (i+1)*BlockSize <= len(d.e.raw); i++ {
		if headerMatch(d.e.raw[i*BlockSize:]) == 8 {
			return i
		}
	}
	return 0
}

// judgeShift finds the header's six FF one or two bytes early or late.
func (d *decoder) judgeShift(b []byte) bool {
	for n := 1; n <= 2; n++ {
		// Lost bytes at the start: what remains of the header comes first.
		if equal(b[:8-n], header[n:]) && b[8-n] != 0xFF {
			d.add(ByteLost, 0, 8, "header", n)
			return true
		}
		if equal(b[n:n+8], header[:]) {
			d.add(ByteDoubled, 0, 8+n, "header", n)
			return true
		}
	}
	return false
}

func equal(a, b []byte) bool { return string(a) == string(b) }

// erased counts the bytes at the start that are all 00 or all FF.
func erased(b []byte) int {
	if b[0] != 0 && b[0] != 0xFF {
		return 0
	}
	n := 1
	for n < len(b) && b[n] == b[0] {
		n++
	}
	return n
}

func (d *decoder) judgeChecksum(b []byte) {
	s := sum(b)
	if s == 0 {
		return
	}
	code := ExtensionChecksum
	switch {
	case d.block == 0:
		code = BaseChecksum
	case b[0] == byte(CTATag):
		code = CTAChecksum
	}
	d.add(code, 127, 1, "checksum", int(b[127]), int(b[127]-s))
}

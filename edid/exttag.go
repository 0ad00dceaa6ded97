package edid

// ExtensionTag is byte 0 of an extension block.
type ExtensionTag uint8

const (
	CTATag         ExtensionTag = 0x02
	VTBTag         ExtensionTag = 0x10
	DITag          ExtensionTag = 0x40
	LSTag          ExtensionTag = 0x50
	DisplayIDTag   ExtensionTag = 0x70
	BlockMapTag    ExtensionTag = 0xF0
	MakerTag       ExtensionTag = 0xFF
	unusedBlockTag ExtensionTag = 0x00
)

func (t ExtensionTag) String() string {
	switch t {
	case CTATag:
		return "CTA-861"
	case VTBTag:
		return "video timing block (VTB-EXT)"
	case DITag:
		return "display information (DI-EXT)"
	case LSTag:
		return "localized strings (LS-EXT)"
	case DisplayIDTag:
		return "DisplayID"
	case BlockMapTag:
		return "block map"
	case MakerTag:
		return "maker's own extension"
	case unusedBlockTag:
		return "empty block"
	}
	return "extension 0x" + hex2(byte(t))
}

// UnknownExtension is a block whose layout is not decoded: DI-EXT and LS-EXT,
// whose layout no open source gives, and unknown tags.
type UnknownExtension struct {
	body
	Kind ExtensionTag
}

// Tag is Kind.
func (u *UnknownExtension) Tag() ExtensionTag { return u.Kind }

func (d *decoder) decodeExtension(b []byte) Extension {
	d.judgeChecksum(b)
	switch tag := ExtensionTag(b[0]); tag {
	case CTATag:
		return d.decodeCTA(b)
	case VTBTag:
		return d.decodeVTB(b)
	case DisplayIDTag:
		return d.decodeDisplayID(b)
	case BlockMapTag:
		return d.decodeBlockMap(b)
	default:
		return &UnknownExtension{body{raw: b}, tag}
	}
}

package edid

// DisplayID is a DisplayID section carried in an EDID extension (DisplayID
// 1.3 and 2.1, section 2).
type DisplayID struct {
	body
	Version Version
	// Size is the number of bytes of data blocks that the section declares.
	Size uint8
	// Use is the product type (1.x) or primary use case (2.x).
	Use uint8
	// MoreSections is the extension count of the section.
	MoreSections uint8
	Blocks       []IDBlock
}

// Tag is DisplayIDTag.
func (*DisplayID) Tag() ExtensionTag { return DisplayIDTag }

// UseName names the product type or primary use case.
func (s *DisplayID) UseName() string {
	if s.Version.Major >= 2 {
		return nameOf([]string{"same as the base section", "test structure", "generic display", "television",
			"desktop, productivity", "desktop, gaming", "presentation", "head-mounted, virtual reality",
			"head-mounted, augmented reality"}, "use case", int(s.Use&15))
	}
	return nameOf([]string{"extension section", "test structure", "panel", "stand-alone monitor", "television",
		"repeater", "direct drive"}, "product type", int(s.Use))
}

// IDBlock is one DisplayID data block; its concrete type follows its tag,
// *IDUnknown for what is not decoded and *IDBad for what cannot be.
type IDBlock interface {
	Tag() IDTag
	Raw() []byte
	Offset() int
}

// IDTag is the tag of a DisplayID data block. The tags of version 2 start at
// 0x20 and do not overlap with those of version 1.
type IDTag uint8

const (
	IDProductV1       IDTag = 0x00
	IDParametersV1    IDTag = 0x01
	IDColourV1        IDTag = 0x02
	IDTypeI           IDTag = 0x03
	IDTypeII          IDTag = 0x04
	IDTypeIII         IDTag = 0x05
	IDTypeIV          IDTag = 0x06
	IDDMTBits         IDTag = 0x07
	IDVICBits         IDTag = 0x08
	IDRangeV1         IDTag = 0x09
	IDSerial          IDTag = 0x0A
	IDText            IDTag = 0x0B
	IDDeviceV1        IDTag = 0x0C
	IDPowerV1         IDTag = 0x0D
	IDTransferV1      IDTag = 0x0E
	IDInterfaceV1     IDTag = 0x0F
	IDStereoV1        IDTag = 0x10
	IDTypeV           IDTag = 0x11
	IDTiledV1         IDTag = 0x12
	IDTypeVI          IDTag = 0x13
	IDProductV2       IDTag = 0x20
	IDParametersV2    IDTag = 0x21
	IDTypeVII         IDTag = 0x22
	IDTypeVIII        IDTag = 0x23
	IDTypeIX          IDTag = 0x24
	IDRangeV2         IDTag = 0x25
	IDInterfaceV2     IDTag = 0x26
	IDStereoV2        IDTag = 0x27
	IDTiledV2         IDTag = 0x28
	IDContainer       IDTag = 0x29
	IDTypeX           IDTag = 0x2A
	IDAdaptiveSync    IDTag = 0x2B
	IDHeadMounted     IDTag = 0x2C
	IDHeadMountedPart IDTag = 0x2D
	IDLuminance       IDTag = 0x2E
	IDVendorV2        IDTag = 0x7E
	IDVendorV1        IDTag = 0x7F
	IDCTA             IDTag = 0x81
)

var idNames = map[IDTag]string{
	IDProductV1: "product", IDParametersV1: "display parameters", IDColourV1: "colour characteristics",
	IDTypeI: "Type I timings", IDTypeII: "Type II timings", IDTypeIII: "Type III timings",
	IDTypeIV: "Type IV timing codes", IDDMTBits: "DMT timing bits", IDVICBits: "CTA timing bits",
	IDRangeV1: "range limits", IDSerial: "serial number", IDText: "text", IDDeviceV1: "display device",
	IDPowerV1: "power sequencing", IDTransferV1: "transfer characteristic", IDInterfaceV1: "display interface",
	IDStereoV1: "stereo", IDTypeV: "Type V timings", IDTiledV1: "tiled display", IDTypeVI: "Type VI timings",
	IDProductV2: "product", IDParametersV2: "display parameters", IDTypeVII: "Type VII timings",
	IDTypeVIII: "Type VIII timing codes", IDTypeIX: "Type IX timings", IDRangeV2: "dynamic range limits",
	IDInterfaceV2: "interface features", IDStereoV2: "stereo", IDTiledV2: "tiled display",
	IDContainer: "container id", IDTypeX: "Type X timings", IDAdaptiveSync: "adaptive sync",
	IDHeadMounted: "head-mounted display", IDHeadMountedPart: "head-mounted display layer",
	IDLuminance: "luminance range", IDVendorV2: "vendor specific", IDVendorV1: "vendor specific", IDCTA: "CTA data blocks",
}

func (t IDTag) String() string {
	if s := idNames[t]; s != "" {
		return s
	}
	return "DisplayID block 0x" + hex2(byte(t))
}

// IDUnknown is a DisplayID block whose payload is not decoded.
type IDUnknown struct {
	body
	Kind     IDTag
	Revision uint8 // byte 1, revision and flags
	Payload  []byte
}

// Tag is Kind.
func (u *IDUnknown) Tag() IDTag { return u.Kind }

// IDBad is a DisplayID block that could not be decoded.
type IDBad struct {
	body
	Kind     IDTag
	Declared int // payload bytes that the header declares
	Reason   BadReason
}

// Tag is Kind.
func (b *IDBad) Tag() IDTag { return b.Kind }

func (d *decoder) decodeDisplayID(b []byte) *DisplayID {
	s := &DisplayID{
		body:    body{raw: b},
		Version: Version{b[1] >> 4, b[1] & 15},
		Size:    b[2], Use: b[3], MoreSections: b[4],
	}
	end := 5 + int(s.Size)
	switch {
	case end > 126:
		// The section checksum would not fit inside the block any more.
		d.add(IDSectionSize, 2, 1, "section size", int(s.Size))
		end = 126
	case sum(b[1:end+1]) != 0:
		d.add(IDSectionChecksum, end, 1, "section checksum", int(b[end]), int(b[end]-sum(b[1:end+1])))
	}
	if s.Version.Major != 1 && s.Version.Major != 2 {
		d.add(IDVersion, 1, 1, "version", int(s.Version.Major), int(s.Version.Minor))
		return s
	}
	if s.MoreSections != 0 {
		d.add(IDMoreSections, 4, 1, "extension count", int(s.MoreSections))
	}
	for at := 5; at < end; {
		if zero(b[at:end]) {
			break // filler
		}
		if at+3 > end {
			d.add(IDBlockOverrun, at, end-at, "data block", int(b[at]), 0, end-at)
			break
		}
		tag, n := IDTag(b[at]), int(b[at+2])
		stop := at + 3 + n
		if stop > end {
			d.add(IDBlockOverrun, at, end-at, tag.String(), int(tag), n, end-at-3)
			s.Blocks = append(s.Blocks, &IDBad{body{b[at:end:end], at}, tag, n, BlockOverruns})
			break
		}
		s.Blocks = append(s.Blocks, d.decodeIDBlock(body{b[at:stop:stop], at}, tag))
		at = stop
	}
	return s
}

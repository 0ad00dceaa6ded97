package edid

import "fmt"

// OUI is an IEEE organizationally unique identifier, 24 bits.
type OUI uint32

const (
	HDMIOUI      OUI = 0x000C03 // HDMI Licensing
	HDMIForumOUI OUI = 0xC45DD8
)

// String is the OUI as "00-0C-03".
func (o OUI) String() string { return fmt.Sprintf("%02X-%02X-%02X", byte(o>>16), byte(o>>8), byte(o)) }

// VendorBlock is a vendor-specific block (Kind VendorTag, VendorVideoTag or
// VendorAudioTag) of another vendor than HDMI's two. Its data are not decoded.
type VendorBlock struct {
	body
	Kind BlockTag
	OUI  OUI
	Data []byte
}

// Tag is Kind.
func (v *VendorBlock) Tag() BlockTag { return v.Kind }

func (d *decoder) decodeVendor(o body, p []byte) DataBlock {
	switch oui := OUI(le24(p)); oui {
	case HDMIOUI:
		return d.decodeHDMI(o, p[3:])
	case HDMIForumOUI:
		if len(p) < 7 {
			d.add(BlockShort, o.at, len(o.raw), "HDMI Forum", len(p), 7)
			return &BadBlock{o, VendorTag, len(p), BlockTooShort}
		}
		return d.decodeHDMIForum(o, VendorTag, p[3:])
	default:
		return &VendorBlock{o, VendorTag, oui, p[3:]}
	}
}

package edid

// BlockTag is the kind of a CTA-861 data block: tag code 0 to 6, or
// ExtendedTag plus the extended tag code (CTA-861 tables 54 and 56).
type BlockTag uint16

// ExtendedTag is the part of a BlockTag that marks an extended tag.
const ExtendedTag BlockTag = 0x700

const (
	AudioTag            BlockTag = 1
	VideoTag            BlockTag = 2
	VendorTag           BlockTag = 3
	SpeakerTag          BlockTag = 4
	TransferTag         BlockTag = 5 // VESA display transfer characteristic
	VideoFormatTag      BlockTag = 6
	VideoCapabilityTag  BlockTag = ExtendedTag | 0
	VendorVideoTag      BlockTag = ExtendedTag | 1
	DisplayDeviceTag    BlockTag = ExtendedTag | 2 // VESA display device
	ColorimetryTag      BlockTag = ExtendedTag | 5
	HDRStaticTag        BlockTag = ExtendedTag | 6
	HDRDynamicTag       BlockTag = ExtendedTag | 7
	NativeResolutionTag BlockTag = ExtendedTag | 8
	PreferenceTag       BlockTag = ExtendedTag | 13
	YCbCr420VideoTag    BlockTag = ExtendedTag | 14
	YCbCr420MapTag      BlockTag = ExtendedTag | 15
	VendorAudioTag      BlockTag = ExtendedTag | 17
	RoomTag             BlockTag = ExtendedTag | 19
	SpeakerLocationTag  BlockTag = ExtendedTag | 20
	InfoFrameTag        BlockTag = ExtendedTag | 32
	TypeVIITag          BlockTag = ExtendedTag | 34
	TypeVIIITag         BlockTag = ExtendedTag | 35
	TypeXTag            BlockTag = ExtendedTag | 42
	HDMIOverrideTag     BlockTag = ExtendedTag | 120
	HDMISinkTag         BlockTag = ExtendedTag | 121
	HDMIToneMappingTag  BlockTag = ExtendedTag | 122
)

var blockNames = map[BlockTag]string{
	AudioTag: "audio", VideoTag: "video", VendorTag: "vendor specific", SpeakerTag: "speaker allocation",
	TransferTag: "VESA display transfer characteristic", VideoFormatTag: "video format",
	VideoCapabilityTag: "video capability", VendorVideoTag: "vendor-specific video",
	DisplayDeviceTag: "VESA display device", ColorimetryTag: "colorimetry",
	HDRStaticTag: "HDR static metadata", HDRDynamicTag: "HDR dynamic metadata",
	NativeResolutionTag: "native video resolution", PreferenceTag: "video format preference",
	YCbCr420VideoTag: "YCbCr 4:2:0 video", YCbCr420MapTag: "YCbCr 4:2:0 capability map",
	VendorAudioTag: "vendor-specific audio", RoomTag: "room configuration",
	SpeakerLocationTag: "speaker location", InfoFrameTag: "InfoFrame",
	TypeVIITag: "DisplayID Type VII timing", TypeVIIITag: "DisplayID Type VIII timings",
	TypeXTag: "DisplayID Type X timings", HDMIOverrideTag: "HDMI Forum EDID extension override",
	HDMISinkTag: "HDMI Forum sink capability", HDMIToneMappingTag: "HDMI Forum source-based tone mapping",
}

func (t BlockTag) String() string {
	if s := blockNames[t]; s != "" {
		return s
	}
	if t >= ExtendedTag {
		return "extended block " + itoa(int(t-ExtendedTag))
	}
	return "block " + itoa(int(t))
}

// DataBlock is one CTA-861 data block; its concrete type follows its tag:
// *Video, *Audio, *Speakers, *HDMI, *HDMIForum and so on, *UnknownBlock for
// what is not decoded, *BadBlock for what cannot be.
type DataBlock interface {
	Tag() BlockTag
	// Raw is the whole block with its header, nil for one made new. It must
	// not be changed.
	Raw() []byte
	// Offset is where the block starts within its extension.
	Offset() int
}

// UnknownBlock is a block whose contents are not decoded.
type UnknownBlock struct {
	body
	Kind    BlockTag
	Payload []byte // after the header
}

// Tag is Kind.
func (u *UnknownBlock) Tag() BlockTag { return u.Kind }

// BadReason is why a block could not be decoded.
type BadReason uint8

const (
	BlockOverruns BadReason = iota + 1 // its length runs past the data blocks' end
	BlockTooShort                      // it has fewer bytes than its kind needs
)

func (r BadReason) String() string {
	return nameOf([]string{"", "runs past the end of the data blocks", "is too short for its kind"}, "reason", int(r))
}

// BadBlock is a block that could not be decoded; its bytes are kept as far as
// they lie before the end of the data blocks.
type BadBlock struct {
	body
	Kind     BlockTag
	Declared int // payload bytes that the header declares
	Reason   BadReason
}

// Tag is Kind.
func (b *BadBlock) Tag() BlockTag { return b.Kind }

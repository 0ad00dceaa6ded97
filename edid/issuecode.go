package edid

// The kinds of issues, grouped by what they concern.
const (
	// The bytes as a whole.
	AllFF IssueCode = iota
	AllZero
	HeaderDamaged
	HeaderMissing
	HeadErased
	RolledRead
	ByteLost
	ByteDoubled
	TrailingBytes
	ExtensionsMissing
	ExtensionsExtra
	BlockEmpty
	BlockRepeatsBase

	// The base block.
	BaseChecksum
	VersionUnknown
	MakerInvalid
	WeekInvalid
	YearEarly
	DepthReserved
	InterfaceReserved
	SizeImpossible
	ChromaZero
	ChromaImpossible
	StandardReserved
	NoTimings
	FirstNotTiming
	PreferredNotSet
	NoRange
	NoName
	DescriptorReserved
	DescriptorFlag
	DescriptorOrder
	TextPadding
	TextControl
	RangeInverted
	RangeZero
	RangeSupport
	RangeOffset
	PreferredOutsideLimits

	// Detailed timings.
	TimingEmpty
	TimingNoBlanking
	TimingSyncOutside
	TimingNoSync
	TimingOddPixels
	TimingRate
	TimingBorder
	TimingComposite

	// The CTA-861 extension.
	CTAChecksum
	ExtensionChecksum
	CTARevision
	CTATimingOffset
	CTAReservedBytes
	CTAPadding
	BlockOverrun
	BlockShort
	BlockReserved
	BlockDuplicate
	NestedOverrun
	VICReserved
	VICRepeated
	AudioLength
	AudioReserved
	AudioNotBasic
	AudioNoSpeakers
	NativeCount
	NoVGA
	NoHDMI
	PictureOnly
	AddressInvalid
	HDMITruncated
	DeepNoRate
	Deep16No12
	RateTooLow
	ForumNoHDMI
	ForumVersion
	ForumRate
	ForumNoSCDC
	FRLReserved
	VRRInverted
	OverrideMisplaced
	MapBeyond
	MapNoVideo
	HDRNoColour
	PreferenceBad

	// Other extensions.
	BlockMapWrong
	BlockMapNeeded
	VTBOverrun
	IDVersion
	IDSectionSize
	IDSectionChecksum
	IDMoreSections
	IDBlockOverrun
	IDBlockShort
	IDBlockLength
)

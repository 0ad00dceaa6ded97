package chain

import "deadhop/edid/timing"

// Facing is the direction of a look.
type Facing string

const (
	Up   Facing = "up"   // towards the source: the bench is the display
	Down Facing = "down" // towards the panel: the bench is the source
)

// End names one of the two plugs of a link.
type End string

const (
	SourceEnd  End = "source"  // the plug nearer the source
	DisplayEnd End = "display" // the plug nearer the panel
)

// Plug is a place where the chain can be opened and the bench put in: one end
// of a link. Looking up at the display end sees through the cable; looking up
// at the source end sees the bare socket of the stage before it.
type Plug struct {
	Link string
	End  End
}

// String is the form that people type: "c2.display".
func (p Plug) String() string { return p.Link + "." + string(p.End) }

// Signal is how far a receiver got with the incoming video.
type Signal string

const (
	SignalNone       Signal = "none"         // nothing on the lines
	SignalNoLock     Signal = "no-lock"      // activity, no stable lock
	SignalOutOfRange Signal = "out-of-range" // locked, beyond the receiver
	SignalLocked     Signal = "locked"
)

// Picture is what the incoming pixels show, or what a person saw on a
// known-good display.
type Picture string

const (
	PictureBlack     Picture = "black"
	PictureOneColour Picture = "one-colour"
	PictureFrozen    Picture = "frozen"
	PictureNoise     Picture = "noise"
	PictureLaneGone  Picture = "lane-missing" // red, green or blue absent
	PictureGood      Picture = "good"
)

// EDIDReading is the EDID as read, with what identifies it. Bytes is kept
// even when it is damaged or short.
type EDIDReading struct {
	Bytes  []byte `json:"bytes,omitempty"` // base64 in JSON
	SHA256 string `json:"sha256,omitempty"`
	// Errors counts the issues that break a picture or sound.
	ChecksumsGood bool   `json:"checksums_good"`
	Identity      string `json:"identity,omitempty"` // maker, product, serial in words
}

// UpReadings is what the bench saw as the display. The fields stand in the
// order of the causal ladder: what is false above decides what is below.
type UpReadings struct {
	Power5V Reading[bool]          `json:"power_5v"`
	Signal  Reading[Signal]        `json:"signal"`
	Timing  Reading[timing.Timing] `json:"timing"`
	Picture Reading[Picture]       `json:"picture"`
	Sound   Reading[bool]          `json:"sound"`
}

// DownReadings is what the bench saw as the source.
type DownReadings struct {
	HotPlug Reading[bool]        `json:"hot_plug"`
	Ack     Reading[bool]        `json:"ddc_acknowledge"`
	EDID    Reading[EDIDReading] `json:"edid"`
	Stable  Reading[bool]        `json:"edid_reads_agree"`
	RxSense Reading[bool]        `json:"termination"`
	// Connector is the kernel's own word ("connected"), KernelEDID its copy.
	// Both are shown beside the raw readings, never instead of them.
	Connector  Reading[string]      `json:"kernel_connector"`
	KernelEDID Reading[EDIDReading] `json:"kernel_edid"`
}

// Presented is what the bench showed to the equipment while it looked. The
// other side's behaviour depends on it.
type Presented struct {
	EDIDSHA256 Reading[string] `json:"edid_sha256"` // looking up: the EDID shown to the source
	HotPlug    Reading[bool]   `json:"hot_plug"`    // looking up: hot-plug raised
	Power5V    Reading[bool]   `json:"power_5v"`    // looking down: +5 V fed into the cable
}

// LookVersion is the version of the JSON form of a Look.
const LookVersion = 1

// Look is one set of readings at one plug in one direction.
type Look struct {
	Version int    `json:"version"`
	Plug    string `json:"plug"`
	Facing  Facing `json:"facing"`
	Port    string `json:"port,omitempty"`
	TakenAt string `json:"taken_at,omitempty"` // RFC 3339, UTC
	// Epoch counts the reseats, swaps and resets before this look: earlier
	// looks speak of the state before them.
	Epoch     int           `json:"epoch"`
	Presented Presented     `json:"presented"`
	Up        *UpReadings   `json:"up,omitempty"`
	Down      *DownReadings `json:"down,omitempty"`
	Tool      string        `json:"tool,omitempty"` // program version
}

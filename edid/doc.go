// Package edid decodes, judges, edits and builds the identity data that a
// display hands to its source: VESA E-EDID 1.0 to 1.4 base blocks, CTA-861
// extensions, DisplayID 1.x and 2.x sections, VTB-EXT and block maps.
//
// Decode never fails on damage. It keeps every byte, and what is wrong
// becomes an Issue; the rest of the EDID survives. How strict to be is the
// caller's reading of EDID.Issues.
//
// The package keeps apart what an EDID states and what follows from it by a
// formula. Offsets count from the start of a 128-byte block, blocks from 0.
//
// # Sources
//
// The standards are named in the comments as: E-EDID (VESA Enhanced EDID
// Standard, Release A Revision 2, 2006), CTA-861 (revision I where none is
// given), HDMI (1.4b and 2.1), DisplayID (1.3 and 2.1). Layouts follow the
// public C headers and parsers of the Linux kernel (drm_edid.h, drm_edid.c,
// drm_displayid.c) and of NVIDIA's open kernel modules, and were checked on
// real bytes. Section numbers of the standards are quoted from memory. Fields
// known from memory alone stay raw and are never judged.
//
// # Adding a CTA data block
//
// Add its tag to blocktag.go, a file cta_<name>.go with a struct that embeds
// body, a decode function and an append method, one line in decodeDataBlock,
// and a test whose expected values come from outside.
package edid

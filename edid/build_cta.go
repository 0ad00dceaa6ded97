package edid

import (
	"errors"
	"fmt"
	"slices"

	"deadhop/edid/timing"
)

// extension makes the CTA-861 extension with what found no place in the base
// block.
func (d *Description) extension(rest []DetailedTiming) (*CTA, error) {
	c := &CTA{Revision: 3, Timings: rest}
	c.BasicAudio = len(d.Sound) > 0
	if d.NativeVIC == 0 {
		c.NativeTimings = 1
	}
	if len(d.Sound) > 0 && d.HDMI == nil {
		return nil, at("sound", errors.New("sound needs the hdmi part: without it sources treat the display as DVI (HDMI 1.4b 8.3.2)"))
	}
	vics := d.VICs
	if d.HDMI != nil && !slices.Contains(vics, 1) {
		vics = append(slices.Clone(vics), 1) // 640x480 at 60 Hz is mandatory
	}
	v := &Video{}
	for i, n := range vics {
		if _, ok := timing.VIC(n); !ok {
			return nil, at(fmt.Sprintf("vics[%d]", i), fmt.Errorf("no VIC %d (CTA-861 table 3)", n))
		}
		s := SVD(n)
		if n == d.NativeVIC {
			if n > 64 {
				return nil, at("native_vic", fmt.Errorf("VIC %d cannot be marked native; 1 to 64 can (CTA-861 7.5.1)", n))
			}
			s |= 0x80
		}
		v.SVDs = append(v.SVDs, s)
	}
	if d.NativeVIC != 0 && !slices.Contains(vics, d.NativeVIC) {
		return nil, at("native_vic", fmt.Errorf("VIC %d is not among the vics", d.NativeVIC))
	}
	if len(v.SVDs) > 31 {
		return nil, at("vics", fmt.Errorf("%d video codes; a data block has at most 31 (CTA-861 7.4)", len(v.SVDs)))
	}
	if len(v.SVDs) > 0 {
		c.Blocks = append(c.Blocks, v)
	}
	if err := d.sound(c); err != nil {
		return nil, err
	}
	if d.HDMI != nil {
		if err := d.hdmi(c); err != nil {
			return nil, err
		}
	}
	return c, nil
}

func (d *Description) sound(c *CTA) error {
	a := &Audio{}
	front := SpeakerFront
	for i, s := range d.Sound {
		path := fmt.Sprintf("sound[%d]", i)
		if s.Channels < 1 || s.Channels > 8 {
			return at(path+".channels", fmt.Errorf("%d channels; 1 to 8 can be coded (CTA-861 7.5.2)", s.Channels))
		}
		sad := SAD{byte(LPCM)<<3 | byte(s.Channels-1)}
		for _, hz := range s.RatesHz {
			n := slices.Index([]int{32000, 44100, 48000, 88200, 96000, 176400, 192000}, hz)
			if n < 0 {
				return at(path+".rates_hz", fmt.Errorf("%d Hz is no sampling rate of CTA-861 7.5.2", hz))
			}
			sad[1] |= 1 << n
		}
		for _, bits := range s.Bits {
			n := slices.Index([]int{16, 20, 24}, bits)
			if n < 0 {
				return at(path+".bits", fmt.Errorf("%d bits; 16, 20 and 24 can be coded (CTA-861 7.5.2)", bits))
			}
			sad[2] |= 1 << n
		}
		if sad[1] == 0 || sad[2] == 0 {
			return at(path, errors.New("a sound format needs rates_hz and bits"))
		}
		switch {
		case s.Channels > 6:
			front |= SpeakerLFE | SpeakerFrontCentre | SpeakerBack | SpeakerBackInner
		case s.Channels > 2:
			front |= SpeakerLFE | SpeakerFrontCentre | SpeakerBack
		}
		a.SADs = append(a.SADs, sad)
	}
	if len(a.SADs) > 10 {
		return at("sound", fmt.Errorf("%d sound formats; a data block has at most 10 (CTA-861 7.4)", len(a.SADs)))
	}
	if len(a.SADs) > 0 {
		c.Blocks = append(c.Blocks, a, &Speakers{Mask: front})
	}
	return nil
}

func (d *Description) hdmi(c *CTA) error {
	h := d.HDMI
	block := &HDMI{}
	for _, n := range h.Address {
		if n > 15 {
			return at("hdmi.address", fmt.Errorf("%d; a part of the CEC address is 0 to 15 (HDMI 1.4b 8.7)", n))
		}
		block.PhysicalAddress = block.PhysicalAddress<<4 | PhysicalAddress(n)
	}
	for _, bits := range h.Deep {
		n := slices.Index([]int{10, 12, 16}, bits)
		if n < 0 {
			return at("hdmi.deep_colour", fmt.Errorf("%d bits; 10, 12 and 16 can be coded (HDMI 1.4b 8.3.2)", bits))
		}
		block.DeepColour |= 1 << n
	}
	block.MaxTMDSMHz = min(h.MaxMHz, 340)
	if _, err := block.payload(); err != nil {
		return at("hdmi", err)
	}
	c.Blocks = append(c.Blocks, block)
	if h.MaxMHz > 340 {
		f := &HDMIForum{Kind: VendorTag, Version: 1, MaxTMDSMHz: h.MaxMHz, SCDC: true}
		if _, err := f.payload(); err != nil {
			return at("hdmi.max_mhz", err)
		}
		c.Blocks = append(c.Blocks, f)
	}
	return nil
}

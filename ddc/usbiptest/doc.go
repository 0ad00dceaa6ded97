// Package usbiptest plays a USB I2C adapter with a display's DDC slaves
// behind it, for tests against the real kernel. The test is the far end of a
// USB/IP connection to the kernel's virtual host controller (vhci-hcd); the
// kernel's own i2c-tiny-usb driver finds the adapter and gives it a
// /dev/i2c node. What a display answers, and how it fails, is plain Go.
//
// The display model (Wire, Display and the slaves) knows nothing of USB and
// serves any other fake of a bus as well.
//
// Needs root, and vhci-hcd and i2c-tiny-usb loaded.
package usbiptest

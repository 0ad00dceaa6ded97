package uapi

import (
	"testing"
	"unsafe"
)

// linux/cec.h, Linux 6.1; all three architectures alike.
func TestCECLayout(t *testing.T) {
	checkLayout(t, []layout{
		{"cec_event", unsafe.Sizeof(cecEvent{}), 80},
		{"cec_event.event", unsafe.Offsetof(cecEvent{}.event), 8},
		{"cec_event.raw", unsafe.Offsetof(cecEvent{}.raw), 16},
		{"cec_connector_info", unsafe.Sizeof(cecConnectorInfo{}), 68},
		{"CEC_DQEVENT", cecDqevent, 0xc0506107},
		{"CEC_ADAP_G_CONNECTOR_INFO", cecAdapGConnectorInfo, 0x8044610a},
	})
}

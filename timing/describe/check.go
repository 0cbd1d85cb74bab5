package describe

import "math/bits"

// Check computes a check value over bytes. Kinds are those of the usual
// catalogues; all CRCs are given by the parameters that the "Catalogue of
// parametrised CRC algorithms" (CRC RevEng, G. Cook) lists.
type Check struct {
	Name  string
	Width int // in bits: 8, 16 or 32
	poly  uint32
	init  uint32
	refl  bool // input and output reflected
	xor   uint32
	plain func(b []byte) uint32 // instead of a CRC
	table *[256]uint32
}

// Checks lists the kinds by name, in the order of their names.
func Checks() []Check { return append([]Check(nil), checks...) }

var checks = []Check{
	{Name: "crc16-arc", Width: 16, poly: 0x8005, refl: true},
	{Name: "crc16-ibm-3740", Width: 16, poly: 0x1021, init: 0xFFFF},
	{Name: "crc16-ibm-sdlc", Width: 16, poly: 0x1021, init: 0xFFFF, refl: true, xor: 0xFFFF},
	{Name: "crc16-kermit", Width: 16, poly: 0x1021, refl: true},
	{Name: "crc16-modbus", Width: 16, poly: 0x8005, init: 0xFFFF, refl: true},
	{Name: "crc16-xmodem", Width: 16, poly: 0x1021},
	{Name: "crc32-iscsi", Width: 32, poly: 0x1EDC6F41, init: 0xFFFFFFFF, refl: true, xor: 0xFFFFFFFF},
	{Name: "crc32-iso-hdlc", Width: 32, poly: 0x04C11DB7, init: 0xFFFFFFFF, refl: true, xor: 0xFFFFFFFF},
	{Name: "crc8-maxim-dow", Width: 8, poly: 0x31, refl: true},
	{Name: "crc8-smbus", Width: 8, poly: 0x07},
	{Name: "sum16", Width: 16, plain: sum},
	{Name: "sum8", Width: 8, plain: sum},
	{Name: "sum8-complement", Width: 8, plain: func(b []byte) uint32 { return ^sum(b) }},
	{Name: "sum8-negated", Width: 8, plain: func(b []byte) uint32 { return -sum(b) }},
	{Name: "xor8", Width: 8, plain: xor},
	{Name: "xor8-complement", Width: 8, plain: func(b []byte) uint32 { return ^xor(b) }},
}

func init() {
	for i := range checks {
		if checks[i].plain == nil {
			checks[i].table = checks[i].tabulate()
		}
	}
}

func find(name string) *Check {
	for i := range checks {
		if checks[i].Name == name {
			return &checks[i]
		}
	}
	return nil
}

// Of returns the check value of b.
func (c *Check) Of(b []byte) uint32 {
	if c.plain != nil {
		return c.plain(b) & c.mask()
	}
	r := c.init
	if c.refl {
		r = bits.Reverse32(r) >> (32 - c.Width)
		for _, v := range b {
			r = r>>8 ^ c.table[byte(r)^v]
		}
	} else {
		for _, v := range b {
			r = r<<8 ^ c.table[byte(r>>(c.Width-8))^v]
		}
	}
	return (r ^ c.xor) & c.mask()
}

func (c *Check) mask() uint32 { return 1<<c.Width - 1 }

func (c *Check) tabulate() *[256]uint32 {
	var t [256]uint32
	for i := range t {
		if c.refl {
			poly := bits.Reverse32(c.poly) >> (32 - c.Width)
			r := uint32(i)
			for range 8 {
				r = r>>1 ^ poly*(r&1)
			}
			t[i] = r
			continue
		}
		r := uint32(i) << (c.Width - 8)
		for range 8 {
			r = r<<1 ^ c.poly*(r>>(c.Width-1)&1)
		}
		t[i] = r & c.mask()
	}
	return &t
}

func sum(b []byte) (s uint32) {
	for _, v := range b {
		s += uint32(v)
	}
	return s
}

func xor(b []byte) (x uint32) {
	for _, v := range b {
		x ^= uint32(v)
	}
	return x
}

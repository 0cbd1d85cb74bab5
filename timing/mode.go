package timing

import (
	"errors"
	"fmt"
	"strings"
)

// Mode says how bytes are sent. The zero value means 115200 baud, 8 data bits,
// no parity, one stop bit.
type Mode struct {
	Baud     int    `toml:"baud"`
	DataBits int    `toml:"data_bits"` // 5 to 8
	Parity   string `toml:"parity"`    // "none", "odd" or "even"
	StopBits int    `toml:"stop_bits"` // 1 or 2
}

// String returns the mode as people write it: "115200 8N1".
func (m Mode) String() string {
	m = m.Filled()
	return fmt.Sprintf("%d %d%s%d", m.Baud, m.DataBits, strings.ToUpper(m.Parity[:1]), m.StopBits)
}

// Filled returns the mode with what was left out filled in.
func (m Mode) Filled() Mode {
	if m.Baud == 0 {
		m.Baud = 115200
	}
	if m.DataBits == 0 {
		m.DataBits = 8
	}
	if m.Parity == "" {
		m.Parity = "none"
	}
	if m.StopBits == 0 {
		m.StopBits = 1
	}
	return m
}

// ErrMode reports a [Mode] that no port can have.
var ErrMode = errors.New("impossible serial settings")

// Check tells whether the mode makes sense.
func (m Mode) Check() error {
	m = m.Filled()
	switch {
	case m.Baud < 50 || m.Baud > 4_000_000:
		return fmt.Errorf("%w: baud %d, expected 50 to 4000000", ErrMode, m.Baud)
	case m.DataBits < 5 || m.DataBits > 8:
		return fmt.Errorf("%w: data bits %d, expected 5 to 8", ErrMode, m.DataBits)
	case m.Parity != "none" && m.Parity != "odd" && m.Parity != "even":
		return fmt.Errorf("%w: parity %q, expected none, odd or even", ErrMode, m.Parity)
	case m.StopBits != 1 && m.StopBits != 2:
		return fmt.Errorf("%w: stop bits %d, expected 1 or 2", ErrMode, m.StopBits)
	}
	return nil
}

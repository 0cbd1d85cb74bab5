// Package describe reads counters that do not speak our own sentences, by a
// description of their lines that a club writes as a TOML file. It is pure:
// bytes and text come in as arguments.
//
// A description has a name, a kind and a table of that kind:
//
//	name = "shed gates"
//	kind = "text"              # text, fields, frame or bits
//	lanes = 4                  # how many lanes there are
//	count_from = 1             # 0 if the counter's first lane (sensor, car) is 0
//
//	[port]                     # how the line is set, optional
//	baud = 9600
//
//	[clock]                    # leave it out for a counter without ticks
//	ticks_per_second = 1000    # with "per" a ratio: ticks_per_second = 32768, per = 3
//	bits = 16                  # the ticks wrap at 2^bits
//
//	[text]                     # lines, by a regular expression (Go's syntax)
//	pattern = '^L(?P<lane>\d) T(?P<ticks>\d+)$'
//	base = 10                  # of ticks: 10 or 16; serial_base is that of serial
//
//	[fields]                   # lines, by fields; much faster than text
//	separator = ","
//	begins = "P"               # what field 1 must be, optional
//	lane = 2                   # numbers of fields, from 1
//	ticks = 3
//	count = 3                  # how many fields a line must have, optional
//	check = "xor8"             # check of the line up to a '*', in hexadecimal behind it, optional
//
//	[frame]                    # frames of fixed length
//	length = 8
//	starts = [0xAA]
//	ends = [0x55]              # optional
//	lane = { offset = 1, width = 1 }
//	ticks = { offset = 2, width = 4, endian = "little" }
//	check = { kind = "sum8", offset = 6, from = 1, to = 6 }
//
//	[bits]                     # samples, one bit a lane; a pass is a bit going on
//	lanes = [0, 1, 2, 3]       # bit of lane 1, 2, ...; bit 0 is the lowest
//	bytes = 1                  # bytes a sample, the first one is the lowest
//	inverted = true            # a bit is on when it is 0
//
// In text, the groups lane, car, sensor, ticks, serial and seconds are known; seconds
// may have decimals ("12.345"), and a group minutes may stand beside it. Lines that
// match nothing are damage; "ignore" may name a pattern of lines to pass over.
package describe

import (
	"errors"
	"fmt"
	"regexp"
	"strings"

	"github.com/pelletier/go-toml/v2"

	"lanewright/timing"
	"lanewright/timing/clock"
)

// ErrDescription is wrapped by every error about the text of a description.
var ErrDescription = errors.New("line description")

// Description says how a counter's lines are read.
type Description struct {
	Name      string      `toml:"name"`
	Kind      string      `toml:"kind"`
	Lanes     int         `toml:"lanes"`
	CountFrom *int        `toml:"count_from"`
	Port      timing.Mode `toml:"port"`
	Clock     *Clock      `toml:"clock"`

	Text   *Text   `toml:"text"`
	Fields *Fields `toml:"fields"`
	Frame  *Frame  `toml:"frame"`
	Bits   *Bits   `toml:"bits"`
}

// Clock is the counter's tick.
type Clock struct {
	Rate uint64 `toml:"ticks_per_second"`
	Per  uint64 `toml:"per"` // the rate is Rate/Per; 0 means 1
	Bits int    `toml:"bits"`
}

// Text describes lines by a regular expression.
type Text struct {
	Pattern    string `toml:"pattern"`
	Ignore     string `toml:"ignore"`
	Base       int    `toml:"base"`
	SerialBase int    `toml:"serial_base"`

	pattern, ignore *regexp.Regexp
}

// Fields describes lines by separated fields, numbered from 1; 0 is no field.
type Fields struct {
	Separator  string `toml:"separator"`
	Begins     string `toml:"begins"`
	Lane       int    `toml:"lane"`
	Car        int    `toml:"car"`
	Sensor     int    `toml:"sensor"`
	Ticks      int    `toml:"ticks"`
	Serial     int    `toml:"serial"`
	Count      int    `toml:"count"`
	Base       int    `toml:"base"`
	SerialBase int    `toml:"serial_base"`
	Check      string `toml:"check"`
}

// Frame describes frames of a fixed length.
type Frame struct {
	Length int        `toml:"length"`
	Starts []int      `toml:"starts"`
	Ends   []int      `toml:"ends"`
	Lane   *Number    `toml:"lane"`
	Car    *Number    `toml:"car"`
	Sensor *Number    `toml:"sensor"`
	Ticks  *Number    `toml:"ticks"`
	Serial *Number    `toml:"serial"`
	Check  *FrameSeal `toml:"check"`
}

// Number is a number inside a frame.
type Number struct {
	Offset   int    `toml:"offset"`
	Width    int    `toml:"width"`  // bytes, 1 to 8
	Endian   string `toml:"endian"` // "little" or "big"; needed if wider than a byte
	Mask     uint64 `toml:"mask"`   // bits that count; 0 means all
	Shift    int    `toml:"shift"`  // right, after the mask
	Inverted bool   `toml:"inverted"`
}

// FrameSeal is the check value of a frame.
type FrameSeal struct {
	Kind   string `toml:"kind"`
	Offset int    `toml:"offset"`
	Endian string `toml:"endian"`
	From   int    `toml:"from"` // first byte covered
	To     int    `toml:"to"`   // first byte not covered; 0 means Offset
}

// Bits describes samples with one bit a lane.
type Bits struct {
	Lanes    []int `toml:"lanes"`
	Bytes    int   `toml:"bytes"`
	Inverted bool  `toml:"inverted"`
	Falling  bool  `toml:"falling"` // a pass is a bit going off
}

// Parse reads a description; file is for messages.
func Parse(file string, text []byte) (*Description, error) {
	d := new(Description)
	dec := toml.NewDecoder(strings.NewReader(string(text)))
	dec.DisallowUnknownFields()
	if err := dec.Decode(d); err != nil {
		var strict *toml.StrictMissingError
		if errors.As(err, &strict) && len(strict.Errors) > 0 {
			row, _ := strict.Errors[0].Position()
			return nil, fmt.Errorf("%w %s:%d: unknown key %s; the keys are listed in the documentation of line descriptions",
				ErrDescription, file, row, strings.Join(strict.Errors[0].Key(), "."))
		}
		var de *toml.DecodeError
		if errors.As(err, &de) {
			row, col := de.Position()
			return nil, fmt.Errorf("%w %s:%d:%d: %s", ErrDescription, file, row, col, de.Error())
		}
		return nil, fmt.Errorf("%w %s: %w", ErrDescription, file, err)
	}
	if err := d.prepare(); err != nil {
		return nil, fmt.Errorf("%w %s: %w", ErrDescription, file, err)
	}
	return d, nil
}

// Timed tells whether the counter sends ticks.
func (d *Description) Timed() bool { return d.Clock != nil }

// Rate returns the ticks per second; only for a Timed description.
func (d *Description) Rate() clock.Rate {
	return clock.Rate{Num: d.Clock.Rate, Den: max(d.Clock.Per, 1)}
}

// Decoder returns a decoder at the beginning of a stream.
func (d *Description) Decoder() *Decoder {
	switch d.Kind {
	case "text":
		return &Decoder{e: &textEngine{d: d}}
	case "fields":
		return &Decoder{e: &fieldsEngine{d: d, f: *d.Fields, from: d.from(), lanes: d.laneMax(), sep: d.Fields.Separator[0], check: find(d.Fields.Check)}}
	case "frame":
		return &Decoder{e: newFrameEngine(d)}
	}
	return &Decoder{e: &bitsEngine{d: d, last: -1}}
}

func (d *Description) from() int {
	if d.CountFrom == nil {
		return 1
	}
	return *d.CountFrom
}

// laneMax is the highest lane that is believed.
func (d *Description) laneMax() int {
	if d.Lanes > 0 {
		return d.Lanes
	}
	return 32
}

// valid puts lane, car and sensor on counting from 1 and tells whether the event
// can be a pass.
func (d *Description) valid(ev *Event, lane, car, sensor uint64, hasLane, hasCar, hasSensor bool) bool {
	off := uint64(1 - d.from())
	if hasLane {
		lane += off
		if lane < 1 || lane > uint64(d.laneMax()) {
			return false
		}
		ev.Lane = int(lane)
	}
	if hasCar {
		car += off
		if car < 1 || car > 99999 {
			return false
		}
		ev.Car = int(car)
	}
	ev.Sensor = 1
	if hasSensor {
		sensor += off
		if sensor < 1 || sensor > 99 {
			return false
		}
		ev.Sensor = int(sensor)
	}
	return ev.Lane > 0 || ev.Car > 0
}

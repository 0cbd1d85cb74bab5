package describe

import (
	"fmt"
	"regexp"
	"slices"
	"strings"
)

// prepare checks the description and fills in what may be left out.
func (d *Description) prepare() error {
	if d.Name == "" {
		return fmt.Errorf("name is missing: expected a few words for people")
	}
	if d.Lanes < 0 || d.Lanes > 32 {
		return fmt.Errorf("lanes = %d: expected 1 to 32", d.Lanes)
	}
	if f := d.from(); f != 0 && f != 1 {
		return fmt.Errorf("count_from = %d: expected 0 or 1", f)
	}
	if err := d.Port.Check(); err != nil {
		return fmt.Errorf("[port]: %w", err)
	}
	if c := d.Clock; c != nil {
		if c.Rate < 1 || c.Rate > 1e9 || c.Per > 1e6 {
			return fmt.Errorf("[clock]: ticks_per_second = %d, per = %d: expected at least one and at most 1000000000, per at most 1000000", c.Rate, c.Per)
		}
		if c.Bits < 8 || c.Bits > 63 {
			return fmt.Errorf("[clock]: bits = %d: expected 8 to 63, the width at which the ticks wrap", c.Bits)
		}
	}
	tables := map[string]bool{"text": d.Text != nil, "fields": d.Fields != nil, "frame": d.Frame != nil, "bits": d.Bits != nil}
	for _, k := range []string{"text", "fields", "frame", "bits"} {
		if tables[k] != (k == d.Kind) || !tables[d.Kind] {
			return fmt.Errorf("kind = %q: expected text, fields, frame or bits, and a table of that name and of no other", d.Kind)
		}
	}
	switch d.Kind {
	case "text":
		return d.prepareText()
	case "fields":
		return d.prepareFields()
	case "frame":
		return d.prepareFrame()
	}
	return d.prepareBits()
}

// groups that a text pattern may have.
var groups = []string{"lane", "car", "sensor", "ticks", "serial", "seconds", "minutes"}

func (d *Description) prepareText() (err error) {
	t := d.Text
	for _, base := range []*int{&t.Base, &t.SerialBase} {
		if *base == 0 {
			*base = 10
		}
		if *base != 10 && *base != 16 {
			return fmt.Errorf("[text]: base or serial_base = %d: expected 10 or 16", *base)
		}
	}
	if t.pattern, err = regexp.Compile(t.Pattern); err != nil {
		return fmt.Errorf("[text]: pattern: %w", err)
	}
	if t.Ignore != "" {
		if t.ignore, err = regexp.Compile(t.Ignore); err != nil {
			return fmt.Errorf("[text]: ignore: %w", err)
		}
	}
	has := map[string]bool{}
	for _, g := range t.pattern.SubexpNames() {
		if g == "" {
			continue
		}
		if !slices.Contains(groups, g) {
			return fmt.Errorf("[text]: pattern has a group %q: expected %s", g, strings.Join(groups, ", "))
		}
		if has[g] {
			return fmt.Errorf("[text]: pattern has the group %q twice", g)
		}
		has[g] = true
	}
	if has["minutes"] && !has["seconds"] {
		return fmt.Errorf("[text]: pattern has the group minutes but not seconds")
	}
	return d.needs("pattern", has["lane"], has["car"], has["ticks"] || has["seconds"])
}

func (d *Description) prepareFields() error {
	f := d.Fields
	if len(f.Separator) != 1 {
		return fmt.Errorf("[fields]: separator = %q: expected one byte", f.Separator)
	}
	for _, base := range []*int{&f.Base, &f.SerialBase} {
		if *base == 0 {
			*base = 10
		}
		if *base != 10 && *base != 16 {
			return fmt.Errorf("[fields]: base or serial_base = %d: expected 10 or 16", *base)
		}
	}
	seen := map[int]bool{}
	for _, n := range []int{f.Lane, f.Car, f.Sensor, f.Ticks, f.Serial} {
		if n < 0 || n > fieldsMax {
			return fmt.Errorf("[fields]: field %d: expected 1 to %d", n, fieldsMax)
		}
		if n > 0 && (seen[n] || n == 1 && f.Begins != "") {
			return fmt.Errorf("[fields]: field %d is used twice", n)
		}
		seen[n] = true
	}
	if f.Count < 0 || f.Count > fieldsMax {
		return fmt.Errorf("[fields]: count = %d: expected 1 to %d", f.Count, fieldsMax)
	}
	if f.Check != "" && find(f.Check) == nil {
		return unknownCheck(f.Check)
	}
	return d.needs("[fields]", f.Lane > 0, f.Car > 0, f.Ticks > 0)
}

func unknownCheck(name string) error {
	var names []string
	for _, c := range checks {
		names = append(names, c.Name)
	}
	return fmt.Errorf("check %q: expected one of %s", name, strings.Join(names, ", "))
}

func (d *Description) prepareFrame() error {
	f := d.Frame
	if f.Length < 1 || f.Length > 1024 {
		return fmt.Errorf("[frame]: length = %d: expected 1 to 1024 bytes", f.Length)
	}
	if len(f.Starts) == 0 {
		return fmt.Errorf("[frame]: starts is missing: without a start byte a frame cannot be found again after a lost byte")
	}
	if len(f.Starts)+len(f.Ends) > f.Length {
		return fmt.Errorf("[frame]: starts and ends have more bytes than length = %d", f.Length)
	}
	for _, v := range append(append([]int(nil), f.Starts...), f.Ends...) {
		if v < 0 || v > 255 {
			return fmt.Errorf("[frame]: byte %d in starts or ends: expected 0 to 255", v)
		}
	}
	for _, n := range []struct {
		name string
		n    *Number
	}{{"lane", f.Lane}, {"car", f.Car}, {"sensor", f.Sensor}, {"ticks", f.Ticks}, {"serial", f.Serial}} {
		if n.n == nil {
			continue
		}
		if err := n.n.prepare(f.Length); err != nil {
			return fmt.Errorf("[frame]: %s: %w", n.name, err)
		}
	}
	if s := f.Check; s != nil {
		c := find(s.Kind)
		if c == nil {
			return unknownCheck(s.Kind)
		}
		if s.To == 0 {
			s.To = s.Offset
		}
		if s.Offset < 0 || s.Offset+c.Width/8 > f.Length || s.From < 0 || s.To <= s.From || s.To > f.Length {
			return fmt.Errorf("[frame]: check: offset %d, from %d to %d: expected them inside %d bytes", s.Offset, s.From, s.To, f.Length)
		}
		if s.Offset < s.To && s.Offset+c.Width/8 > s.From {
			return fmt.Errorf("[frame]: check: it covers its own value")
		}
		if c.Width > 8 && s.Endian != "little" && s.Endian != "big" {
			return fmt.Errorf("[frame]: check: endian = %q: expected little or big", s.Endian)
		}
	}
	return d.needs("[frame]", f.Lane != nil, f.Car != nil, f.Ticks != nil)
}

func (n *Number) prepare(length int) error {
	if n.Width == 0 {
		n.Width = 1
	}
	if n.Width < 1 || n.Width > 8 || n.Offset < 0 || n.Offset+n.Width > length {
		return fmt.Errorf("offset %d, width %d: expected 1 to 8 bytes inside %d", n.Offset, n.Width, length)
	}
	if n.Width > 1 && n.Endian != "little" && n.Endian != "big" {
		return fmt.Errorf("endian = %q: expected little or big", n.Endian)
	}
	if n.Shift < 0 || n.Shift > 63 {
		return fmt.Errorf("shift = %d: expected 0 to 63", n.Shift)
	}
	return nil
}

func (d *Description) prepareBits() error {
	b := d.Bits
	if b.Bytes == 0 {
		b.Bytes = 1
	}
	if b.Bytes < 1 || b.Bytes > 4 {
		return fmt.Errorf("[bits]: bytes = %d: expected 1 to 4", b.Bytes)
	}
	if len(b.Lanes) == 0 || len(b.Lanes) > 32 {
		return fmt.Errorf("[bits]: lanes: expected the bit of each lane, 1 to 32 of them")
	}
	for i, v := range b.Lanes {
		if v < 0 || v >= 8*b.Bytes {
			return fmt.Errorf("[bits]: lanes: bit %d: expected 0 to %d", v, 8*b.Bytes-1)
		}
		if slices.Contains(b.Lanes[:i], v) {
			return fmt.Errorf("[bits]: lanes: bit %d stands for two lanes", v)
		}
	}
	if d.Clock != nil {
		return fmt.Errorf("[clock]: samples carry no ticks: leave it out")
	}
	return nil
}

// needs checks that what makes a pass is there.
func (d *Description) needs(where string, lane, car, ticks bool) error {
	if !lane && !car {
		return fmt.Errorf("%s says neither lane nor car: expected at least one", where)
	}
	if ticks && d.Clock == nil {
		return fmt.Errorf("%s has ticks, but there is no [clock]: expected ticks_per_second and bits", where)
	}
	if !ticks && d.Clock != nil {
		return fmt.Errorf("there is a [clock], but %s has no ticks", where)
	}
	return nil
}

package describe

import (
	"bytes"
	"math/bits"
	"strings"
)

// lineMax is the longest line that is read.
const lineMax = 256

// cutLine finds the first line of b. It returns the line without its end and how
// many bytes it takes with it; used is 0 if more bytes are needed.
func cutLine(b []byte) (line []byte, used int, long bool) {
	for i, c := range b {
		if c == '\n' || c == '\r' {
			return b[:i], i + 1, false
		}
		if i >= lineMax {
			return b[:i], i, true
		}
	}
	return nil, 0, false
}

func damage(ev *Event, raw []byte, why string) {
	*ev = Event{Damaged: true, Why: why, Raw: raw[:min(len(raw), rawMax)], Bytes: len(raw)}
}

// textEngine reads lines by a regular expression.
type textEngine struct {
	d    *Description
	skip bool // inside a line that was too long
}

func (e *textEngine) reset() { e.skip = false }

func (e *textEngine) scan(b []byte, _ bool, ev *Event) (int, bool) {
	line, used, long := cutLine(b)
	if used == 0 {
		return 0, false
	}
	skip := e.skip
	e.skip = long
	if skip || long {
		damage(ev, line, "line too long")
		return used, len(line) > 0
	}
	if len(line) == 0 {
		return used, false
	}
	t := e.d.Text
	m := t.pattern.FindSubmatchIndex(line)
	if m == nil {
		if t.ignore != nil && t.ignore.Match(line) {
			return used, false
		}
		damage(ev, line, "does not match the pattern")
		return used, true
	}
	*ev = Event{Raw: line, Bytes: len(line)}
	var lane, car, sensor uint64
	var hasLane, hasCar, hasSensor bool
	var seconds, minutes []byte
	good := true
	for i, g := range t.pattern.SubexpNames() {
		if g == "" || m[2*i] < 0 {
			continue
		}
		text := line[m[2*i]:m[2*i+1]]
		var ok = true
		switch g {
		case "lane":
			lane, ok = number(text, 10)
			hasLane = true
		case "car":
			car, ok = number(text, 10)
			hasCar = true
		case "sensor":
			sensor, ok = number(text, 10)
			hasSensor = true
		case "ticks":
			ev.Ticks, ok = number(text, t.Base)
			ev.HasTicks = true
		case "serial":
			ev.Serial, ok = number(text, t.SerialBase)
			ev.HasSerial = true
		case "seconds":
			seconds = text
		case "minutes":
			minutes = text
		}
		good = good && ok
	}
	if seconds != nil {
		var ok bool
		ev.Ticks, ok = e.d.ticks(minutes, seconds)
		ev.HasTicks = true
		good = good && ok
	}
	if !good || e.d.Clock != nil && !ev.HasTicks || !e.d.valid(ev, lane, car, sensor, hasLane, hasCar, hasSensor) {
		damage(ev, line, "a number is missing or out of range")
	}
	return used, true
}

// ticks turns minutes and decimal seconds into the nearest tick.
func (d *Description) ticks(minutes, seconds []byte) (uint64, bool) {
	var m uint64
	if minutes != nil {
		var ok bool
		if m, ok = number(minutes, 10); !ok || m > 1<<32 {
			return 0, false
		}
	}
	whole, frac, _ := strings.Cut(strings.ReplaceAll(string(seconds), ",", "."), ".")
	s, ok := number([]byte(whole), 10)
	if !ok || s > 1<<32 || len(frac) > 9 {
		return 0, false
	}
	unit := uint64(1)
	f := uint64(0)
	if frac != "" {
		if f, ok = number([]byte(frac), 10); !ok {
			return 0, false
		}
		for range frac {
			unit *= 10
		}
	}
	r := d.Rate()
	// (m*60+s+f/unit) * Num/Den, rounded
	hi, lo := bits.Mul64((m*60+s)*unit+f, r.Num)
	den := unit * r.Den
	if hi >= den {
		return 0, false
	}
	q, rest := bits.Div64(hi, lo, den)
	if rest >= den-rest {
		q++
	}
	return q, true
}

// number reads an unsigned number that fills text.
func number(text []byte, base int) (uint64, bool) {
	if len(text) == 0 || len(text) > 19 || base == 16 && len(text) > 15 {
		return 0, false
	}
	var v uint64
	for _, c := range text {
		d := uint64(c - '0')
		if d > 9 {
			if base != 16 {
				return 0, false
			}
			d = uint64(c|0x20) - 'a'
			if d > 5 {
				return 0, false
			}
			d += 10
		}
		v = v*uint64(base) + d
	}
	return v, true
}

const fieldsMax = 32

// fieldsEngine reads lines of separated fields without allocating.
type fieldsEngine struct {
	d     *Description
	f     Fields
	from  int
	lanes int
	sep   byte
	check *Check
	skip  bool
}

func (e *fieldsEngine) reset() { e.skip = false }

func (e *fieldsEngine) scan(b []byte, _ bool, ev *Event) (int, bool) {
	line, used, long := cutLine(b)
	if used == 0 {
		return 0, false
	}
	skip := e.skip
	e.skip = long
	if skip || long {
		damage(ev, line, "line too long")
		return used, len(line) > 0
	}
	if len(line) == 0 {
		return used, false
	}
	body := line
	if e.check != nil {
		star := bytes.LastIndexByte(line, '*')
		if star < 0 {
			damage(ev, line, "no check")
			return used, true
		}
		body = line[:star]
		covered := body
		if len(covered) > 0 && covered[0] == '$' {
			covered = covered[1:]
		}
		if v, ok := number(line[star+1:], 16); !ok || len(line)-star-1 != e.check.Width/4 || uint32(v) != e.check.Of(covered) {
			damage(ev, line, "check digits disagree")
			return used, true
		}
	}
	*ev = Event{Raw: line, Bytes: len(line)}
	var got [fieldsMax + 1]uint64
	n := 0
	for rest := body; ; {
		i := bytes.IndexByte(rest, e.sep)
		field := rest
		if i >= 0 {
			field = rest[:i]
		}
		n++
		if n == 1 && e.f.Begins != "" {
			if string(field) != e.f.Begins {
				damage(ev, line, "another beginning")
				return used, true
			}
		} else if n <= fieldsMax && e.wanted(n) {
			base := 10
			switch n {
			case e.f.Ticks:
				base = e.f.Base
			case e.f.Serial:
				base = e.f.SerialBase
			}
			v, ok := number(field, base)
			if !ok {
				damage(ev, line, "a field is no number")
				return used, true
			}
			got[n] = v
		}
		if i < 0 {
			break
		}
		rest = rest[i+1:]
	}
	f := &e.f
	if n < max(f.Lane, f.Car, f.Sensor, f.Ticks, f.Serial) || f.Count > 0 && n != f.Count {
		damage(ev, line, "wrong number of fields")
		return used, true
	}
	ev.Ticks, ev.HasTicks = got[f.Ticks], f.Ticks > 0
	ev.Serial, ev.HasSerial = got[f.Serial], f.Serial > 0
	if !e.d.valid(ev, got[f.Lane], got[f.Car], got[f.Sensor], f.Lane > 0, f.Car > 0, f.Sensor > 0) {
		damage(ev, line, "lane, car or sensor out of range")
	}
	return used, true
}

func (e *fieldsEngine) wanted(n int) bool {
	f := &e.f
	return n == f.Lane || n == f.Ticks || n == f.Car || n == f.Sensor || n == f.Serial
}

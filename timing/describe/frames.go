package describe

import "bytes"

// frameEngine reads frames of fixed length. After a bad frame it looks for the next
// start inside the bytes it has just refused.
type frameEngine struct {
	d            *Description
	f            *Frame
	starts, ends []byte
	check        *Check
}

func newFrameEngine(d *Description) *frameEngine {
	e := &frameEngine{d: d, f: d.Frame}
	for _, v := range d.Frame.Starts {
		e.starts = append(e.starts, byte(v))
	}
	for _, v := range d.Frame.Ends {
		e.ends = append(e.ends, byte(v))
	}
	if d.Frame.Check != nil {
		e.check = find(d.Frame.Check.Kind)
	}
	return e
}

func (e *frameEngine) reset() {}

func (e *frameEngine) scan(b []byte, _ bool, ev *Event) (int, bool) {
	if len(b) == 0 {
		return 0, false
	}
	// Bytes that are no frame are refused one by one, so that what is found
	// does not depend on how many have arrived.
	if b[0] != e.starts[0] {
		damage(ev, b[:1], "no start of a frame")
		return 1, true
	}
	if len(b) < e.f.Length {
		return 0, false
	}
	fr := b[:e.f.Length]
	if why := e.read(fr, ev); why != "" {
		damage(ev, b[:1], why)
		return 1, true
	}
	ev.Raw, ev.Bytes, ev.Binary = fr, len(fr), true
	return len(fr), true
}

func (e *frameEngine) read(fr []byte, ev *Event) (why string) {
	if !bytes.HasPrefix(fr, e.starts) || !bytes.HasSuffix(fr, e.ends) {
		return "not framed"
	}
	f := e.f
	if e.check != nil {
		seal := Number{Offset: f.Check.Offset, Width: e.check.Width / 8, Endian: f.Check.Endian}
		if uint32(seal.of(fr)) != e.check.Of(fr[f.Check.From:f.Check.To]) {
			return "check disagrees"
		}
	}
	*ev = Event{}
	var lane, car, sensor uint64
	if f.Lane != nil {
		lane = f.Lane.of(fr)
	}
	if f.Car != nil {
		car = f.Car.of(fr)
	}
	if f.Sensor != nil {
		sensor = f.Sensor.of(fr)
	}
	if f.Ticks != nil {
		ev.Ticks, ev.HasTicks = f.Ticks.of(fr), true
	}
	if f.Serial != nil {
		ev.Serial, ev.HasSerial = f.Serial.of(fr), true
	}
	if !e.d.valid(ev, lane, car, sensor, f.Lane != nil, f.Car != nil, f.Sensor != nil) {
		return "lane, car or sensor out of range"
	}
	return ""
}

// of reads the number from a frame.
func (n *Number) of(fr []byte) uint64 {
	var v uint64
	for i := range n.Width {
		if n.Endian == "little" {
			v |= uint64(fr[n.Offset+i]) << (8 * i)
		} else {
			v = v<<8 | uint64(fr[n.Offset+i])
		}
	}
	if n.Inverted {
		v = ^v
		if n.Width < 8 {
			v &= 1<<(8*n.Width) - 1
		}
	}
	if n.Mask != 0 {
		v &= n.Mask
	}
	return v >> n.Shift
}

// bitsEngine reads samples with one bit a lane. The first sample only says how
// things stand.
type bitsEngine struct {
	d    *Description
	last int64 // the sample before, -1 before the first
	lane int   // lanes of the present sample already looked at
}

func (e *bitsEngine) reset() { e.last, e.lane = -1, 0 }

func (e *bitsEngine) scan(b []byte, _ bool, ev *Event) (int, bool) {
	c := e.d.Bits
	if len(b) < c.Bytes {
		return 0, false
	}
	var v int64
	for i := range c.Bytes {
		v |= int64(b[i]) << (8 * i)
	}
	if c.Inverted != c.Falling {
		v = ^v & (1<<(8*c.Bytes) - 1)
	}
	if e.last >= 0 {
		risen := v &^ e.last
		for e.lane < len(c.Lanes) {
			bit := c.Lanes[e.lane]
			e.lane++
			if risen>>bit&1 == 1 {
				*ev = Event{Sensor: 1, Lane: e.lane, Raw: b[:c.Bytes], Bytes: c.Bytes, Binary: true}
				return 0, true
			}
		}
	}
	e.last, e.lane = v, 0
	return c.Bytes, false
}

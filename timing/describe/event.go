package describe

// Event is what a [Decoder] found: one pass, or bytes that made none.
type Event struct {
	Damaged bool
	Why     string // for Damaged

	Sensor, Lane, Car int    // counted from 1; 0: not said
	Ticks             uint64 // if HasTicks
	Serial            uint64 // if HasSerial
	HasTicks          bool
	HasSerial         bool

	// Raw is the line or frame, without line end; valid until the next call of
	// the decoder or a change of its input. For Damaged it may be the first part only.
	Raw    []byte
	Bytes  int
	Offset uint64 // where in the stream it began
	Binary bool   // Raw is no text
}

// rawMax bounds what is kept of damaged bytes.
const rawMax = 256

// engine is one way of reading. It sees the stream through the decoder's buffer.
type engine interface {
	// scan looks at b, the bytes not used yet, of which more may follow unless
	// last. It returns how many bytes are done with, and whether ev was filled. With
	// used == 0 and !found it needs more bytes. An engine that finds several
	// passes in one frame returns used == 0 and found until the last of them.
	scan(b []byte, last bool, ev *Event) (used int, found bool)
	reset()
}

// Decoder turns a stream of bytes into events by a description. What it finds
// does not depend on how the stream is cut. It holds at most holdMax bytes.
type Decoder struct {
	e      engine
	held   []byte // bytes of earlier calls that are not done with
	spare  []byte
	offset uint64 // of held[0], or of the next byte

	bad       []byte // single refused bytes, reported together
	badWhy    string
	badOffset uint64
}

const holdMax = 4096

// Offset returns how many bytes have been taken in so far.
func (d *Decoder) Offset() uint64 { return d.offset + uint64(len(d.held)) }

// Pending returns the offset of the first byte that is not part of an event yet.
func (d *Decoder) Pending() uint64 {
	if len(d.bad) > 0 {
		return d.badOffset
	}
	return d.offset
}

// Feed takes p and calls f for every event; ev is valid during the call only.
func (d *Decoder) Feed(p []byte, f func(ev *Event)) {
	b := p
	if len(d.held) > 0 {
		d.held = append(d.held, p...)
		b = d.held
	}
	b = d.run(b, false, f)
	if len(b) > holdMax {
		// No engine needs so much: it is damage without an end.
		f(&Event{Damaged: true, Why: "no end found", Raw: b[:rawMax], Bytes: len(b), Offset: d.offset})
		d.offset += uint64(len(b))
		b = nil
	}
	d.spare = append(d.spare[:0], b...)
	d.held, d.spare = d.spare, d.held[:0]
}

// complain reports the single bytes refused so far.
func (d *Decoder) complain(f func(ev *Event)) {
	if len(d.bad) > 0 {
		f(&Event{Damaged: true, Why: d.badWhy, Raw: d.bad, Bytes: len(d.bad), Offset: d.badOffset})
		d.bad = d.bad[:0]
	}
}

// Rest reports what has begun and not ended, as damage, and forgets it.
func (d *Decoder) Rest(ev *Event) bool {
	b := d.held
	at := d.offset
	d.offset += uint64(len(b))
	if len(d.bad) > 0 {
		b = append(d.bad, b...)
		at = d.badOffset
	}
	d.held, d.bad = nil, nil
	d.e.reset()
	if len(b) == 0 {
		return false
	}
	*ev = Event{Damaged: true, Why: "cut short", Raw: b[:min(len(b), rawMax)], Bytes: len(b), Offset: at}
	return true
}

func (d *Decoder) run(b []byte, last bool, f func(ev *Event)) []byte {
	var ev Event
	for {
		used, found := d.e.scan(b, last, &ev)
		if found && ev.Damaged && ev.Bytes == 1 {
			if len(d.bad) == 0 {
				d.badWhy, d.badOffset = ev.Why, d.offset
			}
			d.bad = append(d.bad, b[0])
			if len(d.bad) >= rawMax {
				d.complain(f)
			}
			ev = Event{}
		} else if found {
			d.complain(f)
			ev.Offset = d.offset
			f(&ev)
			ev = Event{}
		}
		b = b[used:]
		d.offset += uint64(used)
		if used == 0 && !found {
			return b
		}
	}
}

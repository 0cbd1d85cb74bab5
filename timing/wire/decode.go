package wire

// Decoder turns a stream of bytes into sentences. The zero value is ready.
// What it finds does not depend on how the stream is cut into pieces. It
// allocates nothing and holds at most one sentence.
type Decoder struct {
	held   [LenMax]byte // the sentence, or the damage, that has begun
	n      int          // bytes held
	phase  phase
	check  byte // exclusive or of the body so far
	star   int  // index of '*' in held
	why    Why  // of the damage being collected
	total  int  // bytes of damage, held or not
	offset uint64
	began  uint64 // offset of held[0]
	given  bool   // held was handed out by the last call
}

type phase uint8

const (
	idle  phase = iota // between sentences
	body               // after '$'
	digit              // after '*'
	trash              // collecting damage up to a line end or '$'
)

// trashMax bounds one report of damage, so that a talkative foreign device is
// reported while it talks.
const trashMax = 256

// Decode reads from p and returns how many bytes it used. When ok, s holds a
// sentence or a report of damage and there may be more in p. Call it until
// all of p is used:
//
//	for len(p) > 0 {
//		n, ok := d.Decode(p, &s)
//		p = p[n:]
//		if ok { ... }
//	}
func (d *Decoder) Decode(p []byte, s *Sentence) (n int, ok bool) {
	if d.given {
		d.given, d.n = false, 0
	}
	i := 0
	for i < len(p) {
		c := p[i]
		switch d.phase {
		case idle:
			if c == '$' {
				if used, ok := d.whole(p[i:], s); ok {
					d.offset += uint64(used)
					return i + used, true
				}
				d.begin(c)
				break
			}
			if c == '\r' || c == '\n' {
				break
			}
			d.phase, d.why, d.total = trash, Stray, 0
			d.n, d.began = 0, d.offset
			d.throw(c)
		case body:
			switch {
			case c == '*':
				d.phase, d.star = digit, d.n
				d.hold(c)
			case c == '$':
				d.report(s, CutShort) // c is not used
				return i, true
			case c == '\r' || c == '\n':
				d.report(s, BadFrame)
				d.offset++
				return i + 1, true
			case c < ' ' || c > '~':
				d.spoil(BadFrame, c)
			default:
				d.check ^= c
				d.hold(c)
			}
			if d.phase == body && d.n > LenMax-5 { // no room for *hh CR LF
				d.spoil(TooLong, 0)
			}
		case digit:
			have := d.n - d.star - 1
			switch {
			case c == '$':
				d.report(s, CutShort)
				return i, true
			case have < 2:
				if _, hex := hexDigit(c); hex {
					d.hold(c)
					break
				}
				if c == '\r' || c == '\n' {
					d.report(s, BadFrame)
					d.offset++
					return i + 1, true
				}
				d.spoil(BadFrame, c)
			case c == '\r' || c == '\n':
				d.finish(s)
				d.offset++
				return i + 1, true
			default:
				d.spoil(BadFrame, c)
			}
		case trash:
			if c == '$' {
				d.report(s, d.why)
				return i, true
			}
			if c == '\r' || c == '\n' {
				d.report(s, d.why)
				d.offset++
				return i + 1, true
			}
			d.throw(c)
			if d.total >= trashMax {
				d.offset++
				d.report(s, d.why)
				return i + 1, true
			}
		}
		i++
		d.offset++
	}
	return i, false
}

// Rest reports what has begun and not ended, as damage. Call it when the
// stream has ended for good or was torn: the rest of a torn line must not be joined
// to what comes after the reconnection.
func (d *Decoder) Rest(s *Sentence) bool {
	if d.given {
		d.given, d.n = false, 0
	}
	switch d.phase {
	case body, digit:
		d.report(s, BadFrame)
		return true
	case trash:
		d.report(s, d.why)
		return true
	}
	return false
}

// Pending returns the offset of the first byte that is not part of a find yet:
// [Decoder.Offset] if nothing has begun.
func (d *Decoder) Pending() uint64 {
	if d.phase == idle {
		return d.offset
	}
	return d.began
}

// Offset returns how many bytes have been used so far.
func (d *Decoder) Offset() uint64 { return d.offset }

func (d *Decoder) begin(c byte) {
	d.phase, d.check, d.n, d.began = body, 0, 0, d.offset
	d.hold(c)
}

func (d *Decoder) hold(c byte) {
	if d.n < len(d.held) {
		d.held[d.n] = c
		d.n++
	}
}

// spoil turns the sentence being held into damage; c is one more byte of it.
func (d *Decoder) spoil(why Why, c byte) {
	d.phase, d.why, d.total = trash, why, d.n
	if why != TooLong {
		d.throw(c)
	}
}

func (d *Decoder) throw(c byte) {
	d.total++
	d.hold(c)
}

// report hands out what is held as damage.
func (d *Decoder) report(s *Sentence, why Why) {
	total := d.n
	if d.phase == trash {
		total = d.total
	}
	*s = Sentence{Kind: Damaged, Why: why, Raw: d.held[:d.n], Bytes: total, Offset: d.began}
	d.phase, d.given = idle, true
}

// finish hands out the sentence held, which has its two check digits.
func (d *Decoder) finish(s *Sentence) {
	raw := d.held[:d.n]
	hi, _ := hexDigit(raw[d.star+1])
	lo, _ := hexDigit(raw[d.star+2])
	*s = Sentence{Raw: raw, Bytes: d.n, Offset: d.began}
	switch {
	case hi<<4|lo != d.check:
		s.Kind, s.Why = Damaged, BadCheck
	case !s.understand(raw[1:d.star]):
		*s = Sentence{Kind: Damaged, Why: BadField, Raw: raw, Bytes: d.n, Offset: d.began}
	}
	d.phase, d.given = idle, true
}

package wire

// fields walks the comma separated fields of a body. It is made for speed:
// no slices of slices, no error values, one flag.
type fields struct {
	b   []byte // what is left
	end bool   // the last field has been taken
	bad bool
}

// num takes a decimal number of 1 to 19 digits.
func (f *fields) num() uint64 {
	if f.end {
		f.bad = true
		return 0
	}
	var v uint64
	b := f.b
	for i, c := range b {
		if d := c - '0'; d <= 9 {
			v = v*10 + uint64(d)
			continue
		}
		if c != ',' || i == 0 || i > 19 {
			f.bad = true
		}
		f.b = b[i+1:]
		return v
	}
	if len(b) == 0 || len(b) > 19 {
		f.bad = true
	}
	f.b, f.end = nil, true
	return v
}

// below takes a number that must not exceed limit.
func (f *fields) below(limit uint64) uint32 {
	v := f.num()
	if v > limit {
		f.bad = true
	}
	return uint32(v)
}

// text takes a field as it is.
func (f *fields) text() []byte {
	if f.end {
		f.bad = true
		return nil
	}
	for i, c := range f.b {
		if c == ',' {
			t := f.b[:i]
			f.b = f.b[i+1:]
			return t
		}
	}
	t := f.b
	f.b, f.end = nil, true
	return t
}

// mask takes a hexadecimal number of 1 to 8 digits.
func (f *fields) mask() uint32 {
	t := f.text()
	if len(t) == 0 || len(t) > 8 {
		f.bad = true
		return 0
	}
	var v uint32
	for _, c := range t {
		d, ok := hexDigit(c)
		if !ok {
			f.bad = true
		}
		v = v<<4 | uint32(d)
	}
	return v
}

// moment takes an optional tick.
func (f *fields) moment() (at uint64, given bool) {
	if f.end || len(f.b) == 0 {
		return 0, false
	}
	return f.num(), true
}

func hexDigit(c byte) (byte, bool) {
	switch {
	case c-'0' <= 9:
		return c - '0', true
	case c-'A' <= 5:
		return c - 'A' + 10, true
	case c-'a' <= 5:
		return c - 'a' + 10, true
	}
	return 0, false
}

// understand fills s from the body of a framed and checked sentence.
// It returns false when one of ours has a field missing or out of range.
func (s *Sentence) understand(body []byte) bool {
	if len(body) < 5 || body[0] != 'L' || body[1] != 'W' || (len(body) > 5 && body[5] != ',') {
		s.Kind = Foreign
		return true
	}
	f := fields{}
	if len(body) > 6 {
		f.b = body[6:]
	} else {
		f.end = true
	}
	if body[2] == 'P' && body[3] == 'A' && body[4] == 'S' { // by far the most frequent
		s.Kind = Pass
		s.Serial = f.num()
		s.Sensor = f.below(99)
		s.Lane = f.below(LaneMax)
		s.Car = f.below(99999)
		s.Ticks = f.num()
		return !f.bad && s.Serial > 0 && s.Sensor > 0 && (s.Lane > 0 || s.Car > 0)
	}
	switch string(body[2:5]) {
	case "BEA":
		s.Kind = Beat
		s.Boot = f.num()
		s.Last = f.num()
		s.Ticks = f.num()
	case "CAP":
		s.Kind = Caps
		s.Version = f.below(1<<32 - 1)
		s.Boot = f.num()
		s.Name = f.text()
		s.Lanes = f.below(LaneMax)
		s.Sensors = f.below(99)
		s.Num = f.num()
		s.Den = f.num()
		s.Bits = f.below(63)
		s.Ring = f.below(1<<32 - 1)
		s.HasPower = f.below(1) == 1
		s.Lit = f.below(99)
		return !f.bad && s.Version > 0 && s.Num > 0 && s.Den > 0 && s.Bits >= 8 &&
			s.Num <= 1e10 && s.Den <= 1e6
	case "PWR":
		s.Kind = Power
		s.ID = f.num()
		s.Mask = f.mask()
		s.Ticks = f.num()
	case "LMP":
		s.Kind = Lamps
		s.ID = f.num()
		s.Lit = f.below(99)
		s.Go = f.below(2)
		s.Ticks = f.num()
	case "END":
		s.Kind = End
		s.From = f.num()
		s.First = f.num()
		s.Last = f.num()
	case "NOT":
		s.Kind = Refused
		s.ID = f.num()
	case "NTD":
		s.Kind = Noted
		s.ID = f.num()
	case "QCP":
		s.Kind = AskCaps
	case "SPW":
		s.Kind = SetPower
		s.ID = f.num()
		s.Mask = f.mask()
		s.At, s.Timed = f.moment()
	case "SLM":
		s.Kind = SetLamps
		s.ID = f.num()
		s.Lit = f.below(99)
		s.Go = f.below(2)
		s.At, s.Timed = f.moment()
	case "AGN":
		s.Kind = SayAgain
		s.From = f.num()
	default:
		s.Kind = Foreign
	}
	return !f.bad
}

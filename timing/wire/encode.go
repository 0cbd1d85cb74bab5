package wire

import "strconv"

const hexDigits = "0123456789ABCDEF"

// Append appends s as a whole line, CR LF included. It returns dst unchanged
// if s is Foreign, Damaged or None, or would exceed LenMax: a name in Caps must be
// short and printable.
func Append(dst []byte, s *Sentence) []byte {
	from := len(dst)
	b := append(dst, "$LW"...)
	switch s.Kind {
	case Pass:
		b = append(b, "PAS"...)
		b = num(b, s.Serial)
		b = num(b, uint64(s.Sensor))
		b = num(b, uint64(s.Lane))
		b = num(b, uint64(s.Car))
		b = num(b, s.Ticks)
	case Beat:
		b = append(b, "BEA"...)
		b = num(b, s.Boot)
		b = num(b, s.Last)
		b = num(b, s.Ticks)
	case Caps:
		b = append(b, "CAP"...)
		b = num(b, uint64(s.Version))
		b = num(b, s.Boot)
		b = append(b, ',')
		for _, c := range s.Name {
			if c < ' ' || c > '~' || c == ',' || c == '$' || c == '*' {
				c = '_'
			}
			b = append(b, c)
		}
		b = num(b, uint64(s.Lanes))
		b = num(b, uint64(s.Sensors))
		b = num(b, s.Num)
		b = num(b, s.Den)
		b = num(b, uint64(s.Bits))
		b = num(b, uint64(s.Ring))
		power := uint64(0)
		if s.HasPower {
			power = 1
		}
		b = num(b, power)
		b = num(b, uint64(s.Lit))
	case Power:
		b = append(b, "PWR"...)
		b = num(b, s.ID)
		b = mask(b, s.Mask)
		b = num(b, s.Ticks)
	case Lamps:
		b = append(b, "LMP"...)
		b = num(b, s.ID)
		b = num(b, uint64(s.Lit))
		b = num(b, uint64(s.Go))
		b = num(b, s.Ticks)
	case End:
		b = append(b, "END"...)
		b = num(b, s.From)
		b = num(b, s.First)
		b = num(b, s.Last)
	case Refused:
		b = append(b, "NOT"...)
		b = num(b, s.ID)
	case Noted:
		b = append(b, "NTD"...)
		b = num(b, s.ID)
	case AskCaps:
		b = append(b, "QCP"...)
	case SetPower:
		b = append(b, "SPW"...)
		b = num(b, s.ID)
		b = mask(b, s.Mask)
		if s.Timed {
			b = num(b, s.At)
		}
	case SetLamps:
		b = append(b, "SLM"...)
		b = num(b, s.ID)
		b = num(b, uint64(s.Lit))
		b = num(b, uint64(s.Go))
		if s.Timed {
			b = num(b, s.At)
		}
	case SayAgain:
		b = append(b, "AGN"...)
		b = num(b, s.From)
	default:
		return dst
	}
	x := Check(b[from+1:])
	b = append(b, '*', hexDigits[x>>4], hexDigits[x&15], '\r', '\n')
	if len(b)-from > LenMax {
		return dst
	}
	return b
}

func num(b []byte, v uint64) []byte {
	return strconv.AppendUint(append(b, ','), v, 10)
}

func mask(b []byte, v uint32) []byte {
	b = append(b, ',')
	if v < 16 {
		b = append(b, '0')
	}
	for shift := 28; shift >= 0; shift -= 4 {
		if d := v >> shift; d != 0 {
			b = append(b, hexDigits[d&15])
		}
	}
	if v == 0 {
		b = append(b, '0')
	}
	return b
}

package seeding

import (
	"errors"
	"fmt"
	"math"
	"testing"
)

func FuzzPlackettLuce(f *testing.F) {
	f.Add([]byte{1, 2, 3, 0, 3, 2, 1, 0, 0x81, 0x82, 3}, 0.5)
	f.Add([]byte{1, 2, 0, 1, 2, 0, 1, 2}, 0.0)
	f.Fuzz(func(t *testing.T, b []byte, phantom float64) {
		if len(b) > 60 {
			return
		}
		// 0 ends a race; a set high bit makes a driver level with the one before.
		in := []Order{{Weight: 1}}
		for _, c := range b {
			o := &in[len(in)-1]
			switch {
			case c == 0:
				in = append(in, Order{Weight: 1})
			case c&0x80 != 0 && len(o.Groups) > 0:
				o.Groups[len(o.Groups)-1] = append(o.Groups[len(o.Groups)-1], fmt.Sprint(c&0x0f))
			default:
				o.Groups = append(o.Groups, []string{fmt.Sprint(c & 0x0f)})
			}
		}
		s, err := PlackettLuce(in, phantom)
		if err != nil {
			if !errors.Is(err, ErrBadInput) && !errors.Is(err, ErrNoMaximum) {
				t.Fatalf("error of an undeclared kind: %v", err)
			}
			return
		}
		sum := 0.0
		for _, d := range s.Drivers {
			if !(d.Worth > 0) || math.IsNaN(d.SE) {
				t.Fatalf("%+v", d)
			}
			sum += d.Worth
		}
		if math.Abs(sum-1) > 1e-9 {
			t.Fatalf("worths add up to %v", sum)
		}
	})
}

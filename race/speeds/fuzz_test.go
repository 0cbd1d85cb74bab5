package speeds

import (
	"errors"
	"fmt"
	"math"
	"testing"
	"time"

	"lanewright/race/analysis"
)

func FuzzAcross(f *testing.F) {
	f.Add([]byte("abcdefghijklmnopqrstuvwxyzabcdefghijklmnopqrstuvwxyz"))
	f.Add([]byte{0, 1, 2, 3, 4, 5, 6, 7, 8})
	f.Fuzz(func(t *testing.T, b []byte) {
		if len(b) > 3*40 {
			return
		}
		var stints []analysis.Stint
		for ; len(b) >= 3; b = b[3:] {
			s := analysis.Stint{Driver: fmt.Sprint(b[0] % 5), Layout: fmt.Sprint(b[1] % 3), Lane: int(b[1]>>4)%3 + 1, Night: int(b[0] >> 6), Par: time.Duration(b[2]&1) * time.Second}
			for k := range int(b[2]>>5) + 2 {
				s.Laps = append(s.Laps, time.Duration(int(b[2])+k%3+1)*time.Millisecond)
			}
			stints = append(stints, s)
		}
		a, err := AcrossLayouts(stints, "")
		if err != nil {
			if !errors.Is(err, ErrBadInput) {
				t.Fatal(err)
			}
			return
		}
		for _, one := range a.Drivers {
			for _, other := range a.Drivers {
				d, err := a.Compare(one, other)
				if err != nil {
					if !errors.Is(err, ErrBadInput) && !errors.Is(err, analysis.ErrBadInput) && !errors.Is(err, ErrNotConnected) {
						t.Fatalf("error of an undeclared kind: %v", err)
					}
					continue
				}
				if math.IsNaN(d.Log) || !(d.SE >= 0) || !(d.Quicker >= 0 && d.Quicker <= 1) {
					t.Fatalf("%+v", d)
				}
			}
		}
	})
}

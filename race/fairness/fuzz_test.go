package fairness

import (
	"errors"
	"fmt"
	"strings"
	"testing"
	"time"

	"lanewright/race/analysis"
)

// nightOf reads a night from bytes: four for a stint.
func nightOf(b []byte) []analysis.Stint {
	var out []analysis.Stint
	for ; len(b) >= 4; b = b[4:] {
		s := analysis.Stint{Driver: fmt.Sprint(b[0] % 9), Lane: int(b[0]>>4)%6 + 1, Heat: int(b[1] % 16), Score: float64(int8(b[2])) / 4, Early: b[3]&1 == 1}
		if b[3]&2 == 2 {
			for k := range b[3] >> 3 {
				s.Laps = append(s.Laps, time.Duration(b[2]%50+1)*time.Duration(k%4+60))
			}
		}
		out = append(out, s)
	}
	return out
}

func FuzzAudit(f *testing.F) {
	f.Add([]byte("abcdefghijklmnopqrstuvwxyzabcdefghijklmnopqrstuvwxyz"))
	f.Add([]byte{0x00, 1, 40, 0xff, 0x10, 2, 44, 0xff, 0x01, 3, 40, 0xfe, 0x11, 1, 40, 0xfe})
	f.Add([]byte{0x00, 1, 40, 0xfe, 0x10, 2, 40, 0xfe, 0x01, 3, 40, 0xfe, 0x11, 1, 40, 0xfe, 0x22, 1, 40, 0xfe})
	f.Fuzz(func(t *testing.T, b []byte) {
		if len(b) > 4*80 {
			return
		}
		stints := nightOf(b)
		official := results(stints)
		r, err := Audit(stints, official, Options{Draws: 20})
		if err != nil {
			if !errors.Is(err, ErrBadInput) && !errors.Is(err, analysis.ErrBadInput) {
				t.Fatalf("error of an undeclared kind: %v", err)
			}
			return
		}
		text := r.Text()
		if r.Sentence == "" || strings.Contains(text, "NaN") || strings.Contains(text, "Inf") {
			t.Fatalf("%s", text)
		}
		if len(r.Rows) != len(official) {
			t.Fatalf("%d rows for %d results", len(r.Rows), len(official))
		}
		for _, row := range r.Rows {
			for _, p := range []*float64{row.RightScore, row.RightPace, row.BestScore, row.BestPace} {
				if p != nil && !(*p >= 0 && *p <= 1) {
					t.Fatalf("probability %v", *p)
				}
			}
		}
	})
}

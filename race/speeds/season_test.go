package speeds

import (
	"errors"
	"fmt"
	"math/rand/v2"
	"reflect"
	"slices"
	"testing"
	"time"

	"lanewright/race/analysis"

	"pgregory.net/rapid"
)

func TestSeasonAgreesWithTheStint(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		var s Season
		var laps []time.Duration
		total := 0
		for range rapid.IntRange(1, 4).Draw(t, "stints") {
			stint := analysis.Stint{Driver: "A", Layout: "Mill"}
			for range rapid.IntRange(0, 9).Draw(t, "laps") {
				stint.Laps = append(stint.Laps, time.Duration(rapid.IntRange(5_990_000, 6_010_000).Draw(t, "lap"))*time.Microsecond)
			}
			if err := s.Add(stint); err != nil {
				t.Fatal(err)
			}
			total += len(stint.Laps)
			if len(stint.Laps) > 0 {
				laps = append(laps, stint.Laps[1:]...)
			}
		}
		line := s.Lines()[0]
		c, err := analysis.ConsistencyOf(laps)
		if err != nil {
			t.Fatal(err)
		}
		if line.Laps != total {
			t.Fatalf("%d laps, want %d", line.Laps, total)
		}
		if c.Mean == nil {
			return
		}
		for what, p := range map[string][2]*float64{"mean": {line.Mean, c.Mean}, "sd": {line.SD, c.SD}, "MAD": {line.MAD, c.MAD}, "p05": {line.P05, c.P05}, "p95": {line.P95, c.P95}} {
			if (p[0] == nil) != (p[1] == nil) || p[0] != nil && (*p[0]-*p[1] > 1e-8 || *p[1]-*p[0] > 1e-8) {
				t.Fatalf("%s: %v and %v", what, p[0], p[1])
			}
		}
		if d := line.Median.Seconds() - *c.Median; d > 1e-8 || d < -1e-8 {
			t.Fatalf("median %v and %v", line.Median, *c.Median)
		}
	})
}

func TestSeasonLines(t *testing.T) {
	stints := []analysis.Stint{
		{Driver: "B", Layout: "Mill", Class: "GT", Lane: 2, Night: 2, Laps: []time.Duration{7e9, 5e9, 6e9}},
		{Driver: "A", Layout: "Mill", Class: "GT", Lane: 1, Night: 1, Laps: []time.Duration{7e9, 6e9, 7e9}},
		{Driver: "B", Layout: "Mill", Class: "GT", Lane: 1, Night: 1, Laps: []time.Duration{7e9, 5e9}},
		{Driver: "C", Layout: "Attic", Class: "GT"},
	}
	var want []SeasonLine
	for range 2 {
		var s Season
		for _, x := range stints {
			if err := s.Add(x); err != nil {
				t.Fatal(err)
			}
		}
		lines := s.Lines()
		if len(lines) != 3 || lines[0].Driver != "C" || lines[1].Driver != "B" || lines[1].Best != 5e9 || lines[1].BestNight != 1 || lines[1].BestLane != 1 || lines[1].Median != 5e9 {
			t.Errorf("%+v", lines)
		}
		if want != nil && !reflect.DeepEqual(want, lines) {
			t.Errorf("another order of stints: %+v, %+v", lines, want)
		}
		want = lines
		slices.Reverse(stints)
	}
	var s Season
	if err := s.Add(analysis.Stint{Laps: []time.Duration{0}}); !errors.Is(err, ErrBadInput) && !errors.Is(err, analysis.ErrBadInput) {
		t.Error(err)
	}
}

func BenchmarkSeasonOfAMillionLaps(b *testing.B) {
	rng := rand.New(rand.NewPCG(1, 2))
	var stints []analysis.Stint
	for n := range 50 { // nights
		for d := range 60 {
			for l := range 8 {
				s := analysis.Stint{Driver: fmt.Sprint("driver ", d), Layout: fmt.Sprint("layout ", n%10), Class: "GT", Night: n, Lane: l + 1}
				for range 42 {
					s.Laps = append(s.Laps, time.Duration(6e9+2e8*rng.NormFloat64()))
				}
				stints = append(stints, s)
			}
		}
	}
	b.ReportAllocs()
	for b.Loop() {
		var s Season
		for _, x := range stints {
			if err := s.Add(x); err != nil {
				b.Fatal(err)
			}
		}
		if len(s.Lines()) != 600 {
			b.Fatal("lines")
		}
	}
}

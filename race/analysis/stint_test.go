package analysis

import (
	"errors"
	"fmt"
	"math"
	"testing"
	"time"
)

// flat is a stint whose median lap is exp(pace) seconds.
func flat(driver string, night, heat, lane int, pace float64) Stint {
	lap := time.Duration(math.Exp(pace) * 1e9)
	return Stint{Driver: driver, Night: night, Heat: heat, Lane: lane, Laps: []time.Duration{lap + 1e9, lap, lap - 1e7, lap + 1e7, lap}}
}

func TestNightsTogetherKnowLanesBetter(t *testing.T) {
	var stints []Stint
	noise := func(i int) float64 { return 0.004 * math.Sin(float64(i*i)*1.3) }
	for n := range 4 {
		for d := range 4 {
			for l := range 4 {
				// Drivers change from night to night; lanes do not.
				stints = append(stints, flat(fmt.Sprint(d), n, (d+l)%4, l+1, 1.8+0.01*float64((d*n)%3)+0.01*float64(l)+noise(64*n+8*d+l)))
			}
		}
	}
	one, _, err := PaceObsByNight(stints[:16])
	if err != nil {
		t.Fatal(err)
	}
	all, _, err := PaceObsByNight(stints)
	if err != nil {
		t.Fatal(err)
	}
	a, err := FitLanes(one, LaneOptions{})
	if err != nil {
		t.Fatal(err)
	}
	b, err := FitLanes(all, LaneOptions{})
	if err != nil {
		t.Fatal(err)
	}
	if len(b.Drivers) != 16 || len(b.Lanes) != 4 {
		t.Fatalf("%d drivers, %d lanes", len(b.Drivers), len(b.Lanes))
	}
	// SE = s sqrt(2/N) in a complete rotation: four times as many stints, half of it.
	near(t, "SE of one night", *a.LanePairs()[0].Diff.SE, *a.S*math.Sqrt(2.0/4), 1e-12)
	near(t, "SE of four nights", *b.LanePairs()[0].Diff.SE, *b.S*math.Sqrt(2.0/16), 1e-12)
	stints[3].Layout = "another"
	if _, _, err := PaceObsByNight(stints); !errors.Is(err, ErrBadInput) {
		t.Error(err)
	}
	if obs, left, err := PaceObsByNight(nil); err != nil || obs != nil || left != 0 {
		t.Error(obs, left, err)
	}
}

func TestStintsThatDoNotCountForLanes(t *testing.T) {
	early := flat("A", 1, 1, 1, 1.8)
	early.Early = true
	short := flat("B", 1, 1, 2, 1.8)
	short.Laps = short.Laps[:3]
	obs, left, err := PaceObs([]Stint{early, short, flat("C", 1, 1, 3, 1.8)})
	if err != nil || len(obs) != 1 || left != 2 {
		t.Errorf("%v, %d left, %v", obs, left, err)
	}
	if obs, left, err = ScoreObs([]Stint{early, short}); err != nil || len(obs) != 1 || left != 1 {
		t.Errorf("%v, %d left, %v", obs, left, err)
	}
	for _, bad := range []Stint{{Laps: []time.Duration{-1}}, {Score: math.NaN()}, {LaneLengthMM: math.Inf(1)}, {Par: -1}} {
		if err := bad.Check(); !errors.Is(err, ErrBadInput) {
			t.Errorf("%+v: %v", bad, err)
		}
	}
}

func TestOneStintOfADriverHasLeverageOne(t *testing.T) {
	// However far off his only stint is, nothing shows it: residual 0, robust or
	// not, and the lanes are as without him.
	obs := toyNight()
	without, err := FitLanes(obs, LaneOptions{})
	if err != nil {
		t.Fatal(err)
	}
	for _, robust := range []bool{false, true} {
		f, err := FitLanes(append(toyNight(), Obs{"E", 1, 4, 3}), LaneOptions{Robust: robust})
		if err != nil {
			t.Fatal(err)
		}
		for i, o := range f.Sorted {
			if o.Driver == "E" && math.Abs(f.Resid[i]) > 1e-10 {
				t.Errorf("robust %v: residual %v", robust, f.Resid[i])
			}
		}
		if !robust {
			near(t, "lane 1", *f.Lanes[0].Value, *without.Lanes[0].Value, 1e-12)
		}
	}
}

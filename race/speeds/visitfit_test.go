package speeds

import (
	"math"
	"math/rand/v2"
	"testing"
	"time"

	"lanewright/race/analysis"
)

// Slow drivers on one layout, quick ones on another, two who link them: the layouts' own levels can take up what the drivers differ by,
// and the mixed model then finds no spread between drivers at all. Nobody may be called equal for certain because of that.
func TestASpreadThatVisitsTakeUpIsNotCertainty(t *testing.T) {
	truth := map[string]float64{"A": -0.03, "B": -0.02, "C": -0.01, "D": 0, "E": 0.01, "F": 0.02, "G": 0.03}
	inside, checked, collapsed := 0, 0, 0
	const seasons = 25
	for seed := range uint64(seasons) {
		rng := rand.New(rand.NewPCG(seed, 5))
		var all []analysis.Stint
		come := func(driver, layout string, night, lanes int) {
			form := 0.004 * rng.NormFloat64()
			for lane := 1; lane <= lanes; lane++ {
				lap := time.Duration(6e9 * math.Exp(truth[driver]+form+0.008*rng.NormFloat64()))
				all = append(all, analysis.Stint{Driver: driver, Night: night, Heat: lane, Lane: lane, Layout: layout, Laps: []time.Duration{lap, lap, lap, lap}})
			}
		}
		for _, d := range []string{"A", "B", "C", "D"} {
			come(d, "Mill", 1, 4)
		}
		for _, d := range []string{"C", "D", "E", "F", "G"} {
			come(d, "Yard", 2, 6)
		}
		a, err := AcrossLayouts(all, "")
		if err != nil {
			t.Fatal(err)
		}
		if spread, _, _, _ := a.Spread(); spread < 1e-6 {
			collapsed++
		}
		for _, pair := range [][2]string{{"A", "B"}, {"A", "G"}, {"B", "E"}, {"E", "G"}, {"C", "D"}} {
			d, err := a.Compare(pair[0], pair[1])
			if err != nil {
				t.Fatal(err)
			}
			if !(d.SE > 0.002) {
				t.Fatalf("season %d: %s and %s: %+v is too sure", seed, pair[0], pair[1], d)
			}
			checked++
			if want := truth[pair[0]] - truth[pair[1]]; d.Low <= want && want <= d.High {
				inside++
			}
		}
	}
	if collapsed < seasons/2 {
		t.Errorf("only %d of %d seasons show what this test is about", collapsed, seasons)
	}
	if share := float64(inside) / float64(checked); share < 0.93 {
		t.Errorf("%.1f %% of 95 %% intervals hold the truth", share*100)
	}
}

// One visit each on one layout: the figures are those of plain least squares.
func TestVisitFitOfOneLayoutIsTheMeanOfLanes(t *testing.T) {
	// two drivers, two lanes, lane 2 slower by .01, B slower by .03
	y := []float64{1, 1.01, 1.03, 1.04}
	f, err := newVisitFit([]int{0, 0, 1, 1}, []int{0, 0, 1, 1}, []int{0, 1, 0, 1}, 2, 2, 2, y, 0.01, 0.02)
	if err != nil {
		t.Fatal(err)
	}
	v, se := f.contrast(1, 0)
	near(t, "difference", v, 0.03, 1e-12)
	near(t, "standard error", se, math.Sqrt(2*(0.0001+0.0004/2)), 1e-12)
}

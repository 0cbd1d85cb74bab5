package fairness

import (
	"flag"
	"math"
	"testing"

	"lanewright/race/analysis"
)

// nights is how many nights the coverage test simulates. The figure for the
// books is made with
//
//	go test ./race/fairness -run Coverage -v -nights 2000
//
// and must lie within 93.5 to 96.5 %.
var nights = flag.Int("nights", 100, "nights simulated to measure how often 95 % intervals hold the truth")

func TestCoverageOfIntervals(t *testing.T) {
	for _, c := range []struct {
		name           string
		drivers, lanes int
		plan           [][3]int
		laneSD, drift  float64
	}{
		{"8 drivers, 4 lanes, complete", 8, 4, cyclic(8, 4, 8), 0.015, 0.001},
		{"12 drivers, 6 lanes, 3 stints each", 12, 6, threeOfSix(), 0.03, 0},
	} {
		r := newStream(2024)
		var lane, driver count
		alarms := 0
		for range *nights {
			drivers, lanes := spread(c.drivers, 0.02, r), spread(c.lanes, c.laneSD, r)
			stints := simulate(r, drivers, lanes, c.plan, 0.006, 0.05)
			obs, _, err := analysis.PaceObs(stints)
			if err != nil {
				t.Fatal(err)
			}
			for i := range obs { // the evening drifts
				obs[i].Y += c.drift * float64(obs[i].Heat)
			}
			f, err := analysis.FitLanes(obs, analysis.LaneOptions{Trend: analysis.HeatLinear})
			if err != nil {
				t.Fatal(err)
			}
			for _, p := range f.LanePairs() {
				lane.add(p, lanes[f.Lanes[p.A].Lane-1]-lanes[f.Lanes[p.B].Lane-1])
			}
			lane.night()
			for a := range f.Drivers {
				for b := range a {
					p := f.DriverPair(a, b)
					driver.add(p, drivers[a]-drivers[b])
				}
			}
			driver.night()
			// Without any lane effect the lane test must cry wolf one time in twenty.
			for i := range obs {
				obs[i].Y -= lanes[obs[i].Lane-1]
			}
			if f, err = analysis.FitLanes(obs, analysis.LaneOptions{Trend: analysis.HeatLinear}); err != nil {
				t.Fatal(err)
			}
			if *f.LaneTest.P < 0.05 {
				alarms++
			}
		}
		n := float64(*nights)
		t.Logf("%s: %d nights: lane differences %.2f %% (s.e. %.2f), driver differences %.2f %% (s.e. %.2f), false alarms of the lane test %.2f %%",
			c.name, *nights, 100*lane.rate(), 100*lane.se(), 100*driver.rate(), 100*driver.se(), 100*float64(alarms)/n)
		// 93.5 to 96.5 %, widened by four standard errors when few nights are run.
		for what, got := range map[string]count{"lane": lane, "driver": driver} {
			slack := 0.015
			if *nights < 2000 {
				slack += 4 * got.se()
			}
			if math.Abs(got.rate()-0.95) > slack {
				t.Errorf("%s: %s differences: %.2f %% of the intervals hold the truth", c.name, what, 100*got.rate())
			}
		}
	}
}

// threeOfSix gives twelve drivers three of six lanes each in six heats, connected.
func threeOfSix() [][3]int {
	var plan [][3]int
	for turn, step := range []int{0, 1, 3} {
		for d := range 12 {
			plan = append(plan, [3]int{2*turn + d/6, d, (d + step) % 6})
		}
	}
	return plan
}

// count counts intervals that hold the truth, and night by night for the standard
// error, because the pairs of one night share their errors.
type count struct {
	held, all       float64
	nightHeld, nAll float64
	sum, square, n  float64
}

func (c *count) add(p analysis.Pair, truth float64) {
	c.nAll++
	if *p.Diff.Low <= truth && truth <= *p.Diff.High {
		c.nightHeld++
	}
}

func (c *count) night() {
	x := c.nightHeld / c.nAll
	c.sum, c.square, c.n = c.sum+x, c.square+x*x, c.n+1
	c.held, c.all = c.held+c.nightHeld, c.all+c.nAll
	c.nightHeld, c.nAll = 0, 0
}

func (c count) rate() float64 { return c.held / c.all }

func (c count) se() float64 {
	m := c.sum / c.n
	return math.Sqrt((c.square/c.n - m*m) / (c.n - 1))
}

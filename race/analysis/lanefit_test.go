package analysis

import (
	"errors"
	"fmt"
	"math"
	"testing"

	"pgregory.net/rapid"
)

// toyNight is an incomplete night of four drivers on three lanes: C missed lane
// 3, D missed lane 2. Scores in laps.
func toyNight() []Obs {
	return []Obs{
		{"A", 1, 1, 24.35}, {"A", 2, 2, 25.10}, {"A", 3, 3, 24.80},
		{"B", 1, 4, 23.90}, {"B", 2, 1, 24.75}, {"B", 3, 2, 24.20},
		{"C", 1, 3, 24.60}, {"C", 2, 4, 25.40},
		{"D", 1, 2, 22.80}, {"D", 3, 1, 23.45},
	}
}

// Source of the figures of the toy night: R 4.2.2, lm(y ~ driver + lane) with
// sum-to-zero contrasts, anova in both orders. The Tukey p values are by direct
// double integration of the definition in R (integrate, 1e-12), because R's own
// ptukey is good to five digits only: it gives .0011307145 for the first pair where
// the integral gives .0011307002.
func TestToyNight(t *testing.T) {
	f, err := FitLanes(toyNight(), LaneOptions{})
	if err != nil {
		t.Fatal(err)
	}
	const tol = 1e-12
	near(t, "mean", *f.Mean.Value, 24.3434523809524, tol)
	near(t, "s", *f.S, 0.102178648407954, tol)
	near(t, "RSS", f.RSS, 0.0417619047619049, tol)
	if f.DF != 4 || f.Rank != 6 || f.DriverGroups != 1 || f.LaneGroups != 1 {
		t.Errorf("df %d, rank %d, groups %d and %d", f.DF, f.Rank, f.DriverGroups, f.LaneGroups)
	}
	for i, c := range []struct{ d, se, adjusted, three, raw, luck float64 }{
		{0.406547619047622, 0.053466829100471, 24.75, 74.25, 24.75, 0},
		{-0.060119047619049, 0.053466829100471, 24.2833333333333, 72.85, 24.2833333333333, 0},
		{0.671785714285713, 0.065197893417828, 25.0152380952381, 75.0457142857143, 25.0, -0.030476190476189},
		{-1.018214285714287, 0.065197893417828, 23.3252380952381, 69.9757142857143, 23.125, -0.400476190476190},
	} {
		e := f.Drivers[i]
		near(t, e.Driver+" effect", *e.Value, c.d, tol)
		near(t, e.Driver+" SE", *e.SE, c.se, tol)
		near(t, e.Driver+" adjusted", *e.Adjusted.Value, c.adjusted, tol)
		near(t, e.Driver+" adjusted, three lanes", 3**e.Adjusted.Value, c.three, tol)
		near(t, e.Driver+" raw mean", e.RawMean, c.raw, tol)
		near(t, e.Driver+" luck", *e.Luck, c.luck, tol)
	}
	if *f.Drivers[0].Luck != 0 || *f.Drivers[1].Luck != 0 {
		t.Error("a driver who ran every lane once has lane luck")
	}
	for i, c := range []struct{ l, se float64 }{
		{-0.430952380952379, 0.0445944181654978}, {0.400476190476190, 0.0508454596888952}, {0.030476190476189, 0.0508454596888952},
	} {
		near(t, fmt.Sprint("lane ", i+1), *f.Lanes[i].Value, c.l, tol)
		near(t, fmt.Sprint("lane SE ", i+1), *f.Lanes[i].SE, c.se, tol)
	}
	for i, c := range []struct{ diff, se, t, p, tukey, low, high float64 }{
		{-0.831428571428569, 0.0810097835697246, -10.2633106125134, 0.000508162951300375, 0.001130700228462, -1.05634778849386, -0.606509354363275},
		{-0.461428571428568, 0.0810097835697246, -5.69596104440175, 0.00469381052468584, 0.010290705811615, -0.686347788493863, -0.236509354363274},
		{0.370000000000001, 0.0913913614756941, 4.04852268338735, 0.0154945946436582, 0.033317386675031, 0.116256901773448, 0.623743098226554},
	} {
		p := f.LanePairs()[i]
		near(t, "diff", *p.Diff.Value, c.diff, tol)
		near(t, "SE", *p.Diff.SE, c.se, tol)
		near(t, "t", *p.T, c.t, 1e-12)
		relative(t, "p", *p.P, c.p, 1e-11)
		relative(t, "Tukey p", *p.Tukey, c.tukey, 1e-11)
		near(t, "low", *p.Diff.Low, c.low, tol)
		near(t, "high", *p.Diff.High, c.high, tol)
	}
	d1, l2, l1, d2, _, total := f.SequentialSS()
	near(t, "SS drivers first", d1, 4.33733333333333, tol)
	near(t, "SS lanes after drivers", l2, 1.14615476190476, tol)
	near(t, "SS lanes first", l1, 2.49670833333333, tol)
	near(t, "SS drivers after lanes", d2, 2.98677976190476, tol)
	near(t, "SS total", d1+l2+f.RSS, total, tol)
	near(t, "F lanes", *f.LaneTest.F, 54.88997, 1e-7)
	relative(t, "p lanes", *f.LaneTest.P, 0.00123592, 1e-5)
	near(t, "F drivers", *f.DriverTest.F, 95.35899, 1e-7)
	relative(t, "p drivers", *f.DriverTest.P, 0.00035489, 2e-5)
	near(t, "P(C better than A)", *f.Better(2, 0, true), 0.974140793044028, tol)
	ca := f.DriverPair(2, 0)
	near(t, "C-A", *ca.Diff.Value, 0.265238095238091, tol)
	near(t, "C-A SE", *ca.Diff.SE, 0.0966783947846706, tol)
	s := f.Shares()
	near(t, "shares add up", *s.Driver+*s.Lane+*s.Rest, 1, tol)
	near(t, "driver share", *s.Driver, (d1+d2)/2/total, tol)
}

func TestToyNightHuber(t *testing.T) {
	// Source: the recipe run in R 4.2.2; weights and effects to the digits given.
	f, err := FitLanes(toyNight(), LaneOptions{Robust: true})
	if err != nil || !f.Robust {
		t.Fatal(err, f.Robust)
	}
	const tol = 1e-10
	near(t, "s", *f.S, 0.0555144337527739, tol)
	near(t, "mean", *f.Mean.Value, 24.351597196521, tol)
	for i, want := range []float64{0.3984028034789, -0.0389306532198, 0.6734028034789, -1.032874953738} {
		near(t, "driver", *f.Drivers[i].Value, want, tol)
	}
	for i, want := range []float64{-0.4374444855662, 0.3874444855662, 0.05} {
		near(t, "lane", *f.Lanes[i].Value, want, tol)
	}
	for i, w := range f.Weights {
		want := 1.0
		switch i {
		case 5:
			want = 0.459018258347
		case 8, 9:
			want = 0.9186635551255
		}
		near(t, fmt.Sprint("weight ", i+1), w, want, 1e-9)
	}
}

// orchard reads the Latin square as heats (rows), lanes (columns), drivers
// (treatments).
func orchard(t *testing.T, y func(float64) float64) []Obs {
	d := readTable(t, "OrchardSprays")
	out := make([]Obs, len(d.rows))
	rows, cols, dec := d.numbers(t, "rowpos"), d.numbers(t, "colpos"), d.numbers(t, "decrease")
	for i, tr := range d.words("treatment") {
		out[i] = Obs{tr, int(cols[i]), int(rows[i]), y(dec[i])}
	}
	return out
}

func same(x float64) float64 { return x }

func TestLatinSquareAsANight(t *testing.T) {
	// Source: R 4.2.2, lm(decrease ~ rowpos + colpos + treatment) on
	// OrchardSprays, all as factors.
	for _, c := range []struct {
		name                                string
		y                                   func(float64) float64
		row, col, driver, rest              float64
		fRow, fCol, fDriver, pRow, pCol, pD float64
	}{
		{"plain", same, 4767.484375, 2807.234375, 56159.984375, 15994.90625, 1.78837598688645, 1.05304813837218, 21.0667009223640, .115108, .410037, 7.45492e-12},
		{"ln", math.Log, 3.1933350107349, 0.817436603491877, 72.7765456682403, 8.52829017032507, 2.24664143477181, 0.575099993433305, 51.2012684006503, -1, -1, -1},
	} {
		f, err := FitLanes(orchard(t, c.y), LaneOptions{Trend: HeatFactor})
		if err != nil {
			t.Fatal(err)
		}
		const tol = 1e-12
		near(t, c.name+" row", f.TrendTest.SS, c.row, tol)
		near(t, c.name+" col", f.LaneTest.SS, c.col, tol)
		near(t, c.name+" driver", f.DriverTest.SS, c.driver, tol)
		near(t, c.name+" rest", f.RSS, c.rest, tol)
		near(t, c.name+" F row", *f.TrendTest.F, c.fRow, tol)
		near(t, c.name+" F col", *f.LaneTest.F, c.fCol, tol)
		near(t, c.name+" F driver", *f.DriverTest.F, c.fDriver, tol)
		if f.DF != 42 {
			t.Errorf("%s: df %d, want 42", c.name, f.DF)
		}
		if c.pRow < 0 {
			continue
		}
		relative(t, "p row", *f.TrendTest.P, c.pRow, 5e-6)
		relative(t, "p col", *f.LaneTest.P, c.pCol, 5e-6)
		relative(t, "p driver", *f.DriverTest.P, c.pD, 5e-6)
		near(t, "s", *f.S, 19.5148943422832, tol)
		for i, want := range []float64{4.625, 7.625, 25.25, 35, 63.125, 69, 68.5, 90.25} {
			near(t, "mean "+f.Drivers[i].Driver, *f.Drivers[i].Adjusted.Value, want, tol)
		}
		p := f.DriverPair(0, 1)
		near(t, "SE diff", *p.Diff.SE, 9.75744717114159, tol)
		near(t, "LSD", (*p.Diff.High-*p.Diff.Low)/2, 19.6913256022984, tol)
		near(t, "Tukey HSD", TukeyQuantile(.05, 8, 42)*19.5148943422832/math.Sqrt(8), 31.1107804241666, 1e-8)
		near(t, "driver efficiency", *f.DriverEfficiency(), 1, tol)
		near(t, "lane efficiency", *f.LaneEfficiency(), 1, tol)
	}
}

func TestUnbalancedLatinSquare(t *testing.T) {
	// Source: R 4.2.2, the same without data-frame rows 3, 11, 18, 25, 30, 37,
	// 44, 52, 59, 64.
	all := orchard(t, same)
	gone := map[int]bool{3: true, 11: true, 18: true, 25: true, 30: true, 37: true, 44: true, 52: true, 59: true, 64: true}
	var obs []Obs
	for i, o := range all {
		if !gone[i+1] {
			obs = append(obs, o)
		}
	}
	f, err := FitLanes(obs, LaneOptions{Trend: HeatFactor})
	if err != nil {
		t.Fatal(err)
	}
	for i, want := range []float64{-40.983450042544, -35.770356611391, -19.032756103837, -8.996874117540, 17.516549957456, 22.413448551651, 25.294909784717} {
		near(t, "effect "+f.Drivers[i].Driver, *f.Drivers[i].Value, want, 1e-12)
	}
	near(t, "SE A", *f.Drivers[0].SE, 6.362607394124, 1e-12)
	near(t, "SE G", *f.Drivers[6].SE, 7.585614765311, 1e-12)
	near(t, "RSS", f.RSS, 11444.56085514, 1e-11)
	near(t, "RSS without drivers", f.RSS+f.DriverTest.SS, 51292.153156, 1e-10)
	near(t, "F", *f.DriverTest.F, 15.91677, 1e-6)
	if f.DF != 32 {
		t.Errorf("df %d, want 32", f.DF)
	}
}

func TestLatinSquareHuber(t *testing.T) {
	// Source: R 4.2.2 with MASS 7.3-58, rlm(..., k = 1.345) run to convergence.
	f, err := FitLanes(orchard(t, same), LaneOptions{Trend: HeatFactor, Robust: true})
	if err != nil || !f.Robust {
		t.Fatal(err)
	}
	near(t, "s", *f.S, 11.4769458838918, 1e-10)
	for _, c := range []struct {
		driver int
		want   float64
	}{{1, 3.0}, {2, 17.1414845091397}, {4, 54.0837422316167}, {7, 82.5514704524436}} {
		near(t, "treatment "+f.Drivers[c.driver].Driver+"-A", *f.DriverPair(c.driver, 0).Diff.Value, c.want, 1e-10)
	}
	below := 0
	for _, w := range f.Weights {
		if w < 1 {
			below++
		}
	}
	if below != 11 {
		t.Errorf("%d weights below 1, want 11", below)
	}
}

func rounding(t *testing.T) ([]Obs, [][]float64) {
	d := readTable(t, "RoundingTimes")
	path, runner, time := d.numbers(t, "path"), d.numbers(t, "runner"), d.numbers(t, "time")
	var obs []Obs
	rows := make([][]float64, 22)
	for i := range time {
		obs = append(obs, Obs{fmt.Sprintf("runner %02.0f", runner[i]), int(path[i]), 1, time[i]})
		rows[int(runner[i])-1] = append(rows[int(runner[i])-1], time[i])
	}
	return obs, rows
}

func TestRunnersAsDriversAndPathsAsLanes(t *testing.T) {
	obs, rows := rounding(t)
	// Source: help page of friedman.test in R 4.2.2 (11.143, .003805), more
	// digits by the same function; M. Hollander and D. A. Wolfe (1973), p. 140.
	fr, err := FriedmanTest(rows)
	if err != nil {
		t.Fatal(err)
	}
	near(t, "Friedman chi2", *fr.Chi2, 11.1428571428571, 1e-13)
	relative(t, "Friedman p", *fr.P, .00380504077551136, 1e-12)
	// Source: R 4.2.2, lm(time ~ runner + path).
	f, err := FitLanes(obs, LaneOptions{})
	if err != nil {
		t.Fatal(err)
	}
	near(t, "F", *f.LaneTest.F, 6.28830791575882, 1e-11)
	relative(t, "p", *f.LaneTest.P, .00408410072219757, 1e-10)
	for i, want := range []float64{.0310606060606062, .0219696969696974, -.0530303030303028} {
		near(t, "path", *f.Lanes[i].Value, want, 1e-13)
	}
	relative(t, "Tukey p 3-1", *f.LanePairs()[1].Tukey, .00664746708630, 1e-9)
	// Balanced: Var(difference) = 2 s^2/N, Var(lane) = s^2 (1-1/L)/N.
	near(t, "SE diff", *f.LanePairs()[0].Diff.SE, *f.S*math.Sqrt(2.0/22), 1e-13)
	near(t, "SE lane", *f.Lanes[0].SE, *f.S*math.Sqrt((1-1.0/3)/22), 1e-13)
	near(t, "SE driver", *f.Drivers[0].SE, *f.S*math.Sqrt((1-1.0/22)/3), 1e-13)
	for i := 1; i < 3; i++ {
		for _, d := range f.Drivers {
			if *d.Luck != 0 {
				t.Fatalf("lane luck %v in a complete rotation", *d.Luck)
			}
		}
	}
}

func TestSpeedOfLightRunsAsDrivers(t *testing.T) {
	// Source: R 4.2.2, aov(Speed ~ Run + Expt, morley), TukeyHSD.
	d := readTable(t, "morley")
	var obs []Obs
	expt, run, speed := d.numbers(t, "Expt"), d.words("Run"), d.numbers(t, "Speed")
	for i := range speed {
		obs = append(obs, Obs{run[i], int(expt[i]), 1, speed[i]})
	}
	f, err := FitLanes(obs, LaneOptions{})
	if err != nil {
		t.Fatal(err)
	}
	near(t, "SS Run", f.DriverTest.SS, 113344, 1e-11)
	near(t, "SS Expt", f.LaneTest.SS, 94514, 1e-11)
	near(t, "RSS", f.RSS, 410166, 1e-11)
	near(t, "F Run", *f.DriverTest.F, 1.10534759097536, 1e-12)
	near(t, "F Expt", *f.LaneTest.F, 4.37814445858507, 1e-12)
	relative(t, "p Run", *f.DriverTest.P, .36320934, 1e-7)
	relative(t, "p Expt", *f.LaneTest.P, .00307058926287645, 1e-11)
	if f.DF != 76 || f.DriverTest.DF != 19 || f.LaneTest.DF != 4 {
		t.Errorf("df %d, %d, %d", f.DF, f.DriverTest.DF, f.LaneTest.DF)
	}
	p := f.LanePairs()[2] // 1 and 4
	near(t, "4-1", *p.Diff.Value, 88.5, 1e-12)
	// ptukey: .002534241365; direct double integration in R: .002534241472.
	relative(t, "Tukey p 4-1", *p.Tukey, .002534241472186, 1e-11)
}

func TestOrderOfInputChangesNothing(t *testing.T) {
	want, err := FitLanes(toyNight(), LaneOptions{Trend: HeatLinear})
	if err != nil {
		t.Fatal(err)
	}
	rapid.Check(t, func(t *rapid.T) {
		got, err := FitLanes(rapid.Permutation(toyNight()).Draw(t, "order"), LaneOptions{Trend: HeatLinear})
		if err != nil {
			t.Fatal(err)
		}
		for i := range want.Drivers {
			if math.Abs(*got.Drivers[i].Value-*want.Drivers[i].Value) > 1e-12 || math.Abs(*got.Drivers[i].SE-*want.Drivers[i].SE) > 1e-12 {
				t.Fatalf("driver %d: %v and %v", i, got.Drivers[i], want.Drivers[i])
			}
		}
	})
}

func TestNamesChangeNothing(t *testing.T) {
	want, _ := FitLanes(toyNight(), LaneOptions{})
	renamed := toyNight()
	to := map[string]string{"A": "zoe", "B": "Yan", "C": "émile", "D": "Ada"}
	for i := range renamed {
		renamed[i].Driver = to[renamed[i].Driver]
	}
	got, err := FitLanes(renamed, LaneOptions{})
	if err != nil {
		t.Fatal(err)
	}
	for _, w := range want.Drivers {
		for _, g := range got.Drivers {
			if g.Driver == to[w.Driver] {
				near(t, w.Driver, *g.Value, *w.Value, 1e-12)
				near(t, w.Driver+" SE", *g.SE, *w.SE, 1e-12)
			}
		}
	}
	for l := range want.Lanes {
		near(t, "lane", *got.Lanes[l].Value, *want.Lanes[l].Value, 1e-12)
	}
}

// components is the graph test, written without matrices: drivers and lanes are
// nodes, stints are edges.
func components(obs []Obs) int {
	parent := map[string]string{}
	var find func(string) string
	find = func(x string) string {
		if parent[x] == "" || parent[x] == x {
			parent[x] = x
			return x
		}
		return find(parent[x])
	}
	for _, o := range obs {
		a, b := find("d"+o.Driver), find(fmt.Sprint("l", o.Lane))
		parent[a] = b
	}
	roots := map[string]bool{}
	for x := range parent {
		roots[find(x)] = true
	}
	return len(roots)
}

func TestRankFollowsFromConnectedness(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(1, 25).Draw(t, "stints")
		var obs []Obs
		drivers, lanes := map[string]bool{}, map[int]bool{}
		for i := range n {
			o := Obs{fmt.Sprint(rapid.IntRange(0, 7).Draw(t, "driver")), rapid.IntRange(1, 5).Draw(t, "lane"), i, rapid.Float64Range(20, 30).Draw(t, "y")}
			drivers[o.Driver], lanes[o.Lane] = true, true
			obs = append(obs, o)
		}
		f, err := FitLanes(obs, LaneOptions{})
		if err != nil {
			t.Fatal(err)
		}
		c := components(obs)
		if f.Rank != len(drivers)+len(lanes)-c || f.DF != n-f.Rank || f.DriverGroups != c || f.LaneGroups != c {
			t.Fatalf("%d components, rank %d, df %d, groups %d and %d", c, f.Rank, f.DF, f.DriverGroups, f.LaneGroups)
		}
		for _, p := range f.DriverPairs() {
			if (p.Diff.Value != nil) != (f.Drivers[p.A].Group == f.Drivers[p.B].Group) {
				t.Fatalf("pair %v across groups", p)
			}
			if f.DF == 0 && p.Diff.SE != nil {
				t.Fatal("a standard error without degrees of freedom")
			}
			for _, x := range []*float64{p.Diff.Value, p.Diff.SE, p.T, p.P, p.Tukey, p.Holm} {
				if x != nil && (math.IsNaN(*x) || math.IsInf(*x, 0)) {
					t.Fatal("a figure that is no number")
				}
			}
		}
		// Residuals are at right angles to drivers and lanes.
		sum := map[string]float64{}
		for i, o := range f.Sorted {
			sum["d"+o.Driver] += f.Resid[i]
			sum[fmt.Sprint("l", o.Lane)] += f.Resid[i]
		}
		for k, s := range sum {
			if math.Abs(s) > 1e-9 {
				t.Fatalf("residuals of %s sum to %v", k, s)
			}
		}
	})
}

func TestEdgeCases(t *testing.T) {
	t.Run("two groups that never share a lane are not compared", func(t *testing.T) {
		f, err := FitLanes([]Obs{{"A", 1, 1, 20}, {"A", 2, 2, 21}, {"B", 1, 3, 22}, {"B", 2, 1, 23.5}, {"C", 3, 1, 30}, {"D", 3, 2, 29}, {"C", 4, 3, 31}}, LaneOptions{})
		if err != nil {
			t.Fatal(err)
		}
		if f.DriverGroups != 2 || f.Mean.Value != nil {
			t.Errorf("groups %d, mean %v", f.DriverGroups, f.Mean.Value)
		}
		if p := f.DriverPair(0, 2); p.Diff.Value != nil || p.P != nil {
			t.Error("A and C were compared")
		}
		if p := f.DriverPair(0, 1); p.Diff.Value == nil {
			t.Error("A and B were not compared")
		}
	})
	t.Run("a tree has effects but no standard errors", func(t *testing.T) {
		f, err := FitLanes([]Obs{{"A", 1, 1, 20}, {"A", 2, 2, 21}, {"B", 2, 3, 22}}, LaneOptions{})
		if err != nil {
			t.Fatal(err)
		}
		if f.DF != 0 || f.S != nil || f.Drivers[0].Value == nil || f.Drivers[0].SE != nil || f.LaneTest.F != nil {
			t.Errorf("df %d, s %v, %+v", f.DF, f.S, f.Drivers[0])
		}
		near(t, "lane difference", *f.LanePairs()[0].Diff.Value, -1, 1e-12)
	})
	t.Run("one dead lane: its effect stands while one driver links it", func(t *testing.T) {
		f, err := FitLanes([]Obs{{"A", 1, 1, 20}, {"A", 2, 2, 21}, {"A", 3, 3, 19}, {"B", 1, 4, 20.4}, {"B", 2, 1, 21.3}, {"C", 1, 2, 20.1}, {"C", 2, 3, 21}}, LaneOptions{})
		if err != nil {
			t.Fatal(err)
		}
		if f.Lanes[2].Value == nil || f.Lanes[2].SE == nil || f.LaneGroups != 1 {
			t.Errorf("%+v", f.Lanes[2])
		}
		if f.Resid[2] > 1e-12 {
			t.Errorf("the only stint on a lane has leverage 1, residual %v", f.Resid[2])
		}
	})
	t.Run("identical laps: no test, no error, no Huber", func(t *testing.T) {
		var obs []Obs
		for d := range 4 {
			for l := range 3 {
				obs = append(obs, Obs{fmt.Sprint(d), l, d + l, math.Log(6.1)})
			}
		}
		f, err := FitLanes(obs, LaneOptions{Robust: true})
		if err != nil {
			t.Fatal(err)
		}
		if f.Robust || *f.S != 0 || f.LaneTest.F != nil || f.Lanes[0].SE != nil || f.LanePairs()[0].P != nil {
			t.Errorf("robust %v, s %v, %+v", f.Robust, *f.S, f.Lanes[0])
		}
		if s := f.Shares(); s.Driver != nil {
			t.Errorf("shares of nothing: %v", *s.Driver)
		}
	})
	t.Run("heats as a factor on two lanes: drivers never in the same heats are not compared", func(t *testing.T) {
		obs := []Obs{{"A", 1, 1, 20}, {"B", 2, 1, 21}, {"A", 2, 2, 20}, {"B", 1, 2, 21.5}, {"C", 1, 3, 22}, {"D", 2, 3, 23}, {"C", 2, 4, 22}, {"D", 1, 4, 24}}
		f, err := FitLanes(obs, LaneOptions{Trend: HeatFactor})
		if err != nil {
			t.Fatal(err)
		}
		if f.DriverPair(0, 1).Diff.Value == nil || f.DriverPair(0, 2).Diff.Value != nil || f.LaneGroups != 1 {
			t.Errorf("groups %d %d", f.DriverGroups, f.LaneGroups)
		}
		if f, err = FitLanes(obs, LaneOptions{Trend: HeatLinear}); err != nil || f.DriverPair(0, 2).Diff.Value == nil {
			t.Error("with a slope they are compared", err)
		}
	})
	t.Run("clocks in microseconds since long ago", func(t *testing.T) {
		night, shifted := toyNight(), toyNight()
		for i := range night {
			night[i].Y = math.Round(night[i].Y * 1e6)
			shifted[i].Y = night[i].Y + 1e11
		}
		a, _ := FitLanes(night, LaneOptions{})
		b, err := FitLanes(shifted, LaneOptions{})
		if err != nil {
			t.Fatal(err)
		}
		relative(t, "s", *b.S, *a.S, 1e-9)
	})
	t.Run("what is not a number is refused", func(t *testing.T) {
		for _, y := range []float64{math.NaN(), math.Inf(1)} {
			if _, err := FitLanes([]Obs{{"A", 1, 1, y}}, LaneOptions{}); !errors.Is(err, ErrBadInput) {
				t.Error(err)
			}
		}
		if _, err := FitLanes(nil, LaneOptions{}); !errors.Is(err, ErrBadInput) {
			t.Error(err)
		}
	})
	t.Run("one stint alone", func(t *testing.T) {
		f, err := FitLanes([]Obs{{"A", 3, 1, 20}}, LaneOptions{Trend: HeatLinear, Robust: true})
		if err != nil || f.Trend.Value != nil || f.LaneTest != nil || *f.Drivers[0].Adjusted.Value != 20 {
			t.Errorf("%v %+v", err, f)
		}
	})
}

func TestHeatTrend(t *testing.T) {
	// y is made of parts, so the slope must come back exactly.
	var obs []Obs
	for d := range 4 {
		for l := range 4 {
			h := (d+l)%4 + 1
			obs = append(obs, Obs{fmt.Sprint(d), l, h, 20 + float64(d) - 0.3*float64(l) + 0.05*float64(h)})
		}
	}
	f, err := FitLanes(obs, LaneOptions{Trend: HeatLinear})
	if err != nil {
		t.Fatal(err)
	}
	near(t, "slope", *f.Trend.Value, 0.05, 1e-12)
	near(t, "lane 0-1", *f.LanePairs()[0].Diff.Value, 0.3, 1e-12)
	near(t, "driver 1-0", *f.DriverPair(1, 0).Diff.Value, 1, 1e-12)
	for _, d := range f.Drivers {
		near(t, "trend luck", *d.TrendLuck, 0, 1e-12) // each drove heats 1 to 4
	}
}

func BenchmarkLaneEffectsSixtyDriversOnEightLanes(b *testing.B) {
	var obs []Obs
	for d := range 60 {
		for l := range 8 {
			obs = append(obs, Obs{fmt.Sprintf("driver %02d", d), l + 1, (d + l) % 60, 1.8 + 0.001*float64((d*37+l*11)%97)})
		}
	}
	b.ReportAllocs()
	for b.Loop() {
		f, err := FitLanes(obs, LaneOptions{Trend: HeatLinear})
		if err != nil {
			b.Fatal(err)
		}
		f.LanePairs()
	}
}

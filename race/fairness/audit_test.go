package fairness

import (
	"errors"
	"fmt"
	"math"
	"reflect"
	"slices"
	"strings"
	"testing"
	"time"

	"lanewright/race/analysis"

	"pgregory.net/rapid"
)

func near(t *testing.T, what string, got *float64, want, tol float64) {
	t.Helper()
	if got == nil {
		t.Errorf("%s: nothing, want %v", what, want)
	} else if !(math.Abs(*got-want) <= tol*math.Max(1, math.Abs(want))) {
		t.Errorf("%s: got %.15g, want %.15g (off by %.3g, allowed %.3g)", what, *got, want, *got-want, tol)
	}
}

// toyNight is an incomplete night of four drivers on three lanes, scores only.
func toyNight() ([]analysis.Stint, []Official) {
	var stints []analysis.Stint
	for _, s := range []struct {
		d          string
		lane, heat int
		y          float64
	}{
		{"A", 1, 1, 24.35}, {"A", 2, 2, 25.10}, {"A", 3, 3, 24.80}, {"B", 1, 4, 23.90}, {"B", 2, 1, 24.75}, {"B", 3, 2, 24.20},
		{"C", 1, 3, 24.60}, {"C", 2, 4, 25.40}, {"D", 1, 2, 22.80}, {"D", 3, 1, 23.45},
	} {
		stints = append(stints, analysis.Stint{Driver: s.d, Lane: s.lane, Heat: s.heat, Score: s.y})
	}
	return stints, []Official{{"A", 1, 74.25}, {"B", 2, 72.85}, {"C", 3, 50}, {"D", 4, 46.25}}
}

func TestAuditOfAnIncompleteNight(t *testing.T) {
	stints, official := toyNight()
	r, err := Audit(stints, official, Options{Seed: 1})
	if err != nil {
		t.Fatal(err)
	}
	// Lane effects with the heat as covariate: R 4.2.2, lm(y ~ driver + lane +
	// heat), sum-to-zero lanes; luck by hand from them.
	want := []float64{-0.428534031413610, 0.396727748691099, 0.031806282722512}
	for i, w := range want {
		near(t, fmt.Sprint("lane ", i+1), r.Lanes[i].LapsPerStint, w, 1e-12)
	}
	near(t, "A has no lane luck", r.Rows[0].LaneLuck, 0, 0)
	near(t, "C's luck", r.Rows[2].LaneLuck, want[0]+want[1], 1e-12)
	near(t, "D's luck", r.Rows[3].LaneLuck, want[0]+want[2], 1e-12)
	near(t, "B's margin", r.Rows[1].Ahead, 1.4, 1e-12)
	near(t, "A's cushion", r.Rows[0].Behind, 1.4, 1e-12)
	if fmt.Sprint(r.Rotation.Missing) != "[{C 3} {D 2}]" || r.Rotation.Complete {
		t.Errorf("missing %v", r.Rotation.Missing)
	}
	if r.Basis != "score" || r.PlacesChanged != 0 || *r.Tau != 1 {
		t.Errorf("basis %s, %d places changed, tau %v", r.Basis, r.PlacesChanged, *r.Tau)
	}
	if !strings.HasPrefix(r.Sentence, "Lanes cost at most 0.40 laps and gave at most nothing over the night; no place rests on luck") {
		t.Error(r.Sentence)
	}
}

// simulate makes a night: driver and lane paces as given, one stint for each cell
// of plan (heat, driver, lane).
func simulate(r *stream, drivers, lanes []float64, plan [][3]int, stintSD, spin float64) []analysis.Stint {
	const lapSD = 0.02
	var out []analysis.Stint
	for _, p := range plan {
		pace := drivers[p[1]] + lanes[p[2]] + stintSD*r.normal()
		s := analysis.Stint{Driver: fmt.Sprintf("driver %02d", p[1]+1), Lane: p[2] + 1, Heat: p[0] + 1}
		const length = 180 * time.Second
		clock := time.Duration(0)
		for {
			lap := 6 * math.Exp(pace+lapSD*r.normal())
			if len(s.Laps) == 0 {
				lap += 1.5
			}
			if r.uniform() < spin {
				lap += 2.5 + 5.5*r.uniform()
			}
			d := time.Duration(lap * 1e9)
			if clock+d > length {
				s.Score = float64(len(s.Laps)) + math.Floor(100*float64(length-clock)/float64(d))/100
				break
			}
			clock += d
			s.Laps = append(s.Laps, d)
		}
		out = append(out, s)
	}
	return out
}

// cyclic is the usual rotation: in heat h driver (h+l) drives lane l; with as many
// heats as drivers everybody runs every lane once.
func cyclic(drivers, lanes, heats int) [][3]int {
	var plan [][3]int
	for h := range heats {
		for l := range lanes {
			plan = append(plan, [3]int{h, (h + l) % drivers, l})
		}
	}
	return plan
}

func results(stints []analysis.Stint) []Official {
	var names []string
	total := map[string]float64{}
	for _, s := range stints {
		names = append(names, s.Driver)
		total[s.Driver] += s.Score
	}
	names = unique(names)
	slices.SortStableFunc(names, func(a, b string) int {
		switch {
		case total[a] > total[b]:
			return -1
		case total[a] < total[b]:
			return 1
		}
		return 0
	})
	var out []Official
	for i, n := range names {
		out = append(out, Official{n, i + 1, total[n]})
	}
	return out
}

func spread(n int, sd float64, r *stream) []float64 {
	out := make([]float64, n)
	for i := range out {
		out[i] = sd * r.normal()
	}
	return out
}

func TestCompleteNightHasNoLaneLuck(t *testing.T) {
	r := newStream(4)
	stints := simulate(r, spread(8, 0.02, r), []float64{0.02, 0, 0, -0.02}, cyclic(8, 4, 8), 0.006, 0.05)
	report, err := Audit(stints, results(stints), Options{LengthMM: map[int]float64{1: 15300, 2: 15000, 3: 15000, 4: 14700}})
	if err != nil {
		t.Fatal(err)
	}
	for _, row := range report.Rows {
		near(t, row.Driver+" lane luck", row.LaneLuck, 0, 0)
		if row.RightScore == nil && row.Place < 8 || row.BestPace == nil {
			t.Errorf("%+v", row)
		}
	}
	if report.Basis != "pace" || !report.Rotation.Complete || report.Friedman == nil || report.Rotation.MeetMin < 0 {
		t.Errorf("basis %s, complete %v", report.Basis, report.Rotation.Complete)
	}
	near(t, "driver efficiency", report.DriverEfficiency, 1, 0.15) // the slope of the evening takes a little
	for i, want := range []float64{2, 0, 0, -2} {
		l := report.Lanes[i]
		if !(*l.Percent.Low < want && want < *l.Percent.High) {
			t.Logf("lane %d: %v to %v does not hold the true %v", l.Lane, *l.Percent.Low, *l.Percent.High, want)
		}
		if l.Length == nil || l.Rest == nil || math.Abs(*l.Rest) > 0.06 {
			t.Errorf("lane %d: its length explains %v, rest %v", l.Lane, l.Length, l.Rest)
		}
	}
	if !strings.HasPrefix(report.Sentence, "Everybody ran every lane equally often, so lanes favoured nobody") {
		t.Error(report.Sentence)
	}
	text := report.Text()
	if !strings.Contains(text, report.Sentence) || strings.Count(text, "\n") != 2+9+1+5 {
		t.Errorf("%s", text)
	}
}

func TestLuckOfLanesIsFoundAndTakenOff(t *testing.T) {
	// Two equal halves of the field, one on quick lanes only but for a link: the
	// order by laps is wrong and the audit must say so.
	r := newStream(9)
	drivers := []float64{0, 0.005, 0.01, 0.015}
	lanes := []float64{0.05, 0.05, 0, 0}
	plan := [][3]int{{0, 0, 0}, {0, 1, 1}, {0, 2, 2}, {0, 3, 3}, {1, 0, 1}, {1, 1, 0}, {1, 2, 3}, {1, 3, 2}, {2, 0, 0}, {2, 1, 2}, {2, 2, 1}, {2, 3, 3}, {3, 0, 1}, {3, 1, 0}, {3, 2, 2}, {3, 3, 3}}
	stints := simulate(r, drivers, lanes, plan, 0.001, 0)
	official := results(stints)
	before := slices.Clone(official)
	report, err := Audit(stints, official, Options{})
	if err != nil {
		t.Fatal(err)
	}
	if !reflect.DeepEqual(official, before) {
		t.Error("the audit changed the official result")
	}
	for _, row := range report.Rows {
		switch row.Driver {
		case "driver 01":
			if !(*row.LaneLuck < -1) {
				t.Errorf("driver 01 drove slow lanes only, luck %v laps", *row.LaneLuck)
			}
		case "driver 04":
			if !(*row.LaneLuck > 1) {
				t.Errorf("driver 04 drove quick lanes only, luck %v laps", *row.LaneLuck)
			}
		}
	}
	if len(report.OnLuck) == 0 || report.PlacesChanged == 0 || *report.Tau >= 1 || !strings.Contains(report.Sentence, "rest on luck") {
		t.Errorf("%s; on luck %v", report.Sentence, report.OnLuck)
	}
}

func TestAuditEdgeCases(t *testing.T) {
	lap := 6 * time.Second
	laps := func(n int, each time.Duration) []time.Duration {
		out := []time.Duration{each + time.Second}
		for range n {
			out = append(out, each)
		}
		return out
	}
	cases := []struct {
		name   string
		stints []analysis.Stint
		says   string
	}{
		{"two groups that never share a lane", []analysis.Stint{
			{Driver: "A", Lane: 1, Heat: 1, Score: 20}, {Driver: "B", Lane: 1, Heat: 2, Score: 21},
			{Driver: "C", Lane: 2, Heat: 1, Score: 22}, {Driver: "D", Lane: 2, Heat: 2, Score: 23},
		}, "never shared a lane"},
		{"a tree has no degrees of freedom", []analysis.Stint{
			{Driver: "A", Lane: 1, Heat: 1, Score: 20}, {Driver: "A", Lane: 2, Heat: 2, Score: 21}, {Driver: "B", Lane: 2, Heat: 3, Score: 22},
		}, "anes cost"},
		{"every lap identical", []analysis.Stint{
			{Driver: "A", Lane: 1, Heat: 1, Score: 20, Laps: laps(20, lap)}, {Driver: "A", Lane: 2, Heat: 2, Score: 20, Laps: laps(20, lap)},
			{Driver: "B", Lane: 2, Heat: 1, Score: 20, Laps: laps(20, lap)}, {Driver: "B", Lane: 1, Heat: 2, Score: 20, Laps: laps(20, lap)},
		}, "Everybody ran every lane"},
		{"nobody finished", []analysis.Stint{{Driver: "A", Lane: 1, Score: 3, Early: true}}, "No stint ran to the end"},
		{"one lane", []analysis.Stint{{Driver: "A", Lane: 1, Heat: 1, Score: 3}, {Driver: "B", Lane: 1, Heat: 2, Score: 4}}, "Only one lane"},
		{"one stint", []analysis.Stint{{Driver: "A", Lane: 1, Score: 3}}, "Only one lane"},
		{"a lane dies after two heats", []analysis.Stint{
			{Driver: "A", Lane: 1, Heat: 1, Score: 20}, {Driver: "B", Lane: 2, Heat: 1, Score: 20.5}, {Driver: "C", Lane: 3, Heat: 1, Score: 19},
			{Driver: "A", Lane: 2, Heat: 2, Score: 21}, {Driver: "C", Lane: 1, Heat: 2, Score: 20}, {Driver: "B", Lane: 1, Heat: 3, Score: 20}, {Driver: "C", Lane: 2, Heat: 3, Score: 20.2},
		}, "anes cost"},
		{"a driver who stopped early is judged, his stint not used", []analysis.Stint{
			{Driver: "A", Lane: 1, Heat: 1, Score: 20}, {Driver: "B", Lane: 2, Heat: 1, Score: 20.5}, {Driver: "A", Lane: 2, Heat: 2, Score: 21.3},
			{Driver: "B", Lane: 1, Heat: 2, Score: 19}, {Driver: "A", Lane: 1, Heat: 3, Score: 4, Early: true}, {Driver: "B", Lane: 2, Heat: 3, Score: 20.4},
		}, "anes cost"},
	}
	for _, c := range cases {
		r, err := Audit(c.stints, results(c.stints), Options{Draws: 200})
		if err != nil {
			t.Errorf("%s: %v", c.name, err)
			continue
		}
		if !strings.Contains(r.Sentence, c.says) {
			t.Errorf("%s: %s", c.name, r.Sentence)
		}
		if text := r.Text(); strings.Contains(text, "NaN") || strings.Contains(text, "Inf") {
			t.Errorf("%s:\n%s", c.name, text)
		}
	}
	for name, f := range map[string]func() error{
		"nothing": func() error { _, err := Audit(nil, nil, Options{}); return err },
		"a driver twice": func() error {
			s, _ := toyNight()
			_, err := Audit(s, []Official{{"A", 1, 1}, {"A", 2, 1}}, Options{})
			return err
		},
		"a score not finite": func() error {
			_, err := Audit([]analysis.Stint{{Driver: "A", Score: math.NaN()}}, []Official{{"A", 1, 1}}, Options{})
			return err
		},
	} {
		if err := f(); !errors.Is(err, ErrBadInput) && !errors.Is(err, analysis.ErrBadInput) {
			t.Errorf("%s: %v", name, err)
		}
	}
}

func TestOrderOfStintsChangesNothing(t *testing.T) {
	stints, official := toyNight()
	want, err := Audit(stints, official, Options{Seed: 3, Draws: 100})
	if err != nil {
		t.Fatal(err)
	}
	rapid.Check(t, func(t *rapid.T) {
		got, err := Audit(rapid.Permutation(stints).Draw(t, "stints"), rapid.Permutation(official).Draw(t, "official"), Options{Seed: 3, Draws: 100})
		if err != nil {
			t.Fatal(err)
		}
		if got.Text() != want.Text() || got.Sentence != want.Sentence {
			t.Fatalf("%s\n%s", got.Text(), want.Text())
		}
	})
}

func BenchmarkAuditSixtyDriversOnEightLanes(b *testing.B) {
	r := newStream(1)
	stints := simulate(r, spread(60, 0.03, r), spread(8, 0.015, r), cyclic(60, 8, 60), 0.006, 0.05)
	official := results(stints)
	b.ReportAllocs()
	for b.Loop() {
		if _, err := Audit(stints, official, Options{}); err != nil {
			b.Fatal(err)
		}
	}
}

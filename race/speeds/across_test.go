package speeds

import (
	"errors"
	"fmt"
	"math"
	"math/rand/v2"
	"reflect"
	"strings"
	"testing"
	"time"

	"lanewright/race/analysis"
)

// visit makes the stints of one driver on one night of a layout.
func visit(rng *rand.Rand, driver string, pace float64, layout string, lap float64, night int, lanes ...int) []analysis.Stint {
	var out []analysis.Stint
	form := 0.003 * rng.NormFloat64()
	for h, l := range lanes {
		s := analysis.Stint{Driver: driver, Layout: layout, Class: "GT", Night: night, Heat: h + 1, Lane: l, LaneLengthMM: 1000 * lap * 2.5,
			Par: time.Duration(lap * 0.98e9)}
		stint := 0.006 * rng.NormFloat64()
		s.Laps = append(s.Laps, time.Duration((lap+1.5)*1e9))
		for range 20 {
			s.Laps = append(s.Laps, time.Duration(lap*1e9*math.Exp(pace+form+stint+0.02*rng.NormFloat64())))
		}
		out = append(out, s)
	}
	return out
}

// season: A and B race at Mill, B and C at Yard, so A and C never meet; D and E are
// alone at Attic.
func season(rng *rand.Rand) ([]analysis.Stint, map[string]float64) {
	pace := map[string]float64{"A": -0.05, "B": 0, "C": 0.05, "F": 0.02, "G": -0.02}
	var out []analysis.Stint
	night := 0
	for range 3 {
		night++
		for _, d := range []string{"A", "B", "F"} {
			out = append(out, visit(rng, d, pace[d], "Mill", 6, night, 1, 2, 3)...)
		}
		night++
		for _, d := range []string{"B", "C", "G"} {
			out = append(out, visit(rng, d, pace[d], "Yard", 9, night, 1, 2, 3)...)
		}
	}
	return out, pace
}

func TestDriversWhoNeverMetAreComparedThroughOthers(t *testing.T) {
	stints, pace := season(rand.New(rand.NewPCG(1, 1)))
	a, err := AcrossLayouts(stints, "GT")
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct{ one, other, via string }{{"A", "B", "met"}, {"A", "C", "through others"}, {"F", "G", "through others"}} {
		d, err := a.Compare(c.one, c.other)
		if err != nil {
			t.Fatal(err)
		}
		truth := pace[c.one] - pace[c.other]
		if d.Via != c.via || math.Abs(d.Log-truth) > 4*d.SE || d.SE > 0.02 {
			t.Errorf("%s and %s: %+v, truth %v", c.one, c.other, d, truth)
		}
		back, _ := a.Compare(c.other, c.one)
		near(t, "turned round", back.Log, -d.Log, 1e-12)
		near(t, "chances add up", back.Quicker+d.Quicker, 1, 1e-12)
	}
	met, _ := a.Compare("A", "B")
	through, _ := a.Compare("A", "C")
	if through.SE <= met.SE {
		t.Errorf("through others %v is no less sure than met %v", through.SE, met.SE)
	}
	if driver, visits, stint, ok := a.Spread(); !ok || driver <= 0 || visits == nil || stint <= 0 {
		t.Error("no spread")
	}
	if len(a.Cells) != 6 || a.Cells[0].Driver != "A" || a.Cells[0].Stints != 9 || a.Cells[0].Laps != 180 || a.Cells[0].ParRatio == nil {
		t.Errorf("%+v", a.Cells)
	}
	near(t, "A's par ratio at Mill", *a.Cells[0].ParRatio, 0.98*math.Exp(0.05), 0.01)
}

func TestRefusalNamesTheVisit(t *testing.T) {
	rng := rand.New(rand.NewPCG(2, 2))
	stints, _ := season(rng)
	for i := range stints {
		stints[i].Par = 0
	}
	stints = append(stints, visit(rng, "D", 0, "Attic", 4, 90, 1, 2)...)
	a, err := AcrossLayouts(stints, "GT")
	if err != nil {
		t.Fatal(err)
	}
	_, err = a.Compare("A", "D")
	var refused *NotConnectedError
	if !errors.As(err, &refused) || !errors.Is(err, ErrNotConnected) {
		t.Fatalf("got %v", err)
	}
	// Mill and Yard have equally many stints; the name decides.
	if refused.Visit.Driver != "D" || refused.Visit.Layout != "Mill" || !strings.Contains(err.Error(), "one visit of D to Mill would connect them") {
		t.Error(err)
	}
	// The visit does connect them.
	stints = append(stints, visit(rng, "D", 0, "Mill", 6, 91, 1)...)
	if a, err = AcrossLayouts(stints, "GT"); err != nil {
		t.Fatal(err)
	}
	if _, err = a.Compare("A", "D"); err != nil {
		t.Error(err)
	}
}

func TestSameLayoutOnDifferentLanesIsNotMeeting(t *testing.T) {
	rng := rand.New(rand.NewPCG(3, 3))
	var stints []analysis.Stint
	for n := range 2 {
		stints = append(stints, visit(rng, "A", 0, "Mill", 6, n, 1)...)
		stints = append(stints, visit(rng, "B", 0, "Mill", 6, n, 1)...)
		stints = append(stints, visit(rng, "C", 0, "Mill", 6, n, 2)...)
	}
	a, err := AcrossLayouts(stints, "GT")
	if err != nil {
		t.Fatal(err)
	}
	_, err = a.Compare("A", "C")
	var refused *NotConnectedError
	if !errors.As(err, &refused) || refused.Visit.Lane == 0 {
		t.Fatalf("got %v", err)
	}
}

func TestParLinksThoseWhomNothingElseDoes(t *testing.T) {
	rng := rand.New(rand.NewPCG(4, 4))
	pace := map[string]float64{}
	var stints []analysis.Stint
	for l, layout := range []string{"Mill", "Yard", "Attic", "Barn"} {
		for d := range 4 {
			name := fmt.Sprint(layout, d)
			pace[name] = 0.03 * float64(d)
			for n := range 2 {
				stints = append(stints, visit(rng, name, pace[name], layout, 5+float64(l), 10*l+n, 1, 2, 3)...)
			}
		}
	}
	a, err := AcrossLayouts(stints, "GT")
	if err != nil {
		t.Fatal(err)
	}
	d, err := a.Compare("Mill0", "Yard3")
	if err != nil || d.Via != "par laps only" || math.Abs(d.Log+0.09) > 4*d.SE {
		t.Errorf("%+v, %v", d, err)
	}
	if p := a.ParSpread(); p == nil {
		t.Error("nothing is said about how wrong par is")
	}
}

func TestAcrossRefuses(t *testing.T) {
	stints, _ := season(rand.New(rand.NewPCG(5, 5)))
	if _, err := AcrossLayouts(stints, "F1"); !errors.Is(err, ErrBadInput) {
		t.Error(err)
	}
	a, err := AcrossLayouts(stints, "GT")
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range [][2]string{{"A", "nobody"}, {"A", "A"}} {
		if _, err := a.Compare(c[0], c[1]); !errors.Is(err, ErrBadInput) {
			t.Errorf("%v: %v", c, err)
		}
	}
	// One stint each: compared never, but without panic.
	a, err = AcrossLayouts([]analysis.Stint{{Driver: "A", Laps: make4(6)}, {Driver: "B", Laps: make4(7)}}, "")
	if err != nil {
		t.Fatal(err)
	}
	if _, err = a.Compare("A", "B"); err == nil {
		t.Error("two stints have no error to judge by")
	}
	if _, _, _, ok := a.Spread(); ok || a.ParSpread() != nil {
		t.Error("a spread from nothing")
	}
	a, err = AcrossLayouts([]analysis.Stint{{Driver: "A"}}, "")
	if err != nil || a.Cells[0].Median != 0 || a.Cells[0].BestMMS != nil {
		t.Errorf("%+v, %v", a, err)
	}
}

func make4(s int) []time.Duration {
	lap := time.Duration(s) * time.Second
	return []time.Duration{lap + 1, lap, lap, lap, lap}
}

func TestOrderOfStintsDoesNotMatter(t *testing.T) {
	stints, _ := season(rand.New(rand.NewPCG(6, 6)))
	want, err := AcrossLayouts(stints, "GT")
	if err != nil {
		t.Fatal(err)
	}
	wd, _ := want.Compare("A", "C")
	rng := rand.New(rand.NewPCG(7, 7))
	for range 5 {
		rng.Shuffle(len(stints), func(i, j int) { stints[i], stints[j] = stints[j], stints[i] })
		got, err := AcrossLayouts(stints, "GT")
		if err != nil {
			t.Fatal(err)
		}
		gd, _ := got.Compare("A", "C")
		if !reflect.DeepEqual(got.Cells, want.Cells) || gd != wd {
			t.Fatalf("%+v, %+v", gd, wd)
		}
	}
}

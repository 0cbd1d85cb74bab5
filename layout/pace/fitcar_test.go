package pace

import (
	"errors"
	"fmt"
	"math"
	"math/rand/v2"
	"testing"

	"lanewright/layout"
)

// nightLaps drives a car over every lane of some example layouts, each lap off by a normal relative error.
func nightLaps(t testing.TB, c Car, sd float64, laps int, rng *rand.Rand, names ...string) []Driven {
	t.Helper()
	var out []Driven
	for _, name := range names {
		track := example(t, name)
		for _, l := range track.Lanes {
			r, err := LaneRibbon(track, l.Number)
			if err != nil {
				t.Fatal(err)
			}
			p, err := DrivePar(r, c, false)
			if err != nil {
				t.Fatal(err)
			}
			d := Driven{Name: fmt.Sprintf("%s lane %d", name, l.Number), Ribbon: r}
			for range laps {
				d.LapsS = append(d.LapsS, p.MeanS*math.Exp(sd*rng.NormFloat64()))
			}
			out = append(out, d)
		}
	}
	return out
}

var threeLayouts = []string{"millpond oval", "heron eight", "saltmarsh four"}

// Laps without any error give the car back that drove them.
func TestFitFindsTheCarThatDrove(t *testing.T) {
	truth := Car{Name: "truth", Grip: 0.78, Drive: 5.1, Top: 6.2, Brake: 4.9}
	data := nightLaps(t, truth, 0, 5, rand.New(rand.NewPCG(1, 1)), threeLayouts...)
	from := builtin[0]
	from.Top = truth.Top
	f, err := Fit(data, from, []string{"grip", "drive", "brake"})
	if err != nil {
		t.Fatal(err)
	}
	near(t, "grip", f.Car.Grip, truth.Grip, 1e-5)
	near(t, "drive", f.Car.Drive, truth.Drive, 1e-4)
	near(t, "brake", f.Car.Brake, truth.Brake, 1e-4)
	for _, fig := range f.Figures {
		if !fig.Determined {
			t.Errorf("%+v is not determined", fig)
		}
	}
	t.Logf("%d evaluations", f.Evaluations)
}

// Over many simulated clubs the true figure lies within two standard uncertainties about as often as it should.
func TestUncertaintyOfAFitCovers(t *testing.T) {
	truth := Car{Name: "truth", Grip: 0.85, Drive: 6, Top: 7, Brake: 5.5}
	from := truth
	from.Grip, from.Drive = 1, 8
	rng := rand.New(rand.NewPCG(5, 5))
	// Steps of 50 mm: what is tested is the uncertainty, not the par lap.
	var data []Driven
	for _, name := range []string{"millpond oval", "heron eight", "kestrel six"} {
		track := example(t, name)
		for _, l := range track.Lanes[:2] {
			r, err := laneRibbon(graph(t, track), l.Number, len(track.Lanes), 50)
			if err != nil {
				t.Fatal(err)
			}
			p, err := DrivePar(r, truth, false)
			if err != nil {
				t.Fatal(err)
			}
			data = append(data, Driven{Ribbon: r, LapsS: []float64{p.MeanS}})
		}
	}
	const clubs = 40
	inside := map[string]int{}
	for range clubs {
		noisy := make([]Driven, len(data))
		for i, d := range data {
			noisy[i] = Driven{Ribbon: d.Ribbon}
			for range 40 {
				noisy[i].LapsS = append(noisy[i].LapsS, d.LapsS[0]*math.Exp(0.02*rng.NormFloat64()))
			}
		}
		f, err := Fit(noisy, from, []string{"grip", "drive"})
		if err != nil {
			t.Fatal(err)
		}
		for _, fig := range f.Figures {
			if math.Abs(fig.Value-*truth.figure(fig.Name)) <= 2*fig.SD {
				inside[fig.Name]++
			}
		}
	}
	// 95.4 % are expected and a little more, as the larger of two variances is taken: of 40, fewer than 33 has odds of one
	// in some thousands.
	for _, name := range []string{"grip", "drive"} {
		if inside[name] < 33 {
			t.Errorf("%s lies within two standard uncertainties for %d of %d clubs", name, inside[name], clubs)
		}
	}
	t.Log(inside)
}

func TestWhatLapsDoNotSay(t *testing.T) {
	rng := rand.New(rand.NewPCG(2, 2))
	data := nightLaps(t, builtin[0], 0.02, 20, rng, "millpond oval")
	for name, w := range map[string]struct {
		data []Driven
		free []string
		err  error
	}{
		"nothing free":       {data, nil, ErrUndetermined},
		"too many figures":   {data, []string{"grip", "drive", "brake"}, ErrUndetermined},
		"grip and magnet":    {data, []string{"grip", "magnet"}, ErrUndetermined},
		"no such figure":     {data, []string{"wings"}, ErrCar},
		"a figure twice":     {data, []string{"grip", "grip"}, ErrCar},
		"no laps":            {nil, []string{"grip"}, ErrUndetermined},
		"laps that are none": {[]Driven{{Ribbon: data[0].Ribbon, LapsS: []float64{0, -1, math.NaN(), math.Inf(1)}}}, []string{"grip"}, ErrUndetermined},
	} {
		if _, err := Fit(w.data, builtin[0], w.free); !errors.Is(err, w.err) {
			t.Errorf("%s: error %v, want %v", name, err, w.err)
		}
	}
	// A circle is driven at the limit of grip: it says nothing of the motor.
	circle := oneLane(shape{radius: 0.5, turn: 360})
	wide := oneLane(shape{radius: 0.8, turn: 360})
	var round []Driven
	for _, track := range []layout.Track{circle, wide} {
		r, err := LaneRibbon(track, 1)
		if err != nil {
			t.Fatal(err)
		}
		p, _ := DrivePar(r, builtin[0], false)
		round = append(round, Driven{Ribbon: r, LapsS: []float64{p.MeanS * 1.01, p.MeanS, p.MeanS * 0.99}})
	}
	f, err := Fit(round, builtin[0], []string{"grip", "drive"})
	if err != nil {
		t.Fatal(err)
	}
	if !f.Figures[0].Determined || f.Figures[1].Determined {
		t.Errorf("figures %+v, want grip determined and drive not", f.Figures)
	}
}

func BenchmarkFit(b *testing.B) {
	data := nightLaps(b, Car{Name: "truth", Grip: 0.85, Drive: 6, Top: 7, Brake: 5.5}, 0.02, 30, rand.New(rand.NewPCG(3, 3)), threeLayouts...)
	b.ReportAllocs()
	for b.Loop() {
		if _, err := Fit(data, builtin[0], []string{"grip", "drive", "brake"}); err != nil {
			b.Fatal(err)
		}
	}
}

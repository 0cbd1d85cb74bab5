package fairness

import (
	"fmt"
	"math"
	"testing"

	"lanewright/race/analysis"
)

func TestStreamIsXoshiro(t *testing.T) {
	// First numbers for the state 1 2 3 4, as other implementations of
	// xoshiro256++ test them (from memory; the first two also by hand).
	r := &stream{s: [4]uint64{1, 2, 3, 4}}
	for i, want := range []uint64{41943041, 58720359, 3588806011781223, 3591011842654386, 9228616714210784205} {
		if got := r.next(); got != want {
			t.Errorf("number %d: got %d, want %d", i+1, got, want)
		}
	}
}

func TestNormalAndChiSquaredMoments(t *testing.T) {
	r := newStream(11)
	const n = 200_000
	var s1, s2, s4, c1, c2 float64
	const df = 3.0
	for range n {
		x := r.normal()
		s1 += x / n
		s2 += x * x / n
		s4 += x * x * x * x / n
		c := r.chi2(df)
		c1 += c / n
		c2 += c * c / n
	}
	// Five standard errors each way: 1, 2, 96 and 2 df, and the fourth moments.
	for _, m := range []struct {
		what      string
		got, want float64
		variance  float64
	}{
		{"mean", s1, 0, 1}, {"variance", s2, 1, 2}, {"fourth moment", s4, 3, 96},
		{"chi2 mean", c1, df, 2 * df}, {"chi2 second moment", c2, df*df + 2*df, 8 * df * (df + 2) * (df + 3)},
	} {
		if math.Abs(m.got-m.want) > 5*math.Sqrt(m.variance/n) {
			t.Errorf("%s: %v, want %v", m.what, m.got, m.want)
		}
	}
	small := 0.0
	for range n {
		small += r.chi2(1) / n
	}
	if math.Abs(small-1) > 5*math.Sqrt(2.0/n) {
		t.Errorf("mean of chi2 with one degree of freedom: %v", small)
	}
}

func fitOf(t *testing.T, drivers, lanes int, y func(d, l int) float64) *analysis.LaneFit {
	t.Helper()
	var obs []analysis.Obs
	for d := range drivers {
		for l := range lanes {
			obs = append(obs, analysis.Obs{Driver: fmt.Sprintf("%02d", d), Lane: l, Heat: (d + l) % drivers, Y: y(d, l)})
		}
	}
	f, err := analysis.FitLanes(obs, analysis.LaneOptions{})
	if err != nil {
		t.Fatal(err)
	}
	return f
}

func noise(d, l int) float64 { return math.Sin(float64(7*d+13*l) * 2.1) }

func TestBestOfTwoIsStudentsT(t *testing.T) {
	f := fitOf(t, 2, 5, func(d, l int) float64 { return 20 + 0.6*float64(d) + noise(d, l) })
	want := *f.Better(1, 0, true)
	const draws = 200_000
	p := Best(f, 1, true, draws, 5)
	tol := 5 * math.Sqrt(want*(1-want)/draws)
	if math.Abs(*p[1]-want) > tol || math.Abs(*p[0]+*p[1]-1) > 1e-12 {
		t.Errorf("P(best) %v and %v, Student's t gives %v", *p[0], *p[1], want)
	}
	// Less is better: the roles change.
	if q := Best(f, 1, false, draws, 5); math.Abs(*q[0]-want) > tol {
		t.Errorf("the other way round %v, want %v", *q[0], want)
	}
}

func TestEqualDriversAreEquallyLikelyBest(t *testing.T) {
	// Four drivers with the same mean, balanced: 1/4 each by symmetry.
	f := fitOf(t, 4, 4, func(d, l int) float64 { return 20 + float64((d+l)%4) })
	const draws = 100_000
	for i, p := range Best(f, 1, true, draws, 8) {
		if math.Abs(*p-0.25) > 5*math.Sqrt(0.25*0.75/draws) {
			t.Errorf("driver %d: %v", i, *p)
		}
	}
	a, b := Best(f, 1, true, 1000, 8), Best(f, 1, true, 1000, 8)
	for i := range a {
		if *a[i] != *b[i] {
			t.Error("the same seed gave other numbers")
		}
	}
}

func TestBestOfThreeByIntegral(t *testing.T) {
	// Orthant probability of three balanced drivers against R 4.2.2: the best of
	// three with mean differences in units of the standard error, by integrate()
	// over the chi density of the trivariate normal integral.
	f := fitOf(t, 3, 4, func(d, l int) float64 { return 20 + bestOfThree[d][l] })
	const draws = 200_000
	for i, p := range Best(f, 1, true, draws, 21) {
		if want := []float64{0.0058524725, 0.0812704776, 0.9128770499}[i]; math.Abs(*p-want) > 5*math.Sqrt(want*(1-want)/draws) {
			t.Errorf("driver %d: %v, want %v", i+1, *p, want)
		}
	}
}

var bestOfThree = [3][4]float64{{0.1, 0.9, 0.3, 0.7}, {0.6, 0.8, 0.5, 0.9}, {0.9, 1.2, 0.4, 1.1}}

func BenchmarkTwoHundredThousandDraws(b *testing.B) {
	for _, drivers := range []int{12, 60} {
		b.Run(fmt.Sprint(drivers, " drivers"), func(b *testing.B) {
			var obs []analysis.Obs
			for d := range drivers {
				for l := range 4 {
					// All close together, so that nobody can be left out.
					obs = append(obs, analysis.Obs{Driver: fmt.Sprintf("%02d", d), Lane: l, Y: 20 + 0.01*float64(d%5) + noise(d, l)})
				}
			}
			f, err := analysis.FitLanes(obs, analysis.LaneOptions{})
			if err != nil {
				b.Fatal(err)
			}
			b.ReportAllocs()
			for b.Loop() {
				Best(f, 1, true, 200_000, 1)
			}
		})
	}
}

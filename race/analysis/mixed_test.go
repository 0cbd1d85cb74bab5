package analysis

import (
	"errors"
	"math"
	"testing"
)

func factor(words []string) Random {
	at, names := levels(words)
	return Random{Level: at, Levels: len(names)}
}

// Source of the REML values: lme4 1.1-31 (nlme 3.1-162 for the data of
// Machines) in R 4.2.2. Their optimiser stops at about 1e-7 of a spread.
func TestRestrictedLikelihoodOneFactor(t *testing.T) {
	d := readTable(t, "Dyestuff")
	f, err := Mixed([][]float64{ones(30)}, []Random{factor(d.words("Batch"))}, d.numbers(t, "Yield"))
	if err != nil {
		t.Fatal(err)
	}
	relative(t, "batch variance", f.SD[0]*f.SD[0], 1764.05, 1e-6)
	relative(t, "residual variance", f.Residual*f.Residual, 2451.25, 1e-7)
	relative(t, "criterion", f.Criterion, 319.654276842257, 1e-13)
	relative(t, "effect E", f.U[0][4], 56.7331877377178, 1e-6)
	relative(t, "mean", *f.Fixed[0], 1527.5, 1e-13)
	relative(t, "mean SE", *f.FixedSE[0], 19.3834, 1e-5)
}

func TestRestrictedLikelihoodTwoCrossedFactors(t *testing.T) {
	// lme4's default optimiser stops early here (criterion 330.860588999606); with
	// bobyqa at rhoend = 1e-12 it comes to these values.
	d := readTable(t, "Penicillin")
	f, err := Mixed([][]float64{ones(144)}, []Random{factor(d.words("plate")), factor(d.words("sample"))}, d.numbers(t, "diameter"))
	if err != nil {
		t.Fatal(err)
	}
	relative(t, "sd plate", f.SD[0], 0.846704281013, 1e-6)
	relative(t, "sd sample", f.SD[1], 1.931558011198, 1e-6)
	relative(t, "residual", f.Residual, 0.549923149089, 1e-7)
	relative(t, "mean", *f.Fixed[0], 22.9722222222, 1e-11)
	relative(t, "mean SE", *f.FixedSE[0], 0.808573232107, 1e-6)
	relative(t, "sample A", f.U[1][0], 2.18705796415543, 1e-7)
	relative(t, "sample F", f.U[1][5], -3.00374416596232, 1e-7)
	relative(t, "criterion", f.Criterion, 330.860588991086, 1e-13)
}

func TestRestrictedLikelihoodNestedFactors(t *testing.T) {
	// Workers and machines are drivers and cars.
	d := readTable(t, "Machines")
	worker, machine := d.words("Worker"), d.words("Machine")
	both := make([]string, len(worker))
	for i := range both {
		both[i] = worker[i] + machine[i]
	}
	f, err := Mixed(append([][]float64{ones(54)}, dummies(machine)[1:]...), []Random{factor(worker), factor(both)}, d.numbers(t, "score"))
	if err != nil {
		t.Fatal(err)
	}
	relative(t, "sd worker", f.SD[0], 4.78105, 1e-5)
	relative(t, "sd worker:machine", f.SD[1], 3.72954, 1e-5)
	relative(t, "residual", f.Residual, 0.961577, 1e-5)
	relative(t, "B-A", *f.Fixed[1], 7.96666666667, 1e-11)
	relative(t, "C-A", *f.Fixed[2], 13.9166666667, 1e-11)
	relative(t, "SE", *f.FixedSE[1], 2.17697548, 1e-5)
}

func TestHendersonByHand(t *testing.T) {
	// Contrasts against Henderson's equations solved as they stand:
	// [X'X X'Z; Z'X Z'Z + lambda I], covariance s^2 times the inverse. Balanced,
	// one factor with n values a level: u_i = n/(n+lambda) (mean_i - mean) and
	// Var(u_i - u_k) = 2 s^2/(n+lambda).
	d := readTable(t, "Dyestuff")
	batch, y := factor(d.words("Batch")), d.numbers(t, "Yield")
	f, err := Mixed([][]float64{ones(30)}, []Random{batch}, y)
	if err != nil {
		t.Fatal(err)
	}
	lambda := f.Residual * f.Residual / (f.SD[0] * f.SD[0])
	means := make([]float64, 6)
	for i, b := range batch.Level {
		means[b] += y[i] / 5
	}
	for i, m := range means {
		relative(t, "u", f.U[0][i], 5/(5+lambda)*(m-1527.5), 1e-9)
	}
	_, se, _ := f.Contrast(nil, [][]float64{{1, -1, 0, 0, 0, 0}})
	relative(t, "SE of a difference", se, f.Residual*math.Sqrt(2/(5+lambda)), 1e-9)
}

func TestMixedRefuses(t *testing.T) {
	one := [][]float64{ones(4)}
	for name, c := range map[string]struct {
		random []Random
		y      []float64
	}{
		"every level once":  {[]Random{{[]int{0, 1, 2, 3}, 4}}, []float64{1, 2, 3, 5}},
		"a single level":    {[]Random{{[]int{0, 0, 0, 0}, 1}}, []float64{1, 2, 3, 5}},
		"no error left":     {[]Random{{[]int{0, 0, 1, 1}, 2}}, []float64{1, 1, 3, 3}},
		"no factor":         {nil, []float64{1, 2, 3, 5}},
		"a level beyond":    {[]Random{{[]int{0, 0, 1, 2}, 2}}, []float64{1, 2, 3, 5}},
		"not a number":      {[]Random{{[]int{0, 0, 1, 1}, 2}}, []float64{1, 2, 3, math.NaN()}},
		"different lengths": {[]Random{{[]int{0, 0, 1}, 2}}, []float64{1, 2, 3, 4}},
	} {
		if _, err := Mixed(one, c.random, c.y); !errors.Is(err, ErrBadInput) {
			t.Errorf("%s: %v", name, err)
		}
	}
}

func TestMixedWithoutSpreadBetweenLevels(t *testing.T) {
	// Levels closer together than the error explains: the spread is 0, not
	// negative, and nobody is moved from the mean.
	f, err := Mixed([][]float64{ones(6)}, []Random{{[]int{0, 0, 1, 1, 2, 2}, 3}}, []float64{1, 3, 1.1, 2.9, 0.9, 3.1})
	if err != nil {
		t.Fatal(err)
	}
	if f.SD[0] > 1e-4 || math.Abs(f.U[0][0]) > 1e-6 {
		t.Errorf("sd %v, u %v", f.SD[0], f.U[0])
	}
}

func BenchmarkMixedSeason(b *testing.B) {
	// 60 drivers on 10 layouts, 20 nights: driver and visit random, layout fixed.
	var layout []string
	driver, visit := Random{Levels: 60}, Random{Levels: 1200}
	var y []float64
	for n := range 20 {
		for d := range 60 {
			for l := range 4 {
				layout = append(layout, string(rune('a'+n%10)))
				driver.Level, visit.Level = append(driver.Level, d), append(visit.Level, n*60+d)
				y = append(y, 1.8+0.02*math.Sin(float64(d))+0.01*math.Sin(float64(n*60+d)*1.7)+0.006*math.Sin(float64((n*60+d)*4+l)*2.3))
			}
		}
	}
	fixed := dummies(layout)
	b.ReportAllocs()
	for b.Loop() {
		if _, err := Mixed(fixed, []Random{driver, visit}, y); err != nil {
			b.Fatal(err)
		}
	}
}

package analysis

import (
	"math"
	"testing"
)

// near fails unless got equals want to the given relative (or, near zero,
// absolute) tolerance.
func near(t *testing.T, what string, got, want, tol float64) {
	t.Helper()
	if !(math.Abs(got-want) <= tol*math.Max(1, math.Abs(want))) {
		t.Errorf("%s: got %.15g, want %.15g (off by %.3g, allowed %.3g)", what, got, want, got-want, tol)
	}
}

// relative is for small numbers, whose digits count from the first one that is
// not zero.
func relative(t *testing.T, what string, got, want, tol float64) {
	t.Helper()
	if !(math.Abs(got-want) <= tol*math.Abs(want)) {
		t.Errorf("%s: got %.15g, want %.15g (off by %.3g of it, allowed %.3g)", what, got, want, got/want-1, tol)
	}
}

func TestStudentAndF(t *testing.T) {
	// Source: R 4.2.2, qt(.975, df), pf(3.5, 3, 15, lower = FALSE), pt(2.1, 7).
	for _, c := range []struct{ df, want float64 }{
		{1, 12.7062047361747}, {4, 2.77644510519779}, {10, 2.22813885198627}, {30, 2.04227245630124},
	} {
		near(t, "t.975", TQuantile(0.975, c.df), c.want, 1e-13)
	}
	near(t, "P(F3,15 > 3.5)", FUpper(3.5, 3, 15), .0419416599928356, 1e-14)
	near(t, "P(t7 < 2.1)", TCDF(2.1, 7), .963064401893539, 1e-14)
	relative(t, "P(chi2 2 df > 11.142857)", ChiUpper(11.1428571428571, 2), .00380504077551136, 1e-12)
}

func TestStudentizedRange(t *testing.T) {
	// Quantiles by direct double integration of the definition in R 4.2.2
	// (integrate, relative tolerance 1e-12, uniroot 1e-13). R's own qtukey stops
	// early: it gives 4.358302506 for (6, 25) where the integral gives
	// 4.358302701.
	for _, c := range []struct {
		k    int
		df   float64
		want float64
	}{
		{3, 4, 5.040241254997}, {4, 10, 4.326582115731}, {6, 25, 4.358302701145}, {8, 42, 4.509098213336},
	} {
		near(t, "q.95", TukeyQuantile(0.05, c.k, c.df), c.want, 1e-11)
	}
	// Source: R 4.2.2, ptukey(3.5, 4, 20, lower = FALSE); the direct integral
	// agrees to 3e-12.
	near(t, "P(Q(4,20) > 3.5)", TukeyUpper(3.5, 4, 20), .094958450546, 1e-11)
}

func TestStudentizedRangeOfTwoIsStudentsT(t *testing.T) {
	// The range of two values is sqrt 2 |T|: an exact identity.
	for _, df := range []float64{1, 2, 3, 7, 30, 400} {
		for _, q := range []float64{0.01, 0.5, 2, 5, 20} {
			if want := TTwoSided(q/math.Sqrt2, df); want > 1e-12 { // smaller ones are told apart from 0 by nobody
				relative(t, "P(Q > q)", TukeyUpper(q, 2, df), want, 1e-9)
			}
		}
	}
}

func TestStudentizedRangeFallsWithQAndGrowsWithK(t *testing.T) {
	for _, df := range []float64{1, 5, 60} {
		last := 1.0
		for q := 0.25; q < 12; q += 0.25 {
			p := TukeyUpper(q, 5, df)
			if p > last || p < 0 {
				t.Fatalf("df %v: P(Q > %v) = %v after %v", df, q, p, last)
			}
			if more := TukeyUpper(q, 6, df); more < p {
				t.Fatalf("df %v, q %v: six means %v, five %v", df, q, more, p)
			}
			last = p
		}
	}
}

func BenchmarkTukeyUpper(b *testing.B) {
	b.ReportAllocs()
	for b.Loop() {
		TukeyUpper(4, 8, 400)
	}
}

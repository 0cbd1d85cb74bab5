package analysis

import (
	"math"

	"gonum.org/v1/gonum/mathext"
	"gonum.org/v1/gonum/stat/distuv"
)

// Tails are computed from the incomplete beta and gamma functions directly, not
// as one minus the other side, so that small p values keep their digits.

// TTwoSided returns P(|T| > |t|) for Student's t with df degrees of freedom.
func TTwoSided(t, df float64) float64 {
	if t == 0 {
		return 1
	}
	return mathext.RegIncBeta(df/2, 0.5, df/(df+t*t))
}

// TCDF returns P(T < t) for Student's t.
func TCDF(t, df float64) float64 {
	p := TTwoSided(t, df) / 2
	if t > 0 {
		return 1 - p
	}
	return p
}

// TQuantile returns the t with P(T < t) = p, 0 < p < 1.
func TQuantile(p, df float64) float64 {
	dist := distuv.StudentsT{Mu: 0, Sigma: 1, Nu: df}
	t := dist.Quantile(p)
	// Newton steps take out what the library's inverse leaves over.
	for range 3 {
		d := dist.Prob(t)
		if d == 0 {
			break
		}
		step := (TCDF(t, df) - p) / d
		t -= step
		if math.Abs(step) < 1e-15*math.Abs(t) {
			break
		}
	}
	return t
}

// FUpper returns P(F > f) for the F distribution with d1 and d2 degrees of
// freedom.
func FUpper(f, d1, d2 float64) float64 {
	if f <= 0 {
		return 1
	}
	return mathext.RegIncBeta(d2/2, d1/2, d2/(d2+d1*f))
}

// ChiUpper returns P(chi-squared > x) with df degrees of freedom.
func ChiUpper(x, df float64) float64 {
	if x <= 0 {
		return 1
	}
	return mathext.GammaIncRegComp(df/2, x/2)
}

// normalCDF returns the standard normal distribution function.
func normalCDF(z float64) float64 { return math.Erfc(-z/math.Sqrt2) / 2 }

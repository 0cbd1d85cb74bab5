package analysis

import "math"

// TukeyUpper returns P(Q > q), Q the range of k independent standard normal
// values divided by an independent root mean square with df degrees of freedom
// (the studentized range). k is at least 2, df at least 1.
//
//	P(Q > q) = integral over s of f(s) (1 - W(q s)),
//	1 - W(w) = k integral of phi(z) (Phi(z)^(k-1) - (Phi(z)-Phi(z-w))^(k-1)) dz,
//
// s being the root of chi-squared/df. Both integrands are analytic and fall off
// fast on both sides, where the trapezoid rule converges exponentially; the outer
// one is taken over ln s for that reason. Written from the definition in J. W.
// Tukey's method of multiple comparisons (see also H. L. Harter, 1960).
func TukeyUpper(q float64, k int, df float64) float64 {
	if !(q > 0) {
		return 1
	}
	r := newRange(k)
	// Density of x = ln s: 2 (df/2)^(df/2) / Gamma(df/2) exp(df x - df e^(2x)/2),
	// greatest at x = 0.
	lg, _ := math.Lgamma(df / 2)
	norm := math.Ln2 + df/2*math.Log(df/2) - lg
	logDensity := func(x float64) float64 { return norm + df*x - df*math.Exp(2*x)/2 }
	const negligible = -38 // e^-38 is 3e-17
	step := 0.45 / math.Sqrt(2*df)
	if step > 0.08 {
		step = 0.08
	}
	sum := 0.0
	for _, dir := range []float64{1, -1} {
		x := 0.0
		if dir < 0 {
			x = -step
		}
		for ; logDensity(x) > negligible; x += dir * step {
			sum += math.Exp(logDensity(x)) * r.upper(q*math.Exp(x))
		}
	}
	return math.Min(1, sum*step)
}

// normalRange holds what does not change from one w to the next.
type normalRange struct {
	k        float64
	z, p, pk []float64 // nodes, Phi(z), k phi(z) Phi(z)^(k-1) times the step
}

func newRange(k int) normalRange {
	r := normalRange{k: float64(k)}
	const step, end = 0.2, 9.0
	n := int(end / step)
	for i := -n; i <= n; i++ {
		z := float64(i) * step
		p := normalCDF(z)
		w := step * r.k * math.Exp(-z*z/2) / math.Sqrt(2*math.Pi) * math.Pow(p, r.k-1)
		if w < 1e-17 {
			continue // Phi^(k-1) makes the left tail vanish
		}
		r.z, r.p, r.pk = append(r.z, z), append(r.p, p), append(r.pk, w)
	}
	return r
}

// upper returns the probability that the range of k standard normal values is
// more than w.
func (r normalRange) upper(w float64) float64 {
	sum := 0.0
	for i, z := range r.z {
		below := normalCDF(z - w)
		// Phi^(k-1) - (Phi - below)^(k-1), without cancellation.
		x := below / r.p[i]
		if x > 0.1 {
			sum += r.pk[i] * (1 - math.Pow(1-x, r.k-1))
		} else {
			sum += r.pk[i] * -math.Expm1((r.k-1)*math.Log1p(-x))
		}
	}
	return math.Min(1, sum)
}

// TukeyQuantile returns the q with P(Q > q) = upper, 0 < upper < 1.
func TukeyQuantile(upper float64, k int, df float64) float64 {
	lo, hi := 0.0, 4.0
	for TukeyUpper(hi, k, df) > upper && hi < 1e6 {
		lo, hi = hi, hi*2
	}
	// Secant on ln P inside a bracket that always shrinks.
	f := func(q float64) float64 { return math.Log(TukeyUpper(q, k, df) / upper) }
	fl, fh := f(lo), f(hi)
	for range 200 {
		mid := hi - fh*(hi-lo)/(fh-fl)
		if !(mid > lo && mid < hi) {
			mid = (lo + hi) / 2
		}
		fm := f(mid)
		if fm > 0 {
			lo, fl = mid, fm
			fh /= 2 // Illinois: keep the far end from standing still
		} else {
			hi, fh = mid, fm
			fl /= 2
		}
		if hi-lo < 1e-12*hi || math.Abs(fm) < 1e-15 {
			return mid
		}
	}
	return (lo + hi) / 2
}

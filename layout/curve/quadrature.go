package curve

import "math"

// points is the number of nodes of the Gauss-Legendre rule used throughout: exact for polynomials up to degree 19.
const points = 10

// nodes and weights of that rule on [-1, 1], found once by Newton's method on the Legendre recurrence.
var nodes, weights = legendre()

func legendre() (x, w [points]float64) {
	for i := range points {
		z := math.Cos(math.Pi * (float64(i) + 0.75) / (points + 0.5))
		var slope float64
		for range 20 {
			p0, p1 := 1.0, z
			for k := 2; k <= points; k++ {
				p0, p1 = p1, (float64(2*k-1)*z*p1-float64(k-1)*p0)/float64(k)
			}
			slope = points * (z*p1 - p0) / (z*z - 1)
			z -= p1 / slope
		}
		x[i], w[i] = z, 2/((1-z*z)*slope*slope)
	}
	return x, w
}

// integrate returns the integral of f from a to b by one application of the rule.
func integrate(f func(float64) float64, a, b float64) float64 {
	mid, half := (a+b)/2, (b-a)/2
	var sum float64
	for i := range nodes {
		sum += weights[i] * f(mid+half*nodes[i])
	}
	return sum * half
}

// spans is how many equal parts a gauge cuts its parameter into.
const spans = 16

// gauge measures a curve that is given by a parameter other than its arc length: how long it is up to a parameter, and where on
// it a length falls.
type gauge struct {
	end   float64 // the parameter runs from 0 to end
	speed func(t float64) float64
	sums  [spans + 1]float64 // length up to each part's end
}

func newGauge(end float64, speed func(float64) float64) *gauge {
	g := &gauge{end: end, speed: speed}
	for i := range spans {
		a, b := g.edge(i), g.edge(i+1)
		g.sums[i+1] = g.sums[i] + integrate(speed, a, b)
	}
	return g
}

func (g *gauge) edge(i int) float64 { return g.end * float64(i) / spans }

func (g *gauge) length() float64 { return g.sums[spans] }

// param returns the parameter at which the curve is s long. It brackets the answer in one part and refines it by Newton steps
// that fall back to halving, so that it always ends.
func (g *gauge) param(s float64) float64 {
	if s <= 0 {
		return 0
	}
	if s >= g.length() {
		return g.end
	}
	i := 0
	for g.sums[i+1] < s {
		i++
	}
	lo, hi := g.edge(i), g.edge(i+1)
	a, want := lo, s-g.sums[i]
	t := lo + (hi-lo)*want/(g.sums[i+1]-g.sums[i])
	for range 40 {
		short := want - integrate(g.speed, a, t)
		if math.Abs(short) < 1e-11 {
			break
		}
		if short > 0 {
			lo = t
		} else {
			hi = t
		}
		next := t + short/g.speed(t)
		if !(next > lo && next < hi) {
			next = (lo + hi) / 2
		}
		t = next
	}
	return t
}

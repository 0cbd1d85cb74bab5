package lattice

import "math"

// Point is a place reached by pieces whose angles are multiples of 15 degrees, in power basis 1, z, ... z^7 of the 24th cyclotomic
// field, z = exp(i 15°). Points can be compared with == and be keys of maps, which makes them fit for a search.
//
// Lengths are in units of the caller's choice; sums must stay within 64 bits.
type Point [8]int64

// Steps is the number of headings a Point knows.
const Steps = 24

// Add returns p + q.
func (p Point) Add(q Point) Point {
	for i := range p {
		p[i] += q[i]
	}
	return p
}

// Sub returns p - q.
func (p Point) Sub(q Point) Point {
	for i := range p {
		p[i] -= q[i]
	}
	return p
}

// Turn returns p turned to the left by the given steps of 15 degrees: multiplied by that power of z, with z^8 = z^4 - 1.
func (p Point) Turn(steps int) Point {
	steps = ((steps % Steps) + Steps) % Steps
	if steps >= Steps/2 { // z^12 = -1
		p = Point{}.Sub(p)
		steps -= Steps / 2
	}
	for range steps {
		p = Point{-p[7], p[0], p[1], p[2], p[3] + p[7], p[4], p[5], p[6]}
	}
	return p
}

// Straight returns the way of a straight at a heading of so many steps.
func Straight(length int64, heading int) Point {
	return Point{length}.Turn(heading)
}

// Arc returns the way of an arc that turns by so many steps (negative: right) from a heading: sR (z^(j+6) - z^(j+m+6)).
func Arc(radius int64, heading, steps int) Point {
	if steps < 0 {
		radius = -radius
	}
	return Straight(radius, heading+6).Sub(Straight(radius, heading+steps+6))
}

// XY returns the point in the plane, in the unit of its lengths.
func (p Point) XY() (x, y float64) {
	for i, c := range p {
		x += float64(c) * powers[i][0]
		y += float64(c) * powers[i][1]
	}
	return x, y
}

// powers holds the real and imaginary parts of z^0 ... z^7.
var powers = func() (out [8][2]float64) {
	for i := range out {
		sin, cos := math.Sincos(float64(i) * math.Pi / 12)
		out[i] = [2]float64{cos, sin}
	}
	out[6][0], out[2][1], out[4][0] = 0, 0.5, 0.5
	return out
}()

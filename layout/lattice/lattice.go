// Package lattice answers in exact arithmetic whether a chain of straights and arcs comes back to its start.
//
// A straight of length L at heading h adds L z^h, an arc of radius R turning from h to h+a adds R i (z^h - z^(h+a)), the sign of the turn
// apart: all positions are sums of rational lengths times roots of unity. When the headings are multiples of 360/N degrees such a sum
// lies in the N-th cyclotomic field, and whether it is zero is a question about whole numbers; no tolerance is involved.
//
// Lengths are whole millionths of a millimetre, headings whole millionths of a degree.
package lattice

import "math"

// Full is a full turn in millionths of a degree.
const Full = 360_000_000

// Unit is one millimetre in the unit of lengths.
const Unit = 1_000_000

// orderMost is the largest N that is worked with, a tenth of a degree; kits have multiples of some degrees.
const orderMost = 3600

// Term is a length along a heading.
type Term struct {
	Units int64 // millionths of a millimetre, may be negative
	Micro int64 // heading in millionths of a degree, any turn
}

// Units returns a length in mm as a whole number of millionths; false when it is none, or too long to calculate with.
func Units(mm float64) (int64, bool) {
	return whole(mm, 1e9)
}

// Micro returns an angle in degrees as a whole number of millionths; false when it is none.
func Micro(deg float64) (int64, bool) {
	return whole(deg, 1e9)
}

// whole scales by a million. A number written with up to six decimals comes back whole: its float64 is off by at most half a
// unit in the last place, so the product is off by less than a few units in the last place.
func whole(x, most float64) (int64, bool) {
	if !(math.Abs(x) <= most) {
		return 0, false
	}
	scaled := x * 1e6
	n := math.Round(scaled)
	if math.Abs(scaled-n) > 4e-16*math.Abs(scaled)+1e-9 {
		return 0, false
	}
	return int64(n), true
}

// Zero reports whether the terms add up to nothing. provable is false when exact arithmetic cannot tell: headings that share no
// angle of at least a tenth of a degree, or sums beyond 64 bits.
func Zero(terms []Term) (zero, provable bool) {
	n := Order(terms)
	if n == 0 {
		return false, false
	}
	var room [48]int64
	c := room[:]
	if n > len(room) {
		c = make([]int64, n)
	}
	c = c[:n]
	step := Full / int64(n)
	for _, t := range terms {
		j := (t.Micro%Full + Full) % Full / step
		sum, ok := add(c[j], t.Units)
		if !ok {
			return false, false
		}
		c[j] = sum
	}
	if !reduce(c) {
		return false, false
	}
	for _, x := range c {
		if x != 0 {
			return false, true
		}
	}
	return true, true
}

// Order returns N such that all headings are multiples of 360/N degrees, 0 when there is no N up to 3600.
func Order(terms []Term) int {
	g := int64(Full)
	for _, t := range terms {
		g = gcd(g, t.Micro)
	}
	if n := Full / g; n <= orderMost {
		return int(n)
	}
	return 0
}

func gcd(a, b int64) int64 {
	if b < 0 {
		b = -b
	}
	for b != 0 {
		a, b = b, a%b
	}
	return a
}

func add(a, b int64) (int64, bool) {
	sum := a + b
	return sum, (sum > a) == (b > 0)
}

// reduce brings the sum of c[j] z^j, z a primitive root of unity of order len(c), to its only form over an integral basis of the
// cyclotomic field, so that it is zero exactly when all c are. False when 64 bits do not hold it.
//
// For a prime p dividing N with p^a the highest power, the p roots j, j+N/p, j+2N/p, ... add up to zero, and they differ only in the
// top base-p digit of j's part modulo p^a. Taking the member with digit p-1 out of every such set leaves (p-1)p^(a-1) of p^a
// exponents for each prime, together phi(N): a basis. (Cyclotomic field: the tensor product of its prime power parts.)
func reduce(c []int64) bool {
	n := len(c)
	for _, p := range primes(n) {
		power := p
		for n%(power*p) == 0 {
			power *= p
		}
		rest := n / power
		inverse := 1
		for rest*inverse%power != 1%power {
			inverse++
		}
		for j := range n {
			if c[j] == 0 || (j%power*inverse%power)/(power/p) != p-1 {
				continue
			}
			for k := 1; k < p; k++ {
				at := (j + k*(n/p)) % n
				sum, ok := add(c[at], -c[j])
				if !ok {
					return false
				}
				c[at] = sum
			}
			c[j] = 0
		}
	}
	return true
}

// primes returns the prime divisors of n.
func primes(n int) []int {
	var out []int
	for p := 2; p*p <= n; p++ {
		if n%p == 0 {
			out = append(out, p)
			for n%p == 0 {
				n /= p
			}
		}
	}
	if n > 1 {
		out = append(out, n)
	}
	return out
}

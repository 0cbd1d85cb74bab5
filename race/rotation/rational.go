package rotation

// evenSplitFails says whether no n blocks of size k, each driver in k of them,
// can have the meetings split evenly: every pair q or q+1 times, every driver
// with t partners at q+1. It is a proof when true and nothing when false.
//
// The incidence matrix N of drivers against blocks is square then, so NN' must
// be congruent to the unit matrix over the rational numbers: its determinant
// must be a square and its Hasse symbol must be 1 for every prime. NN' is known
// where the partners at q+1 are known up to renaming: nobody (t = 0, then this
// is the theorem of Bruck, Ryser and Chowla), a matching (t = 1), or all but a
// matching (t = n-2).
//
// Sources, from memory: Bruck & Ryser 1949, Chowla & Ryser 1950; Raghavarao,
// "Constructions and Combinatorial Problems in Design of Experiments", 1971,
// for the same argument on designs with two kinds of pairs; Serre, "A Course in
// Arithmetic", for Hilbert symbols and Hasse's theorem.
func evenSplitFails(n, k int) bool {
	if n <= k {
		return false
	}
	s := k * (k - 1)
	q, t := s/(n-1), s%(n-1)
	// NN' = a I + b J + e P with P a matching
	a, b, e := int64(k-q), int64(q), int64(0)
	switch {
	case t == 0:
	case t == 1 && n%2 == 0:
		e = 1
	case t == n-2 && n%2 == 0:
		a, b, e = a-1, b+1, -1
	default:
		return false
	}
	if a*a == e*e || b == 0 {
		return false // NN' would be singular, or there is nothing to learn
	}
	// A I + e P is diagonal over the rationals; pairs of the matching give
	// a and a(a^2-1).
	var form []int64
	for i := range n {
		if e != 0 && i%2 == 1 {
			form = append(form, squareFree(a*(a*a-1)))
		} else {
			form = append(form, squareFree(a))
		}
	}
	// Adding b J changes the determinant by 1 + b n/(a+e).
	row := a + e
	sum := row + b*int64(n)
	det := squareFree(sum * row)
	for _, f := range form {
		det = squareFree(det * f)
	}
	if det != 1 {
		return true
	}
	// (aI+eP) + <-(1/b + n/(a+e))> is congruent to NN' + <-b>, and det NN' is
	// a square, so the symbols of both sides may be compared directly.
	form = append(form, squareFree(-sum*squareFree(b)*row))
	for _, p := range primesOf(append(form, b)) {
		if hasse(form, p) != 1 {
			return true
		}
	}
	return false
}

// squareFree divides out all square factors.
func squareFree(x int64) int64 {
	out := int64(1)
	if x < 0 {
		out, x = -1, -x
	}
	for p := int64(2); p*p <= x; p++ {
		odd := false
		for x%p == 0 {
			x /= p
			odd = !odd
		}
		if odd {
			out *= p
		}
	}
	return out * x
}

// primesOf lists 2 and the primes that divide any of the numbers.
func primesOf(all []int64) []int64 {
	out := []int64{2}
	for _, x := range all {
		x = max(x, -x)
		for p := int64(2); x > 1; p++ {
			if p*p > x {
				p = x
			}
			if x%p != 0 {
				continue
			}
			known := false
			for _, o := range out {
				known = known || o == p
			}
			if !known {
				out = append(out, p)
			}
			for x%p == 0 {
				x /= p
			}
		}
	}
	return out
}

// hasse is the product of the Hilbert symbols of all pairs of a diagonal form.
func hasse(form []int64, p int64) int {
	out, before := 1, int64(1)
	for _, x := range form {
		out *= hilbert(before, squareFree(x), p)
		before = squareFree(before * x)
	}
	return out
}

// hilbert is the Hilbert symbol of a and b, not 0, at the prime p.
func hilbert(a, b, p int64) int {
	split := func(x int64) (odd bool, unit int64) {
		for x%p == 0 {
			x /= p
			odd = !odd
		}
		return odd, x
	}
	ea, u := split(a)
	eb, v := split(b)
	neg := false
	if p == 2 {
		minus := func(x int64) bool { return ((x%4)+4)%4 == 3 }
		eight := func(x int64) bool { m := ((x % 8) + 8) % 8; return m == 3 || m == 5 }
		neg = minus(u) && minus(v)
		neg = neg != (ea && eight(v))
		neg = neg != (eb && eight(u))
	} else {
		nonSquare := func(x int64) bool {
			x = ((x % p) + p) % p
			r := int64(1)
			for e := (p - 1) / 2; e > 0; e >>= 1 {
				if e&1 == 1 {
					r = r * x % p
				}
				x = x * x % p
			}
			return r != 1
		}
		neg = ea && eb && (p-1)/2%2 == 1
		neg = neg != (eb && nonSquare(u))
		neg = neg != (ea && nonSquare(v))
	}
	if neg {
		return -1
	}
	return 1
}

// evenSplitRaise is what the least sum of squares of meetings lies above the
// even split at least, for heats full heats of k in which each driver drives
// each times, and why.
//
// When the even split fails, the deviations from it are whole numbers that add
// up to nothing in each row. With t = 0 they hold a signed cycle of four pairs
// at least: 4 more. Otherwise two drivers have an unusual number of meetings
// with somebody, which costs each of them 2 in his row: 2 more.
func evenSplitRaise(n, k, heats, each int) (int64, string) {
	if heats != n || each != k || n <= k {
		return 0, ""
	}
	size := k
	if n < 2*k {
		size = n - k // the complement has the same deviations
	}
	if !evenSplitFails(n, k) && !evenSplitFails(n, size) {
		return 0, ""
	}
	if k*(k-1)%(n-1) == 0 {
		return 4, "the even split is impossible by the theorem of Bruck, Ryser and Chowla, and the next possible sum is 4 more"
	}
	return 2, "the even split is impossible, as its matrix of meetings is not congruent to the unit matrix over the rational numbers, and the next possible sum is 2 more"
}

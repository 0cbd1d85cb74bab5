package rotation

import (
	"context"
	"testing"

	"pgregory.net/rapid"
)

// Symmetric designs known to exist are never ruled out. Sources: Singer 1938 and
// Paley 1933, Handbook of Combinatorial Designs, table of symmetric designs (all
// from memory).
func TestExistingDesignsAreNotRuledOut(t *testing.T) {
	for _, c := range [][2]int{{7, 3}, {13, 4}, {21, 5}, {31, 6}, {57, 8}, {73, 9}, {91, 10}, {11, 5}, {15, 7}, {16, 6}, {19, 9}, {23, 11}, {25, 9},
		{27, 13}, {31, 10}, {36, 15}, {37, 9}, {40, 13}, {45, 12}, {56, 11}} {
		if evenSplitFails(c[0], c[1]) {
			t.Errorf("the symmetric design on %d points with blocks of %d exists, but is ruled out", c[0], c[1])
		}
	}
}

// Symmetric designs known not to exist by the theorem of Bruck, Ryser and
// Chowla: (22,7,2), (29,8,2), the planes of order 6 and 14, and (46,10,2)
// (Bruck & Ryser 1949, Chowla & Ryser 1950, from memory). The plane of order 10
// does not exist either, but by a computer search (Lam 1989), not by this
// theorem.
func TestTheoremOfBruckRyserChowla(t *testing.T) {
	for _, c := range []struct {
		n, k int
		out  bool
	}{{22, 7, true}, {29, 8, true}, {43, 7, true}, {211, 15, true}, {46, 10, true}, {67, 12, true}, {111, 11, false}} {
		if got := evenSplitFails(c.n, c.k); got != c.out {
			t.Errorf("%d points with blocks of %d: ruled out %v, want %v", c.n, c.k, got, c.out)
		}
	}
}

// What a search reaches is never ruled out.
func TestReachedSplitsAreNotRuledOut(t *testing.T) {
	slow(t)
	for lanes := 2; lanes <= 8; lanes++ {
		for n := lanes + 1; n <= 30; n++ {
			up, _ := evenSplitRaise(n, lanes, n, lanes)
			if up == 0 {
				continue
			}
			s := &search{ctx: context.Background(), p: Problem{Drivers: n, Lanes: lanes, Effort: 1}}
			m := meeting{s: s, n: n, size: lanes, heats: n, each: lanes, rnd: newRandom(1, 1)}
			low := evenSq(n*lanes*(lanes-1)/2, n*(n-1)/2)
			m.goal = low
			for _, g := range m.groups(2) {
				if c := m.try(g, 4000); c >= 0 && c < low+up {
					t.Errorf("%d drivers on %d lanes: %d was reached, but %d is said to be the least", n, lanes, c, low+up)
				}
			}
		}
	}
}

// Hilbert's product formula: the symbols of two numbers at all primes and at
// infinity multiply to 1.
func TestHilbertProductFormula(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		number := rapid.Int64Range(-2000, 2000).Filter(func(x int64) bool { return x != 0 })
		a, b, c := number.Draw(t, "a"), number.Draw(t, "b"), number.Draw(t, "c")
		product := 1
		if a < 0 && b < 0 {
			product = -1
		}
		for _, p := range primesOf([]int64{a, b}) {
			product *= hilbert(a, b, p)
		}
		if product != 1 {
			t.Fatalf("(%d,%d): the symbols multiply to %d", a, b, product)
		}
		for _, p := range []int64{2, 3, 5, 7} {
			if hilbert(a, b*c, p) != hilbert(a, b, p)*hilbert(a, c, p) || hilbert(a, -a, p) != 1 || hilbert(a, b, p) != hilbert(b, a, p) {
				t.Fatalf("the symbol at %d is not a symbol for %d, %d, %d", p, a, b, c)
			}
		}
	})
}

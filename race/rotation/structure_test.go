package rotation

import (
	"context"
	"math"
	"testing"

	"pgregory.net/rapid"
)

func TestEdgeColouringNeverFails(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		nl, nr, k := rapid.IntRange(1, 12).Draw(t, "left"), rapid.IntRange(1, 12).Draw(t, "right"), rapid.IntRange(1, 6).Draw(t, "colours")
		degL, degR := make([]int, nl), make([]int, nr)
		var left, right []int
		for range rapid.IntRange(0, 60).Draw(t, "edges") {
			u, v := rapid.IntRange(0, nl-1).Draw(t, "u"), rapid.IntRange(0, nr-1).Draw(t, "v")
			if degL[u] < k && degR[v] < k {
				degL[u]++
				degR[v]++
				left, right = append(left, u), append(right, v)
			}
		}
		c := colour(left, right, nl, nr, k)
		seen := map[[3]int]bool{}
		for e := range left {
			for _, end := range [][3]int{{0, left[e], c[e]}, {1, right[e], c[e]}} {
				if c[e] < 0 || c[e] >= k || seen[end] {
					t.Fatalf("edge %d has colour %d, which its end has already", e, c[e])
				}
				seen[end] = true
			}
		}
	})
}

// Williams 1949: for even n every driver follows every other once on a lane,
// and every lane every other once for a driver.
func TestWilliamsSquaresAreBalanced(t *testing.T) {
	for _, n := range []int{2, 4, 6, 8} {
		p, err := Problem{Drivers: n, Lanes: n}.normal()
		if err != nil {
			t.Fatal(err)
		}
		names := make([]int, n)
		for i := range names {
			names[i] = (i*3 + 1) % n
			if n == 6 {
				names[i] = (i*5 + 1) % n
			}
		}
		f := measure(p, williamsRows(p, names), nil)
		if f.MoveLeast != 1 || f.MoveMost != 1 || f.TakeMost != 1 || f.MoveSame+f.TakeSame != 0 || f.TakeSq != int64(n*(n-1)) {
			t.Errorf("%d drivers: moves %d to %d, take-overs up to %d, stays %d %d", n, f.MoveLeast, f.MoveMost, f.TakeMost, f.MoveSame, f.TakeSame)
		}
	}
	d, err := Make(context.Background(), Problem{Drivers: 8, Lanes: 8}, nil)
	if err != nil || d.Figures.TakeSq != d.Bounds.TakeSq || d.Figures.MoveSq != d.Bounds.MoveSq {
		t.Errorf("eight on eight lanes: take-overs %d (bound %d), moves %d (bound %d), %v", d.Figures.TakeSq, d.Bounds.TakeSq, d.Figures.MoveSq, d.Bounds.MoveSq, err)
	}
}

// A-efficiency of published designs: 1 for a Latin square, v(k-1)/((v-1)k) for a
// balanced incomplete block design whose lanes are complete (Yates 1936, from
// memory), 0 where two groups never meet.
func TestEfficiencyOfKnownDesigns(t *testing.T) {
	slow(t)
	for _, c := range []struct {
		n, lanes int
		want     float64
	}{{6, 6, 1}, {7, 3, 7. * 2 / (6 * 3)}, {13, 4, 13. * 3 / (12 * 4)}, {11, 5, 11. * 4 / (10 * 5)}, {7, 4, 7. * 3 / (6 * 4)}} {
		d, err := Make(context.Background(), Problem{Drivers: c.n, Lanes: c.lanes}, nil)
		if err != nil || math.Abs(d.Figures.AEfficiency-c.want) > 1e-9 {
			t.Errorf("%d on %d: efficiency %v, want %v (%v)", c.n, c.lanes, d.Figures.AEfficiency, c.want, err)
		}
	}
	if got := aEfficiency(4, [][]int{{1, 2}, {3, 4}, {2, 1}, {4, 3}}); got != 0 {
		t.Errorf("two pairs that never meet: efficiency %v, want 0", got)
	}
}

// exp(-delta/T) is met by the whole-number table to within its steps.
func TestCoolingAcceptsAsItShould(t *testing.T) {
	r := newRandom(7, 7)
	c := newCooling(10000, 10000, 1<<30) // T = 10 throughout
	for _, delta := range []int64{1, 5, 10, 20, 40} {
		taken := 0
		const tries = 200000
		for range tries {
			if c.accept(delta, r) {
				taken++
			}
		}
		want := math.Exp(-float64(delta) / 10)
		if got := float64(taken) / tries; math.Abs(got-want) > 0.006 {
			t.Errorf("worsening by %d at T = 10: taken %.4f, want %.4f", delta, got, want)
		}
	}
}

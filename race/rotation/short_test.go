package rotation

import (
	"context"
	"math"
	"testing"

	"pgregory.net/rapid"
)

func TestShortRotationsAreFairInNumbers(t *testing.T) {
	slow(t)
	rapid.Check(t, func(t *rapid.T) {
		p := Problem{Kind: ShortKind, Drivers: rapid.IntRange(2, 10).Draw(t, "drivers"), Lanes: rapid.IntRange(1, 6).Draw(t, "lanes"), Seed: 3}
		if rapid.Bool().Draw(t, "by lanes") {
			p.LanesEach = rapid.IntRange(1, p.Lanes+2).Draw(t, "each")
		} else {
			p.Heats = rapid.IntRange(1, 12).Draw(t, "heats")
		}
		for range p.Lanes {
			p.Costs = append(p.Costs, float64(rapid.IntRange(0, 40).Draw(t, "cost"))/100)
		}
		ctx, cancel := context.WithCancel(context.Background())
		defer cancel()
		if p.Drivers > 6 {
			cancel()
		}
		d, err := Make(ctx, p, nil)
		if err != nil {
			q, bad := p.normal()
			if bad == nil {
				t.Fatalf("%+v: %v", q, err)
			}
			return
		}
		if p.Heats > 0 && len(d.Heats) > p.Heats {
			t.Fatalf("%d heats, but there is time for %d", len(d.Heats), p.Heats)
		}
		if err := d.sound(); err != nil {
			t.Fatal(err)
		}
		at := stints(p.Drivers, d.Heats)
		low, high := math.Inf(1), math.Inf(-1)
		for x, s := range at {
			if len(s) != len(at[0]) || p.LanesEach > 0 && len(s) != p.LanesEach {
				t.Fatalf("driver %d drives %d heats, driver 1 %d", x+1, len(s), len(at[0]))
			}
			count := make([]int, p.Lanes)
			sum := 0.0
			for _, y := range s {
				count[y.lane]++
				sum += p.Costs[y.lane]
			}
			for l, c := range count {
				if c > ceilDiv(len(s), p.Lanes) {
					t.Fatalf("driver %d drives lane %d %d times of %d heats", x+1, l+1, c, len(s))
				}
			}
			low, high = min(low, sum), max(high, sum)
		}
		if c := d.Claims[0]; c.Criterion != LaneCosts || c.Value < c.Bound || math.Abs(float64(c.Value)/costScale-(high-low)) > 1e-5 {
			t.Fatalf("claim %+v, spread %v", c, high-low)
		}
		for x, a := range d.Left {
			if a.Driver != x+1 || a.HeadStart < -1e-12 {
				t.Fatalf("left over %+v", a)
			}
		}
	})
}

// The bound on lane costs against every choice of lanes there is.
func TestCostBoundIsNeverBeaten(t *testing.T) {
	slow(t)
	rapid.Check(t, func(t *rapid.T) {
		lanes := rapid.IntRange(2, 4).Draw(t, "lanes")
		n := rapid.IntRange(2, 4).Draw(t, "drivers")
		k := rapid.IntRange(1, lanes).Draw(t, "each")
		heats := shortHeats(n, lanes, k)
		cost := make([]int64, lanes)
		for i := range cost {
			cost[i] = int64(1000 * rapid.IntRange(0, 30).Draw(t, "cost"))
		}
		bound := costBound(cost, n, k, heats)
		best := int64(math.MaxInt64)
		column := make([]int, lanes)
		var next func(d int, low, high int64)
		next = func(d int, low, high int64) {
			if d == n {
				best = min(best, high-low)
				return
			}
		sets:
			for set := range 1 << lanes {
				sum, in := int64(0), 0
				for l := range lanes {
					if set>>l&1 == 1 {
						sum += cost[l]
						in++
						if column[l] == heats {
							continue sets
						}
					}
				}
				if in != k {
					continue
				}
				for l := range lanes {
					column[l] += set >> l & 1
				}
				next(d+1, min(low, sum), max(high, sum))
				for l := range lanes {
					column[l] -= set >> l & 1
				}
			}
		}
		next(0, math.MaxInt64, math.MinInt64)
		if bound > best {
			t.Fatalf("bound %d is beaten by %d: costs %v, %d drivers, %d lanes each, %d heats", bound, best, cost, n, k, heats)
		}
		costs := make([]float64, lanes)
		for i, c := range cost {
			costs[i] = float64(c) / costScale
		}
		d, err := Make(context.Background(), Problem{Kind: ShortKind, Drivers: n, Lanes: lanes, LanesEach: k, Costs: costs}, nil)
		if err != nil {
			t.Fatal(err)
		}
		if d.Claims[0].Value < best {
			t.Fatalf("spread %d is less than the least there is, %d", d.Claims[0].Value, best)
		}
		if d.Claims[0].Value > best {
			t.Fatalf("spread %d, the least of all choices is %d: costs %v, %d drivers, %d lanes each, %d heats", d.Claims[0].Value, best, cost, n, k, heats)
		}
	})
}

func TestLapsAHeat(t *testing.T) {
	// 180 s at 10 s a lap are 18 laps, at 10.5 s 17.142857
	if got := LapsAHeat(0.5, 180, 10); math.Abs(got-(18-180/10.5)) > 1e-12 {
		t.Errorf("laps a heat: %v", got)
	}
	if LapsAHeat(0.5, 0, 10) != 0 || LapsAHeat(0.5, 10, 0) != 0 || LapsAHeat(-20, 10, 10) != 0 {
		t.Error("nonsense gives laps")
	}
}

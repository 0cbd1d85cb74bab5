package rotation

import (
	"context"
	"testing"

	"pgregory.net/rapid"
)

// isComplete checks the rules of a full rotation from its table alone.
func isComplete(t interface {
	Helper()
	Fatalf(string, ...any)
}, d Draw, p Problem) {
	t.Helper()
	lanes := len(p.usable())
	r := max(p.Rounds, 1)
	turns := map[[2]int]int{}
	for h, row := range d.Heats {
		in := map[int]bool{}
		for l, x := range row {
			if x == 0 {
				continue
			}
			if in[x] {
				t.Fatalf("heat %d: driver %d sits in two cars", h+1, x)
			}
			in[x] = true
			turns[[2]int{x, l}]++
		}
	}
	if len(turns) != p.Drivers*lanes {
		t.Fatalf("%d driver-lane pairs driven, want %d", len(turns), p.Drivers*lanes)
	}
	for k, v := range turns {
		if v != r {
			t.Fatalf("driver %d on lane %d: %d times, want %d", k[0], k[1]+1, v, r)
		}
	}
	if want := max(p.Drivers, lanes) * r; len(d.Heats) != want {
		t.Fatalf("%d heats, fewest is %d", len(d.Heats), want)
	}
}

func TestFullRotationsAreComplete(t *testing.T) {
	slow(t)
	rapid.Check(t, func(t *rapid.T) {
		p := Problem{
			Drivers: rapid.IntRange(1, 14).Draw(t, "drivers"),
			Lanes:   rapid.IntRange(1, 8).Draw(t, "lanes"),
			Rounds:  rapid.IntRange(1, 3).Draw(t, "rounds"),
			Posts:   rapid.IntRange(0, 4).Draw(t, "posts"),
			Seed:    rapid.Uint64().Draw(t, "seed"),
		}
		if p.Lanes > 1 && rapid.Bool().Draw(t, "close one") {
			p.Closed = []int{rapid.IntRange(1, p.Lanes).Draw(t, "closed")}
		}
		rolling, err := Rolling(p)
		if err != nil {
			t.Fatal(err)
		}
		isComplete(t, rolling, p)
		ctx, cancel := context.WithCancel(context.Background())
		if p.Drivers > 8 || p.Rounds > 1 {
			cancel() // the rules must hold for whatever is at hand
		}
		defer cancel()
		d, err := Make(ctx, p, nil)
		if err != nil {
			t.Fatal(err)
		}
		isComplete(t, d, p)
		if err := d.sound(); err != nil {
			t.Fatal(err)
		}
	})
}

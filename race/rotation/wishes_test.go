package rotation

import (
	"context"
	"errors"
	"strings"
	"testing"

	"pgregory.net/rapid"
)

func TestWishesHoldOrAreRefused(t *testing.T) {
	slow(t)
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(3, 6).Draw(t, "drivers")
		p := Problem{Drivers: n, Lanes: rapid.IntRange(2, 3).Draw(t, "lanes"), Seed: rapid.Uint64().Draw(t, "seed")}
		driver := rapid.IntRange(1, n)
		for range rapid.IntRange(0, 2).Draw(t, "shares") {
			p.Wishes.Share = append(p.Wishes.Share, Share{driver.Draw(t, "a"), driver.Draw(t, "b"), rapid.Bool().Draw(t, "between")})
		}
		for range rapid.IntRange(0, 2).Draw(t, "stays") {
			p.Wishes.Stay = append(p.Wishes.Stay, Stay{driver.Draw(t, "who"), rapid.IntRange(0, 4).Draw(t, "from"), rapid.IntRange(0, 12).Draw(t, "until")})
		}
		if rapid.Bool().Draw(t, "bar") {
			p.Wishes.Bar = []Bar{{driver.Draw(t, "barred"), rapid.IntRange(1, p.Lanes).Draw(t, "lane")}}
		}
		if rapid.Bool().Draw(t, "first") {
			p.Wishes.First = []int{driver.Draw(t, "first"), 0}
		}
		d, err := Make(context.Background(), p, nil)
		if err != nil {
			if !errors.Is(err, ErrProblem) {
				t.Fatalf("error %v is not of the declared kind", err)
			}
			return
		}
		if d.Figures.Broken != 0 {
			t.Fatalf("%d wishes broken in %v", d.Figures.Broken, d.Heats)
		}
		if err := d.sound(); err != nil {
			t.Fatal(err)
		}
		turns := turnsOf(d.Heats)
		for x := 1; x <= n; x++ {
			for l := range p.Lanes {
				want := 1
				if len(p.Wishes.Bar) > 0 && p.Wishes.Bar[0] == (Bar{x, l + 1}) {
					want = 0
				}
				if turns[[2]int{x, l}] != want {
					t.Fatalf("driver %d on lane %d: %d times, want %d", x, l+1, turns[[2]int{x, l}], want)
				}
			}
		}
	})
}

func TestContradictionsAreNamed(t *testing.T) {
	for name, c := range map[string]struct {
		wishes Wishes
		named  []string
	}{
		"too short a stay":                 {Wishes{Stay: []Stay{{1, 0, 3}}}, []string{"driver 1 drives up to heat 3"}},
		"one car for two in too few heats": {Wishes{Share: []Share{{1, 2, false}}, Stay: []Stay{{1, 0, 6}, {2, 0, 6}}}, []string{"share a car", "driver 1 drives up", "driver 2 drives up"}},
		"both start in one car":            {Wishes{Share: []Share{{1, 2, false}}, First: []int{1, 2}}, []string{"share a car", "driver 1 starts", "driver 2 starts"}},
		"starts on a barred lane":          {Wishes{Bar: []Bar{{1, 1}}, First: []int{1}}, []string{"cannot use lane 1", "driver 1 starts on lane 1"}},
		"starts before he comes":           {Wishes{Stay: []Stay{{1, 2, 0}}, First: []int{1}}, []string{"from heat 2 on", "driver 1 starts"}},
		"no lane left":                     {Wishes{Bar: []Bar{{1, 1}, {1, 2}, {1, 3}, {1, 4}}}, []string{"lane 1", "lane 2", "lane 3", "lane 4"}},
		"five leave when four can": {Wishes{Stay: []Stay{{1, 0, 4}, {2, 0, 4}, {3, 0, 4}, {4, 0, 4}, {5, 0, 4}}},
			[]string{"driver 1", "driver 2", "driver 3", "driver 4", "driver 5", "16 seats"}},
	} {
		_, err := Make(context.Background(), Problem{Drivers: 8, Lanes: 4, Wishes: c.wishes}, nil)
		var x *ContradictionError
		if !errors.As(err, &x) || !errors.Is(err, ErrProblem) {
			t.Errorf("%s: got %v, want a contradiction", name, err)
			continue
		}
		for _, w := range c.named {
			if !strings.Contains(err.Error(), w) {
				t.Errorf("%s: %q does not name %q", name, err, w)
			}
		}
	}
}

func TestBadProblemsAreRefused(t *testing.T) {
	for name, c := range map[string]struct {
		p    Problem
		want string
	}{
		"nobody":               {Problem{Lanes: 4}, "0 drivers"},
		"too many drivers":     {Problem{Drivers: 61, Lanes: 4}, "61 drivers"},
		"no lane":              {Problem{Drivers: 4}, "0 lanes"},
		"nine lanes":           {Problem{Drivers: 4, Lanes: 9}, "9 lanes"},
		"too many rounds":      {Problem{Drivers: 4, Lanes: 4, Rounds: 4}, "4 rounds"},
		"all lanes closed":     {Problem{Drivers: 4, Lanes: 2, Closed: []int{1, 2}}, "closed"},
		"a lane closed twice":  {Problem{Drivers: 4, Lanes: 2, Closed: []int{1, 1}}, "twice"},
		"costs of other lanes": {Problem{Drivers: 4, Lanes: 2, Costs: []float64{1}}, "1 lane costs for 2 lanes"},
		"short of what":        {Problem{Kind: ShortKind, Drivers: 4, Lanes: 2}, "short rotation needs"},
		"too few heats":        {Problem{Kind: ShortKind, Drivers: 9, Lanes: 2, Heats: 4}, "5 heats are needed"},
		"heats without short":  {Problem{Drivers: 9, Lanes: 2, Heats: 4}, "short rotation only"},
		"criterion twice":      {Problem{Drivers: 4, Lanes: 2, Order: []Criterion{Moves, Moves}}, "named twice"},
		"criterion unknown":    {Problem{Drivers: 4, Lanes: 2, Order: []Criterion{9}}, "does not exist"},
		"shares with himself":  {Problem{Drivers: 4, Lanes: 2, Wishes: Wishes{Share: []Share{{1, 1, false}}}}, "two different drivers"},
		"unknown driver":       {Problem{Drivers: 4, Lanes: 2, Wishes: Wishes{Bar: []Bar{{5, 1}}}}, "drivers 1 to 4"},
		"first heat too wide":  {Problem{Drivers: 4, Lanes: 2, Wishes: Wishes{First: []int{1, 2, 3}}}, "3 drivers for 2 lanes"},
		"first heat twice":     {Problem{Drivers: 4, Lanes: 2, Wishes: Wishes{First: []int{1, 1}}}, "twice"},
		"posts":                {Problem{Drivers: 4, Lanes: 2, Posts: 99}, "99 marshals"},
		"sit-out places":       {Problem{Kind: RollingOn, Drivers: 6, Lanes: 4, SitOut: []int{1}}, "2 drivers sit out"},
		"sit-out outside":      {Problem{Kind: RollingOn, Drivers: 6, Lanes: 4, SitOut: []int{1, 5}}, "expected 0 to 4"},
	} {
		_, err := Make(context.Background(), c.p, nil)
		if !errors.Is(err, ErrProblem) || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%s: got %v, want something about %q", name, err, c.want)
		}
	}
}

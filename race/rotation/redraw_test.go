package rotation

import (
	"context"
	"errors"
	"reflect"
	"strings"
	"testing"

	"pgregory.net/rapid"
)

func TestRedrawKeepsWhatWasRun(t *testing.T) {
	slow(t)
	rapid.Check(t, func(t *rapid.T) {
		p := Problem{Drivers: rapid.IntRange(2, 12).Draw(t, "drivers"), Lanes: rapid.IntRange(1, 5).Draw(t, "lanes"),
			Posts: rapid.IntRange(0, 2).Draw(t, "posts"), Stability: rapid.IntRange(0, 20).Draw(t, "stability")}
		gone, stop := context.WithCancel(context.Background())
		stop()
		first, err := Make(gone, p, nil)
		if err != nil {
			t.Fatal(err)
		}
		ran := rapid.IntRange(0, len(first.Heats)).Draw(t, "ran")
		c := Change{Late: rapid.IntRange(0, 2).Draw(t, "late")}
		if rapid.Bool().Draw(t, "leave") {
			c.Leave = []int{rapid.IntRange(1, p.Drivers).Draw(t, "leaver")}
		}
		if rapid.Bool().Draw(t, "close") {
			c.Close = []int{rapid.IntRange(1, p.Lanes).Draw(t, "lane")}
		}
		if ran > 0 && rapid.Bool().Draw(t, "void") {
			c.Void = []int{rapid.IntRange(1, ran).Draw(t, "heat")}
		}
		played := Played{Run: first.Heats[:ran], Plan: first.Heats[ran:]}
		if p.Posts > 0 {
			played.Duty = first.Duty[:ran]
		}
		ctx := context.Background()
		if p.Drivers > 5 {
			ctx = gone
		}
		d, err := Redraw(ctx, p, played, c, nil)
		if err != nil {
			t.Fatal(err)
		}
		if err := d.sound(); err != nil {
			t.Fatal(err)
		}
		for h := range ran {
			want := first.Heats[h]
			if contains(c.Void, h+1) {
				want = make([]int, p.Lanes)
			}
			if !reflect.DeepEqual(d.Heats[h], want) {
				t.Fatalf("heat %d was run as %v and is now %v", h+1, want, d.Heats[h])
			}
			if p.Posts > 0 && !reflect.DeepEqual(d.Duty[h], first.Duty[h]) {
				t.Fatalf("duty of heat %d was %v and is now %v", h+1, first.Duty[h], d.Duty[h])
			}
		}
		// everybody who is there has every open lane once, and the rest takes
		// the fewest heats
		turns := turnsOf(d.Heats)
		rest := turnsOf(d.Heats[ran:])
		row, column := make([]int, p.Drivers+c.Late+1), make([]int, p.Lanes)
		for x := 1; x <= p.Drivers+c.Late; x++ {
			for l := range p.Lanes {
				left, shut := contains(c.Leave, x), contains(c.Close, l+1)
				n := turns[[2]int{x, l}]
				if (left || shut) && rest[[2]int{x, l}] > 0 {
					t.Fatalf("driver %d (left: %v) is to drive lane %d (closed: %v)", x, left, l+1, shut)
				}
				if !left && !shut && n != 1 {
					t.Fatalf("driver %d on lane %d: %d times", x, l+1, n)
				}
				row[x] += rest[[2]int{x, l}]
				column[l] += rest[[2]int{x, l}]
			}
		}
		least := 0
		for _, v := range append(row, column...) {
			least = max(least, v)
		}
		if got := len(d.Heats) - ran; got != least {
			t.Fatalf("%d heats to come, the fewest are %d", got, least)
		}
		if b := d.Bounds.PairSq; b > d.Figures.PairSq {
			t.Fatalf("meetings %d beat the bound %d", d.Figures.PairSq, b)
		}
	})
}

// A plan with nothing changed stays as it is when seats weigh enough.
func TestRedrawIsStable(t *testing.T) {
	slow(t)
	p := Problem{Drivers: 9, Lanes: 4, Stability: 100}
	d, err := Make(context.Background(), p, nil)
	if err != nil {
		t.Fatal(err)
	}
	e, err := Redraw(context.Background(), p, Played{Run: d.Heats[:3], Plan: d.Heats[3:]}, Change{}, nil)
	if err != nil {
		t.Fatal(err)
	}
	if !reflect.DeepEqual(d.Heats, e.Heats) {
		t.Errorf("nothing has changed, but the plan has:\n%v\n%v", d.Heats, e.Heats)
	}
	changed := func(stability int) int {
		p.Stability = stability
		e, err := Redraw(context.Background(), p, Played{Run: d.Heats[:3], Plan: d.Heats[3:]}, Change{Leave: []int{2}}, nil)
		if err != nil {
			t.Fatal(err)
		}
		n := 0
		for h := 3; h < len(e.Heats); h++ {
			for l, x := range e.Heats[h] {
				if x > 0 && x != d.Heats[h][l] {
					n++
				}
			}
		}
		return n
	}
	if loose, firm := changed(0), changed(100); firm > loose {
		t.Errorf("%d seats change at stability 100, %d at 0", firm, loose)
	}
}

func TestRedrawSaysWhatWasLost(t *testing.T) {
	p := Problem{Drivers: 7, Lanes: 3}
	d, err := Make(context.Background(), p, nil)
	if err != nil {
		t.Fatal(err)
	}
	e, err := Redraw(context.Background(), p, Played{Run: d.Heats[:3], Plan: d.Heats[3:]}, Change{Late: 1, Leave: []int{1}, Close: []int{2}, Void: []int{2}}, nil)
	if err != nil {
		t.Fatal(err)
	}
	all := strings.Join(e.Notes, "\n")
	for _, want := range []string{"Driver 1 has left", "Driver 8 came after heat 3", "Lane 2 is closed after heat 3", "Heat 2 is void", "planned seats have changed", "Lost in "} {
		if !strings.Contains(all, want) {
			t.Errorf("the notes say nothing of %q:\n%s", want, all)
		}
	}
}

func TestRedrawRefusesWhatDoesNotBelong(t *testing.T) {
	p := Problem{Drivers: 4, Lanes: 2}
	good := [][]int{{1, 2}, {2, 3}}
	for name, c := range map[string]struct {
		played Played
		change Change
		want   string
	}{
		"a stranger":          {Played{Run: [][]int{{1, 5}}}, Change{}, "entry list"},
		"another track":       {Played{Run: [][]int{{1, 2, 3}}}, Change{}, "3 lanes"},
		"twice in a heat":     {Played{Run: [][]int{{1, 1}}}, Change{}, "twice"},
		"a stranger planned":  {Played{Plan: [][]int{{9, 1}}}, Change{}, "entry list"},
		"a stranger leaves":   {Played{Run: good}, Change{Leave: []int{5}}, "driver 5"},
		"leaves twice":        {Played{Run: good}, Change{Leave: []int{1, 1}}, "twice"},
		"no such lane":        {Played{Run: good}, Change{Close: []int{3}}, "lane 3"},
		"void before run":     {Played{Run: good}, Change{Void: []int{3}}, "heat 3"},
		"duty of other heats": {Played{Run: good, Duty: [][]int{{1}}}, Change{}, "duty"},
		"too many late":       {Played{Run: good}, Change{Late: 90}, "90 late"},
	} {
		_, err := Redraw(context.Background(), p, c.played, c.change, nil)
		if !errors.Is(err, ErrProblem) || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%s: got %v, want something about %q", name, err, c.want)
		}
	}
}

func TestShortRedrawGivesEverybodyAsMany(t *testing.T) {
	slow(t)
	p := Problem{Kind: ShortKind, Drivers: 8, Lanes: 4, LanesEach: 3, Costs: []float64{.2, .1, 0, .3}}
	d, err := Make(context.Background(), p, nil)
	if err != nil {
		t.Fatal(err)
	}
	e, err := Redraw(context.Background(), p, Played{Run: d.Heats[:2], Plan: d.Heats[2:]}, Change{Close: []int{1}, Late: 1}, nil)
	if err != nil {
		t.Fatal(err)
	}
	for x, at := range stints(9, e.Heats) {
		if len(at) != 3 {
			t.Errorf("driver %d drives %d heats, want 3: %v", x+1, len(at), e.Heats)
		}
	}
}

func TestRedrawKeepsWishes(t *testing.T) {
	slow(t)
	for i := range 16 {
		r := newRandom(uint64(i), 900)
		p := Problem{Drivers: 4 + r.below(4), Lanes: 2 + r.below(2)}
		p.Wishes.Share = []Share{{1, 2, r.below(2) == 0}}
		p.Wishes.Stay = []Stay{{3, 2, 0}}
		if r.below(2) == 0 {
			p.Wishes.Bar = []Bar{{4, 1}}
		}
		first, err := Make(context.Background(), p, nil)
		if err != nil {
			t.Fatal(err)
		}
		ran := r.below(len(first.Heats) + 1)
		c := Change{Late: r.below(2)}
		if r.below(2) == 0 {
			c.Leave = []int{1 + r.below(p.Drivers)}
		}
		d, err := Redraw(context.Background(), p, Played{Run: first.Heats[:ran], Plan: first.Heats[ran:]}, c, nil)
		if err != nil {
			if !errors.Is(err, ErrProblem) {
				t.Fatal(err)
			}
			continue
		}
		if d.Figures.Broken > 0 {
			t.Errorf("case %d: %d wishes are broken: %v", i, d.Figures.Broken, d.Heats)
		}
	}
}

// A driver who came late and dropped out, or whose signing on was taken back, must not spoil the re-draw of the others.
func TestLateDriverMayLeaveAgain(t *testing.T) {
	p := Problem{Drivers: 4, Lanes: 4, Seed: 3}
	first, err := Make(context.Background(), p, nil)
	if err != nil {
		t.Fatal(err)
	}
	again, err := Redraw(context.Background(), p, Played{Run: first.Heats[:1], Plan: first.Heats[1:]}, Change{Late: 1, Leave: []int{5}}, nil)
	if err != nil {
		t.Fatal(err)
	}
	if len(again.Heats) != 4 {
		t.Errorf("%d heats, want the 4 there were", len(again.Heats))
	}
	for h, row := range again.Heats {
		for l, d := range row {
			if d == 5 {
				t.Errorf("heat %d, lane %d: driver 5 is not there", h+1, l+1)
			}
		}
	}
	// He may also have driven before he went.
	with, err := Redraw(context.Background(), p, Played{Run: first.Heats[:1], Plan: first.Heats[1:]}, Change{Late: 1}, nil)
	if err != nil {
		t.Fatal(err)
	}
	run := 1
	for h, row := range with.Heats {
		for _, d := range row {
			if d == 5 && run == 1 {
				run = h + 1
			}
		}
	}
	if _, err := Redraw(context.Background(), p, Played{Run: with.Heats[:run], Plan: with.Heats[run:]}, Change{Late: 1, Leave: []int{5}}, nil); err != nil {
		t.Errorf("after driver 5 has driven: %v", err)
	}
	if _, err := Redraw(context.Background(), p, Played{Run: first.Heats[:1]}, Change{Late: 1, Leave: []int{6}}, nil); err == nil {
		t.Error("a driver beyond the late ones cannot leave")
	}
}

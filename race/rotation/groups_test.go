package rotation

import (
	"context"
	"errors"
	"reflect"
	"testing"

	"pgregory.net/rapid"
)

func TestGroupsShareOutTheField(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p := Problem{Drivers: rapid.IntRange(1, 40).Draw(t, "drivers"), Lanes: rapid.IntRange(1, 5).Draw(t, "lanes"), Posts: rapid.IntRange(0, 2).Draw(t, "posts"), Seed: 9}
		g := Grouping{Groups: rapid.IntRange(1, min(4, p.Drivers)).Draw(t, "groups"), Split: Split(rapid.IntRange(0, 2).Draw(t, "split"))}
		ctx, cancel := context.WithCancel(context.Background())
		cancel() // the rules must hold for whatever is at hand
		f, err := Grouped(ctx, p, g, nil)
		if err != nil {
			t.Fatal(err)
		}
		if err := f.Draw.sound(); err != nil {
			t.Fatal(err)
		}
		seen := map[int]int{}
		for i, members := range f.Groups {
			for _, d := range members {
				seen[d] = i + 1
			}
			if len(members) < p.Drivers/g.Groups || len(members) > ceilDiv(p.Drivers, g.Groups) {
				t.Fatalf("group %d has %d of %d drivers", i+1, len(members), p.Drivers)
			}
		}
		if len(seen) != p.Drivers {
			t.Fatalf("%d of %d drivers are in a group", len(seen), p.Drivers)
		}
		for h, row := range f.Draw.Heats {
			for _, x := range row {
				if x > 0 && seen[x] != f.Of[h] {
					t.Fatalf("heat %d is group %d's, but has driver %d of group %d", h+1, f.Of[h], x, seen[x])
				}
			}
		}
		turns := turnsOf(f.Draw.Heats)
		if len(turns) != p.Drivers*p.Lanes {
			t.Fatalf("%d driver-lane pairs, want %d", len(turns), p.Drivers*p.Lanes)
		}
	})
}

func TestSplitsInWords(t *testing.T) {
	p := Problem{Drivers: 7, Lanes: 2}
	for _, c := range []struct {
		split Split
		want  [][]int
	}{
		{Seeded, [][]int{{1, 2, 3}, {4, 5}, {6, 7}}},
		{Serpentine, [][]int{{1, 6, 7}, {2, 5}, {3, 4}}},
	} {
		got, err := Grouping{Groups: 3, Split: c.split}.split(p)
		if err != nil || !reflect.DeepEqual(got, c.want) {
			t.Errorf("%v: got %v %v, want %v", c.split, got, err, c.want)
		}
	}
	a, _ := Grouping{Groups: 3, Split: Mixed}.split(Problem{Drivers: 30, Lanes: 2, Seed: 1})
	b, _ := Grouping{Groups: 3, Split: Mixed}.split(Problem{Drivers: 30, Lanes: 2, Seed: 2})
	if reflect.DeepEqual(a, b) {
		t.Error("the lot does not depend on the seed")
	}
}

func TestInterleavedGroupsHaveTheSameMeanTime(t *testing.T) {
	for _, c := range []struct {
		length []int
		spread int // of mean heat numbers, in whole heats
		wait   int // most heats of others in a row
	}{{[]int{8, 8}, 0, 2}, {[]int{8, 8, 8}, 0, 4}, {[]int{7, 7, 7}, 1, 4}, {[]int{10, 5}, 1, 3}, {[]int{9, 8}, 1, 2}} {
		of := interleave(c.length)
		sum, last := make([]int, len(c.length)), make([]int, len(c.length))
		for h, g := range of {
			sum[g-1] += h + 1
			if w := h - last[g-1]; w > c.wait {
				t.Errorf("%v: group %d waits %d heats before heat %d: %v", c.length, g, w, h+1, of)
			}
			last[g-1] = h + 1
		}
		for i := range sum {
			for j := range sum {
				if d := sum[i]*c.length[j] - sum[j]*c.length[i]; d > c.spread*c.length[i]*c.length[j] {
					t.Errorf("%v: mean heats of groups %d and %d differ by more than %d: %v", c.length, i+1, j+1, c.spread, of)
				}
			}
		}
	}
}

func TestBadGroupsAreRefused(t *testing.T) {
	for name, g := range map[string]Grouping{"none": {}, "more than drivers": {Groups: 7}, "too many": {Groups: 9}, "unknown split": {Groups: 2, Split: 5},
		"short seeds": {Groups: 2, Seeds: []int{1, 2}}, "seeds twice": {Groups: 2, Seeds: []int{1, 1, 2, 3, 4, 5}}} {
		if _, err := Grouped(context.Background(), Problem{Drivers: 6, Lanes: 2}, g, nil); !errors.Is(err, ErrProblem) {
			t.Errorf("%s: got %v", name, err)
		}
	}
	p := Problem{Drivers: 6, Lanes: 2, Wishes: Wishes{First: []int{6}}}
	if _, err := Grouped(context.Background(), p, Grouping{Groups: 2}, nil); !errors.Is(err, ErrProblem) {
		t.Errorf("first heat of another group: got %v", err)
	}
}

func TestGroupsKeepWishesOfTheEvening(t *testing.T) {
	p := Problem{Drivers: 12, Lanes: 3, Wishes: Wishes{Stay: []Stay{{1, 5, 0}, {12, 0, 8}}, Share: []Share{{1, 12, false}}, Bar: []Bar{{4, 2}}}}
	f, err := Grouped(context.Background(), p, Grouping{Groups: 2, Split: Serpentine}, nil)
	if err != nil {
		t.Fatal(err)
	}
	if f.Draw.Figures.Broken != 0 {
		t.Errorf("%d wishes are broken", f.Draw.Figures.Broken)
	}
}

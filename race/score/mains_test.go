package score

import (
	"errors"
	"fmt"
	"slices"
	"testing"

	"pgregory.net/rapid"
)

func seeds(n int) []string {
	out := make([]string, n)
	for i := range out {
		out[i] = fmt.Sprint(i + 1)
	}
	return out
}

func TestMainsAreFilledFromTheTop(t *testing.T) {
	for _, c := range []struct {
		n, lanes, up int
		want         string
	}{
		{10, 4, 1, "A3+1 B3+1 C4+0 "}, {8, 4, 1, "A3+1 B3+1 C2+0 "}, {17, 6, 2, "A4+2 B4+2 C4+2 D5+0 "},
		{4, 4, 1, "A4+0 "}, {0, 4, 1, ""}, {5, 4, 0, "A4+0 B1+0 "},
	} {
		mains, err := Mains(seeds(c.n), c.lanes, c.up)
		got := ""
		for _, m := range mains {
			got += fmt.Sprintf("%s%d+%d ", m.Letter, len(m.Seeded), m.StepUp)
		}
		if err != nil || got != c.want {
			t.Errorf("%d drivers, %d lanes, %d up: got %s, %v, want %s", c.n, c.lanes, c.up, got, err, c.want)
		}
	}
}

// run drives every main from the bottom and returns the finishing orders, top first.
func run(mains []Main, finish func(grid []string) []string) [][]string {
	out := make([][]string, len(mains))
	var below []string
	for i := len(mains) - 1; i >= 0; i-- {
		below = finish(mains[i].Grid(below))
		out[i] = below
	}
	return out
}

func TestMainsEachWonFromTheBack(t *testing.T) {
	// Worked by hand: every main finishes in reverse grid order.
	mains, err := Mains(seeds(10), 4, 1)
	if err != nil {
		t.Fatal(err)
	}
	finished := run(mains, func(grid []string) []string {
		grid = slices.Clone(grid)
		slices.Reverse(grid)
		return grid
	})
	if got, want := fmt.Sprint(finished), "[[10 3 2 1] [10 6 5 4] [10 9 8 7]]"; got != want {
		t.Errorf("got %s, want %s", got, want)
	}
	if got, want := fmt.Sprint(MainsOrder(finished)), "[10 3 2 1 6 5 4 9 8 7]"; got != want {
		t.Errorf("got %s, want %s", got, want)
	}
}

func TestEveryMainFitsItsLanesAndNobodyIsLost(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(0, 60).Draw(t, "drivers")
		lanes := rapid.IntRange(1, 8).Draw(t, "lanes")
		up := rapid.IntRange(0, lanes-1).Draw(t, "up")
		mains, err := Mains(seeds(n), lanes, up)
		if err != nil {
			t.Fatal(err)
		}
		for i, m := range mains {
			if len(m.Seeded) == 0 || len(m.Seeded)+m.StepUp > lanes {
				t.Fatalf("main %s: %d seeded, %d step up, %d lanes", m.Letter, len(m.Seeded), m.StepUp, lanes)
			}
			if i > 0 && len(m.Seeded)+m.StepUp <= up {
				t.Fatalf("main %s is pointless: %d drive, %d leave upwards", m.Letter, len(m.Seeded)+m.StepUp, up)
			}
		}
		order := MainsOrder(run(mains, slices.Clone[[]string]))
		slices.Sort(order)
		want := seeds(n)
		slices.Sort(want)
		if !slices.Equal(order, want) {
			t.Fatalf("%v became %v", want, order)
		}
	})
}

func TestWithdrawalsMayLeaveFewerThanStepUp(t *testing.T) {
	m := Main{Letter: "A", Seeded: []string{"1", "2"}, StepUp: 2}
	if got := fmt.Sprint(m.Grid([]string{"9"}), m.Grid(nil)); got != "[1 2 9] [1 2]" {
		t.Error(got)
	}
}

func TestMainsRefuse(t *testing.T) {
	for _, c := range []struct {
		d         []string
		lanes, up int
	}{{seeds(3), 0, 0}, {seeds(3), 4, 4}, {seeds(3), 4, -1}, {[]string{"1", "1"}, 4, 1}, {nil, 1000, 1}} {
		if _, err := Mains(c.d, c.lanes, c.up); !errors.Is(err, ErrBadInput) {
			t.Errorf("%v: got %v", c, err)
		}
	}
	if got := letter(26) + letter(27) + letter(52); got != "AAABBA" {
		t.Error(got)
	}
}

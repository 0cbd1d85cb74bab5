package score

import (
	"errors"
	"fmt"
	"slices"
	"strings"
	"testing"

	"pgregory.net/rapid"
)

// round builds a round from groups of level drivers, best first.
func round(table Table, sharing Sharing, groups ...string) []RoundResult {
	var sizes []int
	var drivers []string
	for _, g := range groups {
		d := strings.Fields(g)
		sizes = append(sizes, len(d))
		drivers = append(drivers, d...)
	}
	points, places := table.Award(sizes, sharing), Places(sizes, Standard)
	out := make([]RoundResult, len(drivers))
	for i, d := range drivers {
		out[i] = RoundResult{Driver: d, Place: places[i].Whole(), Points: points[i]}
	}
	return out
}

func standings(t *testing.T, rounds [][]RoundResult, rule SeasonRule) string {
	t.Helper()
	table, err := Season(rounds, rule)
	if err != nil {
		t.Fatal(err)
	}
	var b strings.Builder
	for _, s := range table {
		fmt.Fprintf(&b, "%v %s %v [", s.Place, s.Driver, s.Net)
		for i, r := range s.Rounds {
			if i > 0 {
				b.WriteByte(' ')
			}
			if r.Dropped {
				fmt.Fprintf(&b, "(%v)", r.Points)
			} else {
				fmt.Fprint(&b, r.Points)
			}
		}
		fmt.Fprintf(&b, "] %s\n", s.Decided)
	}
	return b.String()
}

func TestSeriesOfFourRoundsWithOneDrop(t *testing.T) {
	// Three drivers, 5-4-3, round 3 a tie for first, A absent in round 4.
	// Worked by hand; the drop rule is Racing Rules of Sailing A2.1, sharing by
	// average is the dead-heat article of the FIA sporting regulations and
	// Racing Rules of Sailing A7.
	table := Table{5, 4, 3}
	rounds := func(s Sharing) [][]RoundResult {
		return [][]RoundResult{
			round(table, s, "A", "B", "C"), round(table, s, "B", "A", "C"),
			round(table, s, "A B", "C"), round(table, s, "B", "C"),
		}
	}
	want := "1 B 15 [(4) 5 5 5] \n2 A 14 [5 4 5 (0)] points\n3 C 10 [(3) 3 3 4] points\n"
	if got := standings(t, rounds(Equal), SeasonRule{Drop: 1}); got != want {
		t.Errorf("equal sharing:\n%swant\n%s", got, want)
	}
	want = "1 B 14.5 [(4) 5 4.5 5] \n2 A 13.5 [5 4 4.5 (0)] points\n3 C 10 [(3) 3 3 4] points\n"
	if got := standings(t, rounds(Average), SeasonRule{Drop: 1}); got != want {
		t.Errorf("average sharing:\n%swant\n%s", got, want)
	}
}

func TestFullTieIsSharedOrGoesToTheLastRound(t *testing.T) {
	table := Table{5, 4}
	rounds := [][]RoundResult{
		round(table, Average, "A", "B"), round(table, Average, "B", "A"),
		round(table, Average, "A", "B"), round(table, Average, "B", "A"),
	}
	// FIA sporting regulations, dead heat: same firsts, same seconds.
	if got, want := standings(t, rounds, SeasonRule{Drop: 1}), "1 A 14 [5 (4) 5 4] \n1 B 14 [(4) 5 4 5] \n"; got != want {
		t.Errorf("countback:\n%swant\n%s", got, want)
	}
	// Racing Rules of Sailing A8.2: the last race, excluded scores included.
	if got, want := standings(t, rounds, SeasonRule{Drop: 1, Countback: BestScores}), "1 B 14 [(4) 5 4 5] \n2 A 14 [5 (4) 5 4] last round\n"; got != want {
		t.Errorf("sailing:\n%swant\n%s", got, want)
	}
}

func TestCountback(t *testing.T) {
	p := WholePoints
	r := func(d string, place int, points int64) RoundResult {
		return RoundResult{Driver: d, Place: place, Points: p(points)}
	}
	cases := []struct {
		name   string
		rule   SeasonRule
		rounds [][]RoundResult
		want   string
	}{
		{"one first and nothing beat two seconds (FIA, most first places)", SeasonRule{},
			[][]RoundResult{{r("A", 1, 10), r("B", 2, 5)}, {r("B", 2, 5)}},
			"1 A 10 [10 0] \n2 B 10 [5 5] most firsts\n"},
		{"same firsts, more seconds (FIA)", SeasonRule{},
			[][]RoundResult{{r("A", 1, 10), r("B", 2, 6)}, {r("B", 1, 10), r("A", 3, 4)}, {r("A", 5, 2)}},
			"1 B 16 [6 10 0] \n2 A 16 [10 4 2] most firsts\n"},
		{"low points, scores best to worst (RRS A8.1)", SeasonRule{LowWins: true, Countback: BestScores},
			[][]RoundResult{{r("A", 2, 2), r("B", 1, 1)}, {r("A", 2, 2), r("B", 3, 3)}},
			"1 B 4 [1 3] \n2 A 4 [2 2] best scores\n"},
		{"low points, excluded score not used in A8.1 but in A8.2", SeasonRule{LowWins: true, Countback: BestScores, Drop: 1},
			[][]RoundResult{{r("A", 1, 1), r("B", 2, 2)}, {r("A", 2, 2), r("B", 1, 1)}, {r("A", 4, 4), r("B", 3, 3)}},
			"1 B 3 [2 1 (3)] \n2 A 3 [1 2 (4)] last round\n"},
		{"no countback", SeasonRule{Countback: ShareAlways},
			[][]RoundResult{{r("A", 1, 10), r("B", 2, 5)}, {r("B", 2, 5)}},
			"1 A 10 [10 0] \n1 B 10 [5 5] \n"},
	}
	for _, c := range cases {
		if got := standings(t, c.rounds, c.rule); got != c.want {
			t.Errorf("%s:\n%swant\n%s", c.name, got, c.want)
		}
	}
}

func TestDrops(t *testing.T) {
	p := WholePoints
	r := func(points int64, status Status) []RoundResult {
		return []RoundResult{{Driver: "A", Points: p(points), Status: status}}
	}
	other := []RoundResult{{Driver: "Z"}}
	cases := []struct {
		name   string
		rule   SeasonRule
		rounds [][]RoundResult
		want   string
	}{
		{"absent may be dropped", SeasonRule{Drop: 1}, [][]RoundResult{r(5, 0), other, r(3, 0)}, "[5 (0) 3]"},
		{"disqualified may not: the next worst goes", SeasonRule{Drop: 1}, [][]RoundResult{r(5, 0), r(0, Disqualified), r(3, 0)}, "[5 0 (3)]"},
		{"did not start may be dropped", SeasonRule{Drop: 1}, [][]RoundResult{r(5, 0), r(0, DidNotStart), r(3, 0)}, "[5 (0) 3]"},
		{"as many drops as rounds: one is kept", SeasonRule{Drop: 3}, [][]RoundResult{r(5, 0), r(4, 0), r(3, 0)}, "[5 (4) (3)]"},
		{"more drops than rounds: one is kept", SeasonRule{Drop: 9}, [][]RoundResult{r(5, 0)}, "[5]"},
		{"among equal worst the earliest", SeasonRule{Drop: 2}, [][]RoundResult{r(3, 0), r(5, 0), r(3, 0), r(3, 0)}, "[(3) 5 (3) 3]"},
		{"low points drop the highest", SeasonRule{Drop: 1, LowWins: true, AbsentPoints: p(9)}, [][]RoundResult{r(2, 0), other, r(3, 0)}, "[2 (9) 3]"},
		{"no drop before the third round", SeasonRule{Drop: 1, DropFrom: 3}, [][]RoundResult{r(5, 0), r(4, 0)}, "[5 4]"},
	}
	for _, c := range cases {
		if got := standings(t, c.rounds, c.rule); !strings.Contains(got, c.want) {
			t.Errorf("%s: got\n%swant %s", c.name, got, c.want)
		}
	}
}

func TestPointsAreSharedExactly(t *testing.T) {
	cases := []struct {
		name    string
		table   Table
		sizes   []int
		sharing Sharing
		want    string
	}{
		{"three tied for first", Table{10, 8, 6, 5}, []int{3, 1}, Average, "[8 8 8 5]"},
		{"thirds", Table{5, 4, 1}, []int{3}, Average, "[3 1/3 3 1/3 3 1/3]"},
		{"more tied than points places", Table{5, 4, 3}, []int{1, 7}, Average, "[5 1 1 1 1 1 1 1]"},
		{"more tied than points places, equal", Table{5, 4, 3}, []int{1, 4}, Equal, "[5 4 4 4 4]"},
		{"beyond the table", Table{5}, []int{1, 2}, Average, "[5 0 0]"},
		{"half points", Table{5, 4}, []int{2}, Average, "[4.5 4.5]"},
		{"nobody", Table{5}, nil, Average, "[]"},
	}
	for _, c := range cases {
		if got := fmt.Sprint(c.table.Award(c.sizes, c.sharing)); got != c.want {
			t.Errorf("%s: got %s, want %s", c.name, got, c.want)
		}
	}
}

func TestAveragePointsAddUpToTheTable(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		table := Table(rapid.SliceOfN(rapid.Int64Range(-5, 100), 0, 30).Draw(t, "table"))
		sizes := rapid.SliceOfN(rapid.IntRange(1, 9), 0, 8).Draw(t, "sizes")
		n := 0
		for _, s := range sizes {
			n += s
		}
		var want, got Points
		for p := 1; p <= n; p++ {
			want = want.Add(WholePoints(table.at(p)))
		}
		for _, p := range table.Award(sizes, Average) {
			got = got.Add(p)
		}
		if got.Cmp(want) != 0 {
			t.Fatalf("awarded %v, table holds %v", got, want)
		}
	})
}

func TestSeasonDoesNotDependOnTheOrderWithinARound(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		table := Table{5, 4, 3, 1}
		var rounds [][]RoundResult
		for range rapid.IntRange(1, 5).Draw(t, "rounds") {
			d := rapid.Permutation([]string{"A", "B", "C", "D"}).Draw(t, "order")
			rounds = append(rounds, round(table, Average, d[:rapid.IntRange(1, 4).Draw(t, "came")]...))
		}
		rule := SeasonRule{Drop: rapid.IntRange(0, 3).Draw(t, "drop"), Countback: Countback(rapid.IntRange(0, 2).Draw(t, "countback"))}
		a, err := Season(rounds, rule)
		if err != nil {
			t.Fatal(err)
		}
		for i := range rounds {
			rounds[i] = rapid.Permutation(rounds[i]).Draw(t, "shuffle")
		}
		b, _ := Season(rounds, rule)
		if fmt.Sprint(a) != fmt.Sprint(b) {
			t.Fatalf("%v\n%v", a, b)
		}
		for _, s := range a {
			kept := 0
			for _, r := range s.Rounds {
				if !r.Dropped {
					kept++
				}
			}
			if kept < 1 {
				t.Fatalf("%s keeps no score", s.Driver)
			}
		}
	})
}

func TestSeasonRefuses(t *testing.T) {
	for name, f := range map[string]func() error{
		"twice in a round": func() error {
			_, err := Season([][]RoundResult{{{Driver: "A"}, {Driver: "A"}}}, SeasonRule{})
			return err
		},
		"negative drops":      func() error { _, err := Season(nil, SeasonRule{Drop: -1}); return err },
		"a negative place":    func() error { _, err := Season([][]RoundResult{{{Driver: "A", Place: -1}}}, SeasonRule{}); return err },
		"points not a number": func() error { _, err := ParsePoints("1e999999999"); return err },
	} {
		if err := f(); !errors.Is(err, ErrBadInput) {
			t.Errorf("%s: got %v", name, err)
		}
	}
}

func TestRoundGivesPlacesAndPointsFromASheet(t *testing.T) {
	rows, err := Rank([]Entry{
		one("A", Stint{Laps: 9}), one("B", Stint{Laps: 9}), one("C", Stint{Laps: 8}),
		{Driver: "D", Status: Disqualified},
	}, Rule{Resolution: 1, Chain: []Tie{ByTotal}, Style: Dense})
	if err != nil {
		t.Fatal(err)
	}
	got := fmt.Sprint(Round(rows, Table{5, 4, 3}, Average))
	if want := "[{A 1 4.5 finished} {B 1 4.5 finished} {C 3 3 finished} {D 0 0 disqualified}]"; got != want {
		t.Fatalf("got %s, want %s", got, want)
	}
}

func TestPointsText(t *testing.T) {
	for _, s := range []string{"0", "14", "27/2", "13/3", "-1/3"} {
		p, err := ParsePoints(s)
		if err != nil {
			t.Fatal(err)
		}
		b, _ := p.MarshalText()
		var q Points
		if err := q.UnmarshalText(b); err != nil || q.Cmp(p) != 0 || string(b) != s {
			t.Errorf("%s became %s, %v, %v", s, b, q, err)
		}
	}
	third := WholePoints(-1).Over(3)
	if got := fmt.Sprint(third, WholePoints(13).Over(3), WholePoints(9).Over(2), third.Sub(third)); got != "-1/3 4 1/3 4.5 0" {
		t.Error(got)
	}
}

func TestWordsRoundTrip(t *testing.T) {
	for s := Finished; s <= Absent; s++ {
		var back Status
		b, _ := s.MarshalText()
		if err := back.UnmarshalText(b); err != nil || back != s {
			t.Errorf("%v: %v, %v", s, back, err)
		}
	}
	for s := ByTotal; s <= ByLot; s++ {
		var back Tie
		b, _ := s.MarshalText()
		if err := back.UnmarshalText(b); err != nil || back != s {
			t.Errorf("%v: %v, %v", s, back, err)
		}
	}
	for s := Standard; s <= Fractional; s++ {
		var back PlaceStyle
		b, _ := s.MarshalText()
		if err := back.UnmarshalText(b); err != nil || back != s {
			t.Errorf("%v: %v, %v", s, back, err)
		}
	}
	for s := MostFirsts; s <= ShareAlways; s++ {
		var back Countback
		b, _ := s.MarshalText()
		if err := back.UnmarshalText(b); err != nil || back != s {
			t.Errorf("%v: %v, %v", s, back, err)
		}
	}
	for _, s := range []Sharing{Average, Equal} {
		var back Sharing
		b, _ := s.MarshalText()
		if err := back.UnmarshalText(b); err != nil || back != s {
			t.Errorf("%v: %v, %v", s, back, err)
		}
	}
	if slices.Contains([]string{Tie(99).String(), Status(99).String()}, "") {
		t.Error("unknown values need a name too")
	}
}

package score

import (
	"cmp"
	"fmt"
	"slices"
)

// Countback says how drivers with the same season points are told apart.
type Countback int

const (
	// MostFirsts: more first places, then more seconds, and so on, over all
	// rounds. Drivers with the same places share.
	// Source: FIA Formula One Sporting Regulations, article "Dead heat": the
	// holder of the greatest number of first places, then of second places.
	MostFirsts Countback = iota
	// BestScores: the kept scores of each, best first; the first difference
	// decides. Then the scores of the last round, the last but one and so on,
	// dropped ones included. Source: Racing Rules of Sailing A8.1 and A8.2.
	BestScores
	// ShareAlways: same points, same place.
	ShareAlways
)

var countbackNames = [...]string{"most firsts", "best scores", "share"}

// String returns the countback as written on a rule card.
func (c Countback) String() string {
	if c < 0 || int(c) >= len(countbackNames) {
		return fmt.Sprintf("countback %d", int(c))
	}
	return countbackNames[c]
}

// MarshalText writes the countback as its words.
func (c Countback) MarshalText() ([]byte, error) { return []byte(c.String()), nil }

// UnmarshalText reads what [Countback.MarshalText] wrote.
func (c *Countback) UnmarshalText(b []byte) error {
	for i, n := range countbackNames {
		if n == string(b) {
			*c = Countback(i)
			return nil
		}
	}
	return fmt.Errorf("score: countback %q %w: expected one of %q", b, ErrBadInput, countbackNames)
}

// SeasonRule is the part of a rule card that adds rounds up.
type SeasonRule struct {
	Drop      int // how many worst scores are left out; at least one is kept
	DropFrom  int // no drops before this many rounds were held; 0 for always
	Countback Countback
	LowWins   bool // fewer points are better, as in sailing
	// AbsentPoints is what a round missed scores: nothing in most clubs, entries
	// plus one under low points.
	AbsentPoints Points
	Style        PlaceStyle
}

// RoundResult is one driver in one round.
type RoundResult struct {
	Driver string
	Place  int // as printed, 1 for first, shared places equal; 0 for none
	Points Points
	Status Status // Disqualified may not be dropped; the others may
}

// RoundScore is one round in a standing.
type RoundScore struct {
	RoundResult
	Dropped bool
}

// Standing is one line of a season.
type Standing struct {
	Driver  string
	Place   Place
	Shared  bool
	Gross   Points       // all rounds
	Net     Points       // without the dropped ones
	Rounds  []RoundScore // one for each round held, in order
	Decided string       // "points", "most firsts", ...: what put it behind the row above; "" when level
}

// Round makes a season round from a ranked sheet, a points table and a sharing.
// Shared places count alike; drivers without a place score nothing.
func Round(rows []Row, table Table, sharing Sharing) []RoundResult {
	sizes := GroupSizes(rows)
	points := table.Award(sizes, sharing)
	places := Places(sizes, Standard)
	out := make([]RoundResult, len(rows))
	for i, r := range rows {
		out[i] = RoundResult{Driver: r.Driver, Status: r.Status}
		if i < len(points) {
			out[i].Place, out[i].Points = places[i].Whole(), points[i]
		}
	}
	return out
}

// Season adds rounds up. rounds holds the rounds held so far, in order; a
// driver missing from a round was absent. The order within a round changes
// nothing.
//
// Drops: the Drop worst scores of each driver are left out, among equal ones
// the earliest (Racing Rules of Sailing A2.1), never a disqualification, and
// never the last score left.
func Season(rounds [][]RoundResult, rule SeasonRule) ([]Standing, error) {
	if rule.Drop < 0 || rule.DropFrom < 0 {
		return nil, fmt.Errorf("score: %d drops from round %d %w: expected 0 or more", rule.Drop, rule.DropFrom, ErrBadInput)
	}
	if rule.Countback < MostFirsts || rule.Countback > ShareAlways {
		return nil, fmt.Errorf("score: %v %w: expected one of %q", rule.Countback, ErrBadInput, countbackNames)
	}
	at := map[string]int{}
	var table []Standing
	for n, round := range rounds {
		inRound := map[string]bool{}
		for _, r := range round {
			if inRound[r.Driver] {
				return nil, fmt.Errorf("score: round %d, driver %s %w: scored twice in one round", n+1, r.Driver, ErrBadInput)
			}
			inRound[r.Driver] = true
			if r.Place < 0 || r.Place > placeMax {
				return nil, fmt.Errorf("score: round %d, driver %s: place %d %w: expected 0 for none, or 1 to %d", n+1, r.Driver, r.Place, ErrBadInput, placeMax)
			}
			i, ok := at[r.Driver]
			if !ok {
				i = len(table)
				at[r.Driver] = i
				table = append(table, Standing{Driver: r.Driver, Rounds: make([]RoundScore, len(rounds))})
				for k := range rounds {
					table[i].Rounds[k].RoundResult = RoundResult{Driver: r.Driver, Status: Absent, Points: rule.AbsentPoints}
				}
			}
			table[i].Rounds[n].RoundResult = r
		}
	}
	for i := range table {
		table[i].drop(rule, len(rounds))
		for _, r := range table[i].Rounds {
			table[i].Gross = table[i].Gross.Add(r.Points)
			if !r.Dropped {
				table[i].Net = table[i].Net.Add(r.Points)
			}
		}
	}
	slices.SortFunc(table, func(a, b Standing) int {
		if c, _ := rule.compare(a, b); c != 0 {
			return c
		}
		return cmp.Compare(a.Driver, b.Driver)
	})
	var sizes []int
	for i := range table {
		if i > 0 {
			c, by := rule.compare(table[i-1], table[i])
			if c == 0 {
				sizes[len(sizes)-1]++
				table[i-1].Shared, table[i].Shared = true, true
				continue
			}
			table[i].Decided = by
		}
		sizes = append(sizes, 1)
	}
	for i, p := range Places(sizes, rule.Style) {
		table[i].Place = p
	}
	return table, nil
}

// placeMax bounds a place, so that counting places needs no more memory than
// there are entries.
const placeMax = 100_000

// better returns -1 when p is the better score.
func (rule SeasonRule) better(p, q Points) int {
	if rule.LowWins {
		return p.Cmp(q)
	}
	return q.Cmp(p)
}

func (s *Standing) drop(rule SeasonRule, held int) {
	if held < rule.DropFrom {
		return
	}
	var may []int
	for i, r := range s.Rounds {
		if r.Status != Disqualified {
			may = append(may, i)
		}
	}
	// Worst first; a stable sort leaves the earliest of equals in front.
	slices.SortStableFunc(may, func(i, j int) int {
		return rule.better(s.Rounds[j].Points, s.Rounds[i].Points)
	})
	for _, i := range may[:min(len(may), rule.Drop, max(held-1, 0))] {
		s.Rounds[i].Dropped = true
	}
}

func (rule SeasonRule) compare(a, b Standing) (int, string) {
	if c := rule.better(a.Net, b.Net); c != 0 {
		return c, "points"
	}
	switch rule.Countback {
	case MostFirsts:
		if c := compareFirsts(a, b); c != 0 {
			return c, "most firsts"
		}
	case BestScores:
		x, y := rule.kept(a), rule.kept(b)
		for i := range min(len(x), len(y)) {
			if c := rule.better(x[i], y[i]); c != 0 {
				return c, "best scores"
			}
		}
		for i := len(a.Rounds) - 1; i >= 0; i-- {
			if c := rule.better(a.Rounds[i].Points, b.Rounds[i].Points); c != 0 {
				return c, "last round"
			}
		}
	}
	return 0, ""
}

// kept returns the scores that were not dropped, best first.
func (rule SeasonRule) kept(s Standing) []Points {
	var out []Points
	for _, r := range s.Rounds {
		if !r.Dropped {
			out = append(out, r.Points)
		}
	}
	slices.SortStableFunc(out, rule.better)
	return out
}

// compareFirsts compares the places of two drivers, best first: at the first
// difference the better place belongs to the driver with more of that place.
func compareFirsts(a, b Standing) int {
	places := func(s Standing) []int {
		var out []int
		for _, r := range s.Rounds {
			if r.Place > 0 {
				out = append(out, r.Place)
			}
		}
		slices.Sort(out)
		return out
	}
	return compareBest(places(a), places(b), false)
}

package score

import (
	"cmp"
	"fmt"
	"slices"
	"time"
)

// Rule is the part of a rule card that places drivers.
type Rule struct {
	Resolution int        // parts in a lap: 100 for hundredths, 1 for whole laps only
	Chain      []Tie      // how drivers are told apart, the score itself first
	Lot        *uint64    // seed of the draw; required by, and only used for, ByLot
	Style      PlaceStyle // numbers of shared places
}

func (r Rule) check() error {
	if r.Resolution < 1 || r.Resolution > resolutionMax {
		return fmt.Errorf("score: resolution %d %w: expected 1 to %d parts a lap; 100 is usual", r.Resolution, ErrBadInput, resolutionMax)
	}
	if len(r.Chain) == 0 {
		return fmt.Errorf("score: empty tie chain %w: expected at least one step, the score itself", ErrBadInput)
	}
	for _, t := range r.Chain {
		if t < ByTotal || t > ByLot {
			return fmt.Errorf("score: %v %w: expected a known step", t, ErrBadInput)
		}
		if t == ByLot && r.Lot == nil {
			return fmt.Errorf("score: tie step lot %w: expected a seed on the rule card, so that the draw can be repeated", ErrBadInput)
		}
	}
	return nil
}

// Entry is one driver with his stints. Status is for the whole sheet: Finished
// for everybody who is to be placed; Absent, DidNotStart and Disqualified are
// listed below the others without a place.
type Entry struct {
	Driver string
	Stints []Stint
	Status Status
}

// Row is one line of a sheet.
type Row struct {
	Driver string
	Place  Place // 0 for none
	Shared bool  // another row has the same place by every step of the chain
	Total  Parts
	Status Status

	// Decided is the step that put this row behind the row above it; nil on
	// the first row and on rows level with the one above.
	Decided *Tie

	Laps     int           // whole laps, as the sum of the stints
	LastPass time.Duration // sum of the stints
	BestLap  time.Duration // 0 for none
	Stints   []Stint       // as handed in: every number can be unfolded to them
}

// placed reports whether the sheet gives the driver a place.
func (s Status) placed() bool { return s == Finished || s == Stopped }

// Rank puts drivers in order and numbers their places.
//
// Rows come best first; drivers level by the whole chain share a place and
// stand in the order of their ids, compared byte by byte. The order of entries
// changes nothing. Heats of different lengths cannot be ranked by laps: if any
// two counted stints state different lengths (one stating none differs from one
// that does), the chain must begin with ByRate.
func Rank(entries []Entry, rule Rule) ([]Row, error) {
	if err := rule.check(); err != nil {
		return nil, err
	}
	seen := make(map[string]bool, len(entries))
	var length time.Duration
	stints := 0
	tallies := make([]tally, len(entries))
	order := make([]int, len(entries))
	for i, e := range entries {
		if seen[e.Driver] {
			return nil, fmt.Errorf("score: driver %s %w: entered twice; join the two entries", e.Driver, ErrBadInput)
		}
		seen[e.Driver] = true
		if e.Status < Finished || e.Status > Absent || e.Status == Void {
			return nil, fmt.Errorf("score: driver %s: %v %w: expected how the driver's night ended", e.Driver, e.Status, ErrBadInput)
		}
		for _, s := range e.Stints {
			if err := s.check(e.Driver, rule.Resolution); err != nil {
				return nil, err
			}
			if !s.Counts() {
				continue
			}
			if rule.Chain[0] == ByRate {
				if s.Length == 0 {
					return nil, fmt.Errorf("score: driver %s, heat %d: no heat length %w: expected how long the heat ran, because the card ranks by rate", e.Driver, s.Heat, ErrBadInput)
				}
				continue
			}
			if stints++; stints > 1 && s.Length != length {
				return nil, fmt.Errorf("score: driver %s, heat %d: heat ran %v and another ran %v %w: laps of heats of different length cannot be added; begin the chain with rate, or void the heat and run it again",
					e.Driver, s.Heat, s.Length, length, ErrBadInput)
			}
			length = s.Length
		}
		tallies[i] = newTally(e.Driver, e.Stints, rule)
		order[i] = i
	}
	slices.SortFunc(order, func(i, j int) int {
		if c := compareListed(entries[i].Status, entries[j].Status); c != 0 {
			return c
		}
		if c, _ := compareChain(rule.Chain, &tallies[i], &tallies[j]); c != 0 && entries[i].Status.placed() {
			return c
		}
		return cmp.Compare(entries[i].Driver, entries[j].Driver)
	})
	rows := make([]Row, len(order))
	var sizes []int
	for n, i := range order {
		t := &tallies[i]
		rows[n] = Row{Driver: t.driver, Total: t.total, Status: entries[i].Status, Laps: int(t.laps), LastPass: t.last, Stints: slices.Clone(entries[i].Stints)}
		if len(t.best) > 0 {
			rows[n].BestLap = t.best[0]
		}
		if !entries[i].Status.placed() {
			continue
		}
		if n > 0 {
			c, by := compareChain(rule.Chain, &tallies[order[n-1]], t)
			if c == 0 {
				sizes[len(sizes)-1]++
				rows[n].Shared, rows[n-1].Shared = true, true
				continue
			}
			rows[n].Decided = &by
		}
		sizes = append(sizes, 1)
	}
	for n, p := range Places(sizes, rule.Style) {
		rows[n].Place = p
	}
	return rows, nil
}

// compareListed puts placed drivers first, then those who did not start, the
// absent and the disqualified.
func compareListed(a, b Status) int {
	rank := func(s Status) int {
		switch s {
		case DidNotStart:
			return 1
		case Absent:
			return 2
		case Disqualified:
			return 3
		}
		return 0
	}
	return cmp.Compare(rank(a), rank(b))
}

func compareChain(chain []Tie, a, b *tally) (int, Tie) {
	for _, t := range chain {
		if c := t.compare(a, b); c != 0 {
			return c, t
		}
	}
	return 0, 0
}

// GroupSizes returns how many placed rows are level in each group, best first:
// what [Places] and [Table.Award] take.
func GroupSizes(rows []Row) []int {
	var sizes []int
	for i, r := range rows {
		if !r.Status.placed() {
			break
		}
		if i > 0 && r.Decided == nil && r.Shared {
			sizes[len(sizes)-1]++
			continue
		}
		sizes = append(sizes, 1)
	}
	return sizes
}

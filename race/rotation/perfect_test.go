package rotation

import (
	"context"
	"testing"
)

// perfect lists draws in which all pairs meet equally often, with the published
// source of their existence. [mem] marks a source named from memory.
var perfect = []struct {
	drivers, lanes, rounds, meet int
	source                       string
}{
	{7, 3, 1, 1, "projective plane of order 2, Singer 1938 [mem]"},
	{13, 4, 1, 1, "projective plane of order 3, Singer 1938 [mem]"},
	{21, 5, 1, 1, "projective plane of order 4, Singer 1938 [mem]"},
	{31, 6, 1, 1, "projective plane of order 5, Singer 1938 [mem]"},
	{57, 8, 1, 1, "projective plane of order 7, Singer 1938 [mem]"},
	{7, 4, 1, 2, "complement of the plane of order 2 (derived)"},
	{11, 5, 1, 2, "quadratic residues mod 11, Paley 1933 [mem]"},
	{11, 6, 1, 3, "complement of the residues mod 11 (derived)"},
	{15, 7, 1, 3, "PG(3,2), Singer 1938 [mem]"},
	{15, 8, 1, 4, "complement of PG(3,2) (derived)"},
	{16, 6, 1, 2, "biplane on 16 points, Z4xZ4 or Z2^4 [mem]"},
	{13, 3, 2, 1, "Steiner triple system on 13, Netto 1893 [mem]"},
	{9, 8, 1, 7, "everybody sits out once (derived)"},
	{8, 7, 1, 6, "everybody sits out once (derived)"},
	{7, 6, 1, 5, "everybody sits out once (derived)"},
	{6, 5, 1, 4, "everybody sits out once (derived)"},
	{5, 4, 1, 3, "everybody sits out once (derived)"},
	{4, 3, 1, 2, "everybody sits out once (derived)"},
	{3, 2, 1, 1, "everybody sits out once (derived)"},
	{25, 4, 2, 1, "affine plane's relative 2-(25,4,1) over Z5xZ5, Handbook of Combinatorial Designs [mem]"},
	{6, 6, 1, 6, "Latin square: everybody meets everybody in every heat (derived)"},
}

func TestPerfectDrawsAreReached(t *testing.T) {
	for _, c := range perfect {
		s := &search{ctx: context.Background(), p: Problem{Drivers: c.drivers, Lanes: c.lanes, Rounds: c.rounds, Effort: 1}}
		heats := max(c.drivers, c.lanes) * c.rounds
		best := s.whoMeets(c.drivers, c.lanes, heats, c.lanes*c.rounds)[0]
		if len(best.blocks) != heats {
			t.Errorf("%d drivers on %d lanes: %d heats, want %d", c.drivers, c.lanes, len(best.blocks), heats)
		}
		m := Meetings(c.drivers, oneUp(best.blocks))
		for i := range m {
			for j := range m {
				if i != j && m[i][j] != c.meet {
					t.Fatalf("%d drivers on %d lanes, %d rounds: %d and %d meet %d times, want %d (%s)",
						c.drivers, c.lanes, c.rounds, i+1, j+1, m[i][j], c.meet, c.source)
				}
			}
		}
	}
}

func TestPerfectDrawsSurviveTheWholeWay(t *testing.T) {
	slow(t)
	for _, c := range perfect {
		if c.drivers > 11 {
			continue
		}
		p := Problem{Drivers: c.drivers, Lanes: c.lanes, Rounds: c.rounds, Posts: 2, Seed: 5}
		d, err := Make(context.Background(), p, nil)
		if err != nil {
			t.Fatal(err)
		}
		isComplete(t, d, p)
		if d.Figures.PairLeast != c.meet || d.Figures.PairMost != c.meet || !d.Claims[0].Optimal {
			t.Errorf("%d drivers on %d lanes: pairs meet %d to %d times, want %d (%s)",
				c.drivers, c.lanes, d.Figures.PairLeast, d.Figures.PairMost, c.meet, c.source)
		}
	}
}

// The base blocks are checked by their differences, which is the whole proof.
func TestFamiliesHaveEqualDifferences(t *testing.T) {
	for _, f := range families {
		seen := make([]int, f.n)
		for _, block := range f.base {
			for _, a := range block {
				for _, b := range block {
					if a != b {
						seen[((a-b)%f.n+f.n)%f.n]++
					}
				}
			}
		}
		for d := 1; d < f.n; d++ {
			if seen[d] != seen[1] {
				t.Errorf("%s mod %d: difference %d comes %d times, difference 1 %d times", f.name, f.n, d, seen[d], seen[1])
			}
		}
	}
}

// Stored designs are counted anew: everybody drives equally often, and the
// squares of meetings lie above the even split by what is said.
func TestStoredDesignsAreWhatTheySay(t *testing.T) {
	for _, s := range stored {
		d, ok := storedBlocks(s.n, s.lanes, s.rounds)
		if !ok || len(d.blocks) != s.n*s.rounds {
			t.Fatalf("%d drivers on %d lanes: %d blocks", s.n, s.lanes, len(d.blocks))
		}
		sum := int64(0)
		for i, row := range Meetings(s.n, oneUp(d.blocks)) {
			for j, v := range row {
				if i < j {
					sum += int64(v * v)
				}
			}
		}
		if low := evenSq(s.n*s.rounds*s.lanes*(s.lanes-1)/2, s.n*(s.n-1)/2); sum != low+s.above || sum != d.cost {
			t.Errorf("%d drivers on %d lanes: squares of meetings %d, cost %d, want %d above %d", s.n, s.lanes, sum, d.cost, s.above, low)
		}
		for x, at := range stints(s.n, oneUp(d.blocks)) {
			if len(at) != s.lanes*s.rounds {
				t.Errorf("%d drivers on %d lanes: driver %d drives %d heats", s.n, s.lanes, x+1, len(at))
			}
		}
		for h, block := range d.blocks {
			seen := map[int]bool{}
			for _, x := range block {
				seen[x] = true
			}
			if len(seen) != s.lanes {
				t.Errorf("%d drivers on %d lanes: heat %d holds %v", s.n, s.lanes, h+1, block)
			}
		}
	}
}

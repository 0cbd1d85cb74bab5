package route

import (
	"errors"
	"math"
	"testing"

	"pgregory.net/rapid"
)

// The legs of every lap that the search finds add up to the length that the search gives it, and end in its lane.
func TestLegsAddUpToTheLap(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		track := random(t)
		g, err := New(track)
		if err != nil {
			t.Fatal(err)
		}
		for _, l := range track.Lanes {
			for _, lap := range g.KShortest(l.Number, 0, 5) {
				legs, end, err := g.Legs(l.Number, lap.Turns)
				if err != nil {
					t.Fatal(err)
				}
				sum := 0.0
				for _, leg := range legs {
					sum += leg.ToMM - leg.FromMM
				}
				if end != lap.End || math.Abs(sum-lap.LengthMM) > 1e-6 {
					t.Fatalf("legs end in %d after %.9f, want %d after %.9f", end, sum, lap.End, lap.LengthMM)
				}
			}
		}
	})
}

func TestTurnsThatCannotBeMade(t *testing.T) {
	g, err := New(millpond())
	if err != nil {
		t.Fatal(err)
	}
	for name, turns := range map[string][]Turn{
		"left from the left lane": {{Road: 1, Index: 2, To: 1}},
		"a piece without changes": {{Road: 1, Index: 3, To: 2}},
		"a piece that is not":     {{Road: 1, Index: 99, To: 2}},
		"back to front":           {{Road: 1, Index: 8, To: 2}, {Road: 1, Index: 2, To: 2}},
	} {
		if _, _, err := g.Legs(1, turns); !errors.Is(err, ErrNoWay) {
			t.Errorf("%s: error %v, want ErrNoWay", name, err)
		}
	}
	if _, _, err := g.Legs(3, nil); !errors.Is(err, ErrNoWay) {
		t.Errorf("lane 3: error %v, want ErrNoWay", err)
	}
}

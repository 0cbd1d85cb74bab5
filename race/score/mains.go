package score

import (
	"fmt"
	"slices"
)

// Main is one of the final races of a night: the A main for the best seeds, the
// B main for the next. The best of each lower main step up to the back of the
// grid of the next.
type Main struct {
	Letter string   // "A" for the top main
	Seeded []string // who starts here by seed, best first
	StepUp int      // how many join from the main below; 0 in the lowest
}

// Mains splits seeded drivers, best first, into mains for a track with the
// given number of lanes, stepUp drivers moving up each time. The top main comes
// first.
//
// Filling: the A main takes the best lanes-stepUp, then B the next, until at
// most lanes drivers are left; they form the lowest main. Each time a main is
// filled more than stepUp drivers remain (more than lanes were there, and
// lanes-stepUp were taken), so no main is too small to send stepUp on and have
// somebody left. Withdrawals can still make one so: see [Grid].
// Common practice, no source.
func Mains(seeded []string, lanes, stepUp int) ([]Main, error) {
	if lanes < 1 || lanes > lanesMax {
		return nil, fmt.Errorf("score: mains on %d lanes %w: expected 1 to %d", lanes, ErrBadInput, lanesMax)
	}
	if stepUp < 0 || stepUp >= lanes {
		return nil, fmt.Errorf("score: %d step up on %d lanes %w: expected 0 to %d, so that the higher main keeps a lane for its own", stepUp, lanes, ErrBadInput, lanes-1)
	}
	seen := make(map[string]bool, len(seeded))
	for _, d := range seeded {
		if seen[d] {
			return nil, fmt.Errorf("score: driver %s %w: seeded twice", d, ErrBadInput)
		}
		seen[d] = true
	}
	var out []Main
	left := seeded
	for len(left) > lanes {
		n := lanes - stepUp
		out = append(out, Main{letter(len(out)), slices.Clone(left[:n]), stepUp})
		left = left[n:]
	}
	if len(left) > 0 {
		out = append(out, Main{letter(len(out)), slices.Clone(left), 0})
	}
	return out, nil
}

const lanesMax = 64

// letter names the n-th main: A to Z, then AA, AB and so on.
func letter(n int) string {
	if n < 26 {
		return string(rune('A' + n))
	}
	return letter(n/26-1) + letter(n%26)
}

// Grid returns who starts in a main: its own seeds, then those who stepped up
// from below, in the order in which they finished there. below is the finishing
// order of the main below, nil for the lowest. If drivers withdrew and fewer
// finished below than step up, all of them do.
func (m Main) Grid(below []string) []string {
	grid := slices.Clone(m.Seeded)
	return append(grid, below[:min(m.StepUp, len(below))]...)
}

// MainsOrder returns the final order of the night from the finishing orders of
// the mains, top main first: everybody stands in the highest main he drove.
func MainsOrder(finished [][]string) []string {
	var out []string
	seen := map[string]bool{}
	for _, main := range finished {
		for _, d := range main {
			if !seen[d] {
				seen[d] = true
				out = append(out, d)
			}
		}
	}
	return out
}

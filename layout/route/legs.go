package route

import (
	"errors"
	"fmt"

	"lanewright/layout"
)

// ErrNoWay reports a lap that was asked for but cannot be driven.
var ErrNoWay = errors.New("no such way")

// Leg is the part of one piece that a lap drives over.
type Leg struct {
	Piece *layout.Placed
	Way   layout.Strand
	// FromMM and ToMM bound the part, in mm of the way's own LengthMM; all of it except on the timing piece.
	FromMM, ToMM float64
	Change       bool // an optional change
}

// Legs lists what a lap from lane start drives over, from the timing line to the timing line, making exactly the given
// turns, and the lane in which it ends. Only Road, Index and To of a turn are read. An error wraps [ErrNoWay] and names
// the turn that cannot be made.
func (g Graph) Legs(start int, turns []Turn) ([]Leg, int, error) {
	c, p, ok := g.chainOf(start)
	if !ok {
		return nil, 0, fmt.Errorf("route: lane %d is not on this track, which has lanes 1 to %d: %w", start, len(g.lanes), ErrNoWay)
	}
	legs := make([]Leg, 0, len(c.steps))
	for i, s := range c.steps {
		leg := Leg{Piece: s.piece}
		if len(turns) > 0 && i > 0 && i < len(c.steps)-1 && turns[0].Road == s.piece.Road && turns[0].Index == s.piece.Index {
			leg.Way, leg.Change = strandFrom(s.piece.Change, p, turns[0].To)
			if !leg.Change {
				return nil, 0, fmt.Errorf("route: road %d piece %d (%s) has no change from position %d to %d: %w",
					s.piece.Road, s.piece.Index, s.piece.Piece, p+1, turns[0].To, ErrNoWay)
			}
			turns = turns[1:]
		} else if leg.Way, ok = strandFrom(s.piece.Stay, p, 0); !ok {
			return nil, 0, fmt.Errorf("route: road %d piece %d (%s) has no way on from position %d: %w",
				s.piece.Road, s.piece.Index, s.piece.Piece, p+1, ErrNoWay)
		}
		leg.ToMM = leg.Way.LengthMM
		switch i {
		case len(c.steps) - 1: // a lap ends on the line, still in the position in which it entered the piece
			leg.ToMM = lineAt(c.lineEndMM, p+1)
		case 0:
			leg.FromMM = lineAt(c.lineMM, p+1)
			p = leg.Way.To - 1
		default:
			p = leg.Way.To - 1
		}
		legs = append(legs, leg)
	}
	if len(turns) > 0 {
		return nil, 0, fmt.Errorf("route: a lap from lane %d does not come to road %d piece %d after the turns before it: %w",
			start, turns[0].Road, turns[0].Index, ErrNoWay)
	}
	return legs, g.laneEnding(c, p), nil
}

// strandFrom picks the strand that leaves position p (from 0) and, where to is given, enters that position (from 1).
func strandFrom(ss []layout.Strand, p, to int) (layout.Strand, bool) {
	for _, s := range ss {
		if s.From == p+1 && (to == 0 || s.To == to) {
			return s, true
		}
	}
	return layout.Strand{}, false
}

// Layers lists, joint by joint, all that a lap from lane start's road can drive over, changes included: layer i holds the
// ways through the i-th piece after the timing line. It is nil for a lane that does not exist.
func (g Graph) Layers(start int) [][]Leg {
	c, _, ok := g.chainOf(start)
	if !ok {
		return nil
	}
	out := make([][]Leg, len(c.steps))
	for i, s := range c.steps {
		for _, w := range s.piece.Stay {
			leg := Leg{Piece: s.piece, Way: w, ToMM: w.LengthMM}
			switch i {
			case len(c.steps) - 1:
				leg.ToMM = lineAt(c.lineEndMM, w.From)
				leg.Way.To = w.From
			case 0:
				leg.FromMM = lineAt(c.lineMM, w.From)
			}
			out[i] = append(out[i], leg)
		}
		if i == 0 || i == len(c.steps)-1 {
			continue
		}
		for _, w := range s.piece.Change {
			out[i] = append(out[i], Leg{Piece: s.piece, Way: w, ToMM: w.LengthMM, Change: true})
		}
	}
	return out
}

// Ending gives the lane that a lap from lane start ends in when it comes to the line in that position, 0 for none.
func (g Graph) Ending(start, position int) int {
	c, _, ok := g.chainOf(start)
	if !ok {
		return 0
	}
	return g.laneEnding(c, position-1)
}

package draw

import (
	"lanewright/layout"
	"lanewright/layout/route"
)

// thread is one lane's way through one piece.
type thread struct {
	lane  int
	way   layout.Strand
	atMM  float64 // how far from the line the lane comes to the piece
	piece *layout.Placed
}

// threads gives, for each road and each of its pieces, the lanes that run through it by position. A lane keeps its
// number from the timing line on, through crossings; on a course without a timing line lanes are numbered where their
// roads begin.
func threads(t layout.Track) [][][]thread {
	out := make([][][]thread, len(t.Roads))
	at := map[int]int{}
	for i, r := range t.Roads {
		out[i] = make([][]thread, len(r.Pieces))
		at[r.Number] = i
	}
	g, err := route.New(t)
	if err != nil {
		fromStart(t, out)
		return out
	}
	for _, l := range t.Lanes {
		legs, _, err := g.Legs(l.Number, nil)
		if err != nil {
			continue
		}
		mm := 0.0
		for i, leg := range legs {
			r, known := at[leg.Piece.Road]
			p := leg.Piece.Index - 1
			if !known || p < 0 || p >= len(out[r]) || i == len(legs)-1 {
				continue // the last leg is the timing piece again
			}
			out[r][p] = append(out[r][p], thread{l.Number, leg.Way, mm - leg.FromMM, leg.Piece})
			mm += leg.ToMM - leg.FromMM
		}
	}
	return out
}

// fromStart follows each position of each road from its first piece.
func fromStart(t layout.Track, out [][][]thread) {
	lane := 0
	for r := range t.Roads {
		road := &t.Roads[r]
		for p := 1; p <= road.Positions; p++ {
			lane++
			pos, mm := p, 0.0
			for i := range road.Pieces {
				for _, s := range road.Pieces[i].Stay {
					if s.From == pos {
						out[r][i] = append(out[r][i], thread{lane, s, mm, &road.Pieces[i]})
						pos, mm = s.To, mm+s.LengthMM
						break
					}
				}
			}
		}
	}
}

package layout

import "lanewright/layout/curve"

// Stretch is a lane's way through one piece of a lap.
type Stretch struct {
	Road     int     // of the piece
	Piece    int     // index into that road's Pieces
	Position int     // at which the lane enters the piece
	FromMM   float64 // along the lap, from the timing line; negative for the part of the timing piece before its line
	ToMM     float64
}

// Passing is a sensor that a lap passes.
type Passing struct {
	Number int
	Name   string
	AtMM   float64 // along the lap from the timing line, 0 for the line itself
}

// firstPiece returns the piece on a road where laps begin, and where on it: the timing piece, or the start of the first piece.
func (r Road) firstPiece(position int) (int, float64) {
	for k := range r.Pieces {
		if pl := &r.Pieces[k]; pl.Kind == KindTiming && len(pl.Sensors) > 0 {
			return k, pl.Sensors[0].AtMM[position-1]
		}
	}
	return 0, 0
}

// Lap returns the pieces that a car on a lane meets in one lap without optional changes, in driving order. The first is the timing piece
// and so is the last, unless its line is at its very start; nil for a lane that does not exist.
func (t Track) Lap(lane int) []Stretch {
	if lane < 1 || lane > len(t.Lanes) {
		return nil
	}
	l := t.Lanes[lane-1]
	i, pos := l.At.Road-1, l.At.Position
	first, at := t.Roads[i].firstPiece(pos)
	var out []Stretch
	s, k := -at, first
	total := 0
	for _, r := range t.Roads {
		total += len(r.Pieces)
	}
	for range total + 1 {
		st := &t.Roads[i].Pieces[k].Stay[pos-1]
		out = append(out, Stretch{i + 1, k, pos, s, s + st.LengthMM})
		s += st.LengthMM
		if s >= l.LengthMM-roundingMM && len(out) > 1 {
			return out
		}
		pos = st.To
		if k++; k == len(t.Roads[i].Pieces) {
			i, k = t.Joins[i].Into-1, 0
		}
	}
	return out
}

// SensorsOn returns the sensors that a lap on a lane passes, from the timing line on: sectors end there, and the two of a speed
// trap lie their difference apart.
func (t Track) SensorsOn(lane int) []Passing {
	var out []Passing
	for i, st := range t.Lap(lane) {
		for _, sensor := range t.Roads[st.Road-1].Pieces[st.Piece].Sensors {
			at := st.FromMM + sensor.AtMM[st.Position-1]
			if at < -roundingMM || sensor.Number == 1 && i > 0 {
				continue // behind the line, or the line again
			}
			out = append(out, Passing{sensor.Number, sensor.Name, at})
		}
	}
	return out
}

// At returns where a car is on a lap, s mm beyond the timing line: its pose seen from above and its height. s is clamped to the lap.
func (t Track) At(lane int, s float64) (at curve.Pose, height float64) {
	laps := t.Lap(lane)
	if len(laps) == 0 {
		return curve.Pose{}, 0
	}
	s = max(0, min(s, t.Lanes[lane-1].LengthMM))
	st := laps[len(laps)-1]
	for _, x := range laps {
		if s < x.ToMM {
			st = x
			break
		}
	}
	pl := &t.Roads[st.Road-1].Pieces[st.Piece]
	strand := &pl.Stay[st.Position-1]
	part := 0.0
	if st.ToMM > st.FromMM {
		part = max(0, min(1, (s-st.FromMM)/(st.ToMM-st.FromMM)))
	}
	return strand.Plan.At(part * strand.Plan.Length()), pl.StartZ + part*strand.RiseMM
}

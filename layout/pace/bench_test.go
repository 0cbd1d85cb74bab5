package pace

import (
	"testing"

	"lanewright/layout"
	"lanewright/layout/curve"
)

// big has 8 lanes of 200 pieces, straights and bends of the sizes that clubs use, some 60 m a lap.
func big() layout.Track {
	road := layout.Road{Number: 1, Positions: 8}
	t := layout.Track{}
	for i := range 200 {
		p := layout.Placed{Index: i + 1, Call: i + 1, Road: 1, Piece: "piece"}
		for lane := range 8 {
			var seg curve.Segment = curve.Line{LengthMM: 360}
			if i%5 >= 3 {
				seg = curve.Arc{RadiusMM: 400 + 90*float64(lane), Turn: 0.5}
			}
			p.Stay = append(p.Stay, layout.Strand{From: lane + 1, To: lane + 1, Plan: curve.Path{seg}, LengthMM: seg.Length()})
		}
		road.Pieces = append(road.Pieces, p)
	}
	road.Pieces[0].Sensors = []layout.Sensor{{Number: 1, AtMM: make([]float64, 8)}}
	t.Roads = []layout.Road{road}
	for lane := 1; lane <= 8; lane++ {
		t.Lanes = append(t.Lanes, layout.Lane{Number: lane, At: layout.LaneRef{Road: 1, Position: lane}, EndsIn: lane})
	}
	return t
}

func BenchmarkPar8Lanes200Pieces(b *testing.B) {
	t := big()
	b.ReportAllocs()
	for b.Loop() {
		if _, err := Lanes(t, builtin[0], false); err != nil {
			b.Fatal(err)
		}
	}
}

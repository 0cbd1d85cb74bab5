package main

import (
	"math"

	"lanewright/layout"
	"lanewright/layout/curve"
	"lanewright/layout/draw"
)

// drawAnswer is what `layout draw --json` prints: the drawing as data, from the curves that lengths are computed from. Places are
// [x, y] or [x, y, height] in mm on the tables.
type drawAnswer struct {
	Schema int          `json:"schema"`
	Plan   string       `json:"plan"`
	Name   string       `json:"name"`
	File   string       `json:"file,omitempty"` // the picture written beside
	As     string       `json:"as,omitempty"`   // its kind
	Bytes  int          `json:"bytes,omitempty"`
	Tables []drawnTable `json:"tables"`
	Pieces []drawnPiece `json:"pieces"`
	Lanes  []drawnLane  `json:"lanes"`
}

type drawnTable struct {
	Name    string       `json:"name"`
	Corners [][2]float64 `json:"corners"` // anticlockwise from the one it is placed by
}

type drawnPiece struct {
	Road       int     `json:"road"`
	Index      int     `json:"index"`
	Call       int     `json:"call"`
	Piece      string  `json:"piece"`
	XMM        float64 `json:"x_mm"` // of its start, in the middle of the road
	YMM        float64 `json:"y_mm"`
	HeightMM   float64 `json:"height_mm"`
	HeadingDeg float64 `json:"heading_deg"`
	TurnDeg    float64 `json:"turn_deg"` // positive to the left
	RiseMM     float64 `json:"rise_mm"`
	LengthMM   float64 `json:"length_mm"` // along the middle, seen from above
	WidthMM    float64 `json:"width_mm"`
}

type drawnLane struct {
	Lane   int          `json:"lane"`
	Colour string       `json:"colour"`
	Points [][3]float64 `json:"points"` // once round from the timing line; chords stray by 1 mm at most
}

func geometryOf(path string, t layout.Track) drawAnswer {
	a := drawAnswer{Schema: 1, Plan: path, Name: t.Plan.Name, Tables: []drawnTable{}, Pieces: []drawnPiece{}, Lanes: []drawnLane{}}
	for _, tb := range t.Plan.Tables {
		if tb.Find {
			continue
		}
		d := drawnTable{Name: tb.Name}
		for _, c := range draw.Corners(tb) {
			d.Corners = append(d.Corners, [2]float64{micron(c.X), micron(c.Y)})
		}
		a.Tables = append(a.Tables, d)
	}
	for _, r := range t.Roads {
		for i := range r.Pieces {
			p := &r.Pieces[i]
			a.Pieces = append(a.Pieces, drawnPiece{p.Road, p.Index, p.Call, p.Piece, micron(p.Start.X), micron(p.Start.Y), micron(p.StartZ),
				micron(curve.Degrees(p.Start.Heading)), p.TurnDeg, micron(p.EndZ - p.StartZ), micron(p.Centre.Length()), p.WidthMM})
		}
	}
	for _, l := range t.Lanes {
		d := drawnLane{Lane: l.Number, Colour: draw.LaneLook(l.Number).Hex, Points: [][3]float64{}}
		for _, st := range t.Lap(l.Number) {
			d.Points = append(d.Points, strandPoints(&t.Roads[st.Road-1].Pieces[st.Piece], st, l.LengthMM)...)
		}
		a.Lanes = append(a.Lanes, d)
	}
	return a
}

// strandPoints samples a lane's way through a piece, as much of it as lies on the lap.
func strandPoints(p *layout.Placed, st layout.Stretch, lapMM float64) [][3]float64 {
	way := &p.Stay[st.Position-1]
	plan := way.Plan.Length()
	from, to := max(st.FromMM, 0), min(st.ToMM, lapMM)
	part := func(at float64) float64 { return (at - st.FromMM) / max(st.ToMM-st.FromMM, 1e-9) }
	n := max(len(way.Plan.Sample(1))-1, 1)
	var out [][3]float64
	for i := range n + 1 {
		u := part(from + (to-from)*float64(i)/float64(n))
		q := way.Plan.At(u * plan)
		out = append(out, [3]float64{micron(q.X), micron(q.Y), micron(p.StartZ + u*way.RiseMM)})
	}
	return out
}

// micron rounds to a thousandth of a millimetre, or degree.
func micron(v float64) float64 {
	v = math.Round(v*1000) / 1000
	if v == 0 || math.IsNaN(v) || math.IsInf(v, 0) {
		return 0
	}
	return v
}

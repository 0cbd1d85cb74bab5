package draw

import (
	"fmt"
	"math"

	"lanewright/layout"
	"lanewright/layout/curve"
)

// made lays pieces by hand: "s" a straight of mm, "l" a left bend of 60 degrees on a middle radius of mm.
type made struct {
	at    curve.Pose
	lanes int
	road  layout.Road
}

func (m *made) lay(kind string, mm float64) *layout.Placed {
	var middle curve.Segment = curve.Line{Start: m.at, LengthMM: mm}
	if kind == "l" {
		middle = curve.Arc{Start: m.at, RadiusMM: mm, Turn: math.Pi / 3}
	}
	n := len(m.road.Pieces) + 1
	p := layout.Placed{Index: n, Call: n, Road: 1, Piece: fmt.Sprintf("%s <%v>", kind, mm), Start: m.at, WidthMM: 90*float64(m.lanes) + 20,
		Centre: curve.Path{middle}}
	if kind == "l" {
		p.TurnDeg = 60
	}
	for i := 1; i <= m.lanes; i++ {
		e := layout.LaneOffsetMM(i, m.lanes, 90)
		way := p.Centre.Parallel(e)
		p.Stay = append(p.Stay, layout.Strand{From: i, To: i, Plan: way, LengthMM: way.Length()})
	}
	m.at = p.Centre.End()
	p.End = m.at
	m.road.Pieces = append(m.road.Pieces, p)
	return &m.road.Pieces[n-1]
}

// oval is two straights and two half turns, n pieces long, on one table that has been turned.
func oval(lanes, n int) layout.Track {
	m := made{lanes: lanes, at: curve.Pose{X: 900, Y: 400}}
	start := m.lay("s", 180)
	start.Sensors = []layout.Sensor{{Number: 1, Name: "timing", AtMM: make([]float64, lanes)}}
	for i := range start.Sensors[0].AtMM {
		start.Sensors[0].AtMM[i] = 90
	}
	straights := max(1, (n-7)/2)
	for range straights - 1 {
		m.lay("s", 180)
	}
	for range 3 {
		m.lay("l", 600)
	}
	for i := range straights {
		p := m.lay("s", 180)
		if i == 0 {
			p.Sensors = []layout.Sensor{{Number: 2, Name: "half & way", AtMM: make([]float64, lanes)}}
			p.Change = []layout.Strand{{From: 1, To: 2, LengthMM: 185, Plan: curve.Shift(curve.TwoArcs, 180, -90).Moved(p.Start.Left(layout.LaneOffsetMM(1, lanes, 90)))}}
		}
	}
	for range 3 {
		m.lay("l", 600)
	}
	m.road.Number, m.road.Positions = 1, lanes
	t := layout.Track{Roads: []layout.Road{m.road}}
	t.Plan.Name = "Oval <of> \"Tests\" & more"
	t.Plan.Tables = []layout.Table{{Name: "long", XMM: -200, YMM: 0, WidthMM: 4000, DepthMM: 2000, TurnedDeg: 3}}
	for i := 1; i <= lanes; i++ {
		l := layout.Lane{Number: i, At: layout.LaneRef{Road: 1, Position: i}, EndsIn: i}
		for _, p := range m.road.Pieces {
			l.LengthMM += p.Stay[i-1].LengthMM
		}
		t.Lanes = append(t.Lanes, l)
	}
	return t
}

package main

import (
	"lanewright/layout"
	"lanewright/layout/route"
	"lanewright/race"
)

// layoutInfo freezes what a night needs of a layout: each lane's length, and where along it each call begins, so that a part lap
// can be told by the call at which a car stopped.
func layoutInfo(t layout.Track, text string) (race.LayoutInfo, error) {
	info := race.LayoutInfo{Name: t.Plan.Name, Text: text}
	graph, err := route.New(t)
	if err != nil {
		return info, err
	}
	for _, l := range t.Lanes {
		lane := race.LaneInfo{LengthMM: l.LengthMM}
		legs, _, err := graph.Legs(l.Number, nil)
		if err != nil {
			return info, err
		}
		lane.CallsMM = callStarts(legs, len(t.Plan.Calls))
		info.Lanes = append(info.Lanes, lane)
	}
	return info, nil
}

// callStarts returns how far along a lap each call begins; -1 for a call that the lane does not pass. The call with the timing
// line is split by it: it begins at the line.
func callStarts(legs []route.Leg, calls int) []float64 {
	starts := make([]float64, calls)
	for i := range starts {
		starts[i] = -1
	}
	along := 0.0
	for _, leg := range legs {
		if n := leg.Piece.Call; n >= 1 && n <= calls && starts[n-1] < 0 {
			starts[n-1] = along
		}
		along += leg.ToMM - leg.FromMM
	}
	return starts
}

package pace

import (
	"lanewright/layout"
	"lanewright/layout/route"
)

// Lanes gives the par lap of every lane of the track, in the order of its lanes. A lane of a joined slot gets the par of
// the whole slot, its own lap first; LapsS[0] is always the lap that starts in that lane.
//
// The first error ends it; errors wrap [ErrCar], [ErrRibbon], [ErrStall], [route.ErrNoLap] or [route.ErrNoWay].
func Lanes(t layout.Track, c Car, points bool) ([]Par, error) {
	g, err := route.New(t)
	if err != nil {
		return nil, err
	}
	out := make([]Par, 0, len(t.Lanes))
	var d driver
	var b builder
	for _, l := range t.Lanes {
		r, err := b.lane(g, l.Number, len(t.Lanes), stepMM)
		if err != nil {
			return nil, err
		}
		p, err := d.drive(r, c, points)
		if err != nil {
			return nil, err
		}
		out = append(out, p)
	}
	return out, nil
}

package layout

import (
	"math"

	"lanewright/layout/curve"
)

// reportBanking says how far lane lengths can be off because banked pieces are reckoned as if they were flat.
//
// A road tilted by an angle B about its middle brings a lane at offset e across the road to e cos B seen from above, so its radius changes by e (1 - cos B) and its
// way through a turn a by e (1 - cos B) a. How a kit's pieces lead from flat to banked is not known, so that this is a bound and no correction.
func (b *builder) reportBanking() {
	worst, bank, pieces := 0.0, 0.0, 0
	for i := range b.roads {
		off := 0.0
		for k := range b.roads[i].placed {
			p := &b.roads[i].placed[k]
			if p.BankDeg == 0 || p.TurnDeg == 0 || len(p.Stay) == 0 || p.Stay[0].Measured {
				continue
			}
			outermost := math.Abs(LaneOffsetMM(1, b.kit.Lanes, b.kit.SpacingMM))
			off += outermost * (1 - math.Cos(curve.Radians(p.BankDeg))) * curve.Radians(math.Abs(p.TurnDeg))
			bank = math.Max(bank, math.Abs(p.BankDeg))
			pieces++
		}
		worst = math.Max(worst, off)
	}
	if pieces == 0 {
		return
	}
	b.call = len(b.plan.Calls)
	b.say(Note, CodeBanked, 0, worst, "mm", "where it matters, measure their lanes and write measured = [...] into the kit",
		"%s banked, by up to %s, and reckoned as if flat: a lane may be up to %s longer or shorter than given", isAre(pieces, "piece"), degText(bank), mmText(worst))
}

// isAre counts things for a sentence: 1 piece is, 3 pieces are.
func isAre(n int, word string) string {
	if n == 1 {
		return plural(n, word) + " is"
	}
	return plural(n, word) + " are"
}

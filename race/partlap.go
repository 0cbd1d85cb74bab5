package race

import (
	"fmt"
	"math"

	"lanewright/race/score"
)

// partOf turns what a marshal calls out into parts of a lap, cut and not rounded.
func (n *Night) partOf(heatNo, seatNo, num, den, call int) (part int, from string, err error) {
	r, _, err := n.onRun(heatNo, seatNo)
	if err != nil {
		return 0, "", err
	}
	if r.card.PartOf == 0 {
		return 0, "", against("part laps are not counted by this rule card")
	}
	if den < 0 || num < 0 || call < 0 {
		return 0, "", against("part lap %d/%d call %d, expected nothing below 0", num, den, call)
	}
	if call == 0 && den > 0 {
		part, err = score.PartLap(int64(num), int64(den), r.card.PartOf)
		if err != nil {
			return 0, "", against("part lap %d/%d: expected less than a whole lap, which is counted by its pass", num, den)
		}
		return part, fmt.Sprintf("%d/%d", num, den), nil
	}
	if n.info.Digital {
		return 0, "", against("on a digital night a part lap is given as a fraction: the way round is not known to the millimetre")
	}
	info := n.info.Layout.Lanes[seatNo-1]
	past := float64(num)
	from = fmt.Sprintf("%d mm", num)
	if call > 0 {
		if call > len(info.CallsMM) {
			return 0, "", unknown("lane %d has %d calls, there is no call %d", seatNo, len(info.CallsMM), call)
		}
		past = info.CallsMM[call-1]
		from = fmt.Sprintf("call %d", call)
	}
	part, err = score.PartLap(micro(past), micro(info.LengthMM), r.card.PartOf)
	if err != nil {
		return 0, "", against("part lap %s on lane %d of %.0f mm: expected less than a lap", from, seatNo, info.LengthMM)
	}
	return part, from, nil
}

// micro is a length in whole micrometres: part laps are counted in integers.
func micro(mm float64) int64 { return int64(math.Round(mm * 1000)) }

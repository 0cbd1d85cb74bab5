package fit

import (
	"fmt"
	"slices"
	"strconv"

	"lanewright/layout"
)

// alphabet lists what can be added to the roads: every plain straight and curve of the kit, as calls that are resolved
// like any other call, so that the outer road of a bend gets the pieces that it would get in the plan.
func alphabet(t layout.Track, roads []int) []unit {
	var out []unit
	for _, text := range plainCalls(t.Kit) {
		if u, ok := lay(t, len(roads), text); ok && !slices.ContainsFunc(out, func(v unit) bool { return sameParts(u, v) }) {
			out = append(out, u)
		}
	}
	return out
}

// plainCalls words a call for every plain piece of a kit, straights first.
func plainCalls(k layout.Kit) []string {
	var straights, bends []string
	for i := range k.Pieces {
		p := &k.Pieces[i]
		switch {
		case p.Kind == layout.KindStraight && p.RadiusMM == 0 && p.RiseMM == 0 && p.ShiftMM == 0:
			word := p.Word
			if len(straights) == 0 {
				word = "straight"
			}
			straights = append(straights, word)
		case p.Kind == layout.KindCurve && p.RiseMM == 0 && p.ShiftMM == 0:
			for _, side := range []string{"left", "right"} {
				if p.Hairpin {
					bends = append(bends, "hairpin "+side)
				} else {
					bends = append(bends, fmt.Sprintf("%s %s ring %d", side, strconv.FormatFloat(p.AngleDeg, 'f', -1, 64), p.Ring))
				}
			}
		}
	}
	return append(straights, bends...)
}

// lay resolves one call on its own and gives it as a unit, if nothing but plain pieces comes of it.
func lay(t layout.Track, roads int, text string) (unit, bool) {
	p := layout.Plan{Kit: t.Plan.Kit, Roads: roads, Lanes: t.Plan.Lanes, SpacingMM: t.Plan.SpacingMM,
		Calls: []layout.Call{layout.ParseCall("timing"), layout.ParseCall(text)}}
	for _, c := range p.Calls {
		if c.Trouble != nil {
			return unit{}, false
		}
	}
	track, findings := layout.Resolve(p, t.Kit)
	for _, f := range findings {
		if f.Call == 2 && f.Level == layout.Error {
			return unit{}, false
		}
	}
	if len(track.Roads) != roads {
		return unit{}, false
	}
	all := make([]int, roads)
	for i := range all {
		all[i] = i
	}
	units := unitsOf(track, all)
	if len(units) != 2 || !units[1].plain {
		return unit{}, false
	}
	u := units[1]
	u.text = text
	return u, true
}

func sameParts(a, b unit) bool {
	if len(a.parts) != len(b.parts) {
		return false
	}
	for i := range a.parts {
		if !slices.Equal(a.parts[i], b.parts[i]) || a.roads[i].micro != b.roads[i].micro {
			return false
		}
	}
	return true
}

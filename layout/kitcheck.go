package layout

import (
	"fmt"
	"math"
	"strings"
)

// CheckKit says what is odd about a kit without making it unusable: rings that do not lie one road width apart, or two radii in one ring.
// Roads side by side part on such rings.
func CheckKit(k Kit) []Finding {
	var out []Finding
	first := map[int]Piece{}
	warn := func(p Piece, amount float64, format string, args ...any) {
		out = append(out, Finding{Level: Warning, Code: CodeRingStep, File: k.File, Line: p.Line, Amount: amount, Unit: "mm",
			Text: fmt.Sprintf(format, args...), Way: "measure the radius to the middle of the road"})
	}
	for _, p := range k.Pieces {
		if p.Ring == 0 {
			continue
		}
		if q, ok := first[p.Ring]; !ok {
			first[p.Ring] = p
		} else if q.RadiusMM != p.RadiusMM {
			warn(p, p.RadiusMM-q.RadiusMM, "%s has a radius of %s, but %s has %s", p.Name, mmText(p.RadiusMM), q.Name, mmText(q.RadiusMM))
		}
	}
	for _, p := range k.Pieces {
		inner, ok := first[p.Ring-1]
		if p.Ring < 2 || !ok || first[p.Ring].Name != p.Name {
			continue
		}
		if step := p.RadiusMM - inner.RadiusMM; math.Abs(step-k.RoadWidthMM) > besideMM {
			warn(p, step-k.RoadWidthMM, "ring %d lies %s outside ring %d, but a road is %s wide", p.Ring, mmText(step), p.Ring-1, mmText(k.RoadWidthMM))
		}
	}
	return out
}

// UnknownKit is the finding for a plan whose kit is neither built in nor a file.
func UnknownKit(p Plan) Finding {
	way := "built-in kits: " + shortList(BuiltinKits())
	if like := nearest(strings.ToLower(p.Kit), BuiltinKits()); like != "" {
		way = fmt.Sprintf("did you mean %q?", like)
	}
	return Finding{Level: Error, Code: CodeUnknownKit, File: p.File, Line: p.KitLine, Text: fmt.Sprintf("there is no kit %q, neither built in nor as a file", shorten(p.Kit)), Way: way}
}

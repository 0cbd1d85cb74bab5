package parts

import (
	"fmt"
	"math"
	"strings"

	"lanewright/layout"
)

// Road is the build sheet of one road.
type Road struct {
	Number int    `json:"road"`
	Pieces int    `json:"pieces"`
	Steps  []Step `json:"steps"`
}

// Step is a run of like pieces within one call.
type Step struct {
	Call      int     `json:"call"`
	From      int     `json:"from"` // number of its first piece along the road, from 1
	To        int     `json:"to"`   // and of its last
	Piece     string  `json:"piece"`
	TurnedDeg float64 `json:"turned_deg"` // whole turning of the road after it, positive to the left
	HeightMM  float64 `json:"height_mm"`  // at its end
	Bridge    bool    `json:"bridge,omitempty"`
	Say       string  `json:"say"` // to be read aloud
}

// Sheet lists the pieces in building order, road by road, runs of like pieces together.
func Sheet(t layout.Track) []Road {
	out := make([]Road, 0, len(t.Roads))
	for _, road := range t.Roads {
		r := Road{Number: road.Number, Pieces: len(road.Pieces)}
		turned := 0.0
		for i := 0; i < len(road.Pieces); {
			first := &road.Pieces[i]
			n := 1
			for i+n < len(road.Pieces) && road.Pieces[i+n].Call == first.Call && road.Pieces[i+n].Piece == first.Piece {
				n++
			}
			last := &road.Pieces[i+n-1]
			turned += float64(n) * first.TurnDeg
			s := Step{Call: first.Call, From: i + 1, To: i + n, Piece: first.Piece, TurnedDeg: turned, HeightMM: last.EndZ, Bridge: first.Bridge}
			s.Say = say(s, first, last)
			r.Steps = append(r.Steps, s)
			i += n
		}
		out = append(out, r)
	}
	return out
}

var times = []string{"", "once", "twice", "three times", "four times", "five times", "six times", "seven times", "eight times", "nine times", "ten times", "eleven times", "twelve times"}

// say words a step so that a helper can read it aloud to the one who lays.
func say(s Step, first, last *layout.Placed) string {
	var b strings.Builder
	b.WriteString(s.Piece)
	switch n := s.To - s.From + 1; {
	case n == 1:
	case n < len(times):
		b.WriteString(", " + times[n])
	default:
		fmt.Fprintf(&b, ", %d times", n)
	}
	if rise := last.EndZ - first.StartZ; math.Abs(rise) > 0.05 {
		verb := "climbing"
		if rise < 0 {
			verb = "falling"
		}
		fmt.Fprintf(&b, ", %s to %s mm", verb, short(last.EndZ))
	}
	if s.Bridge {
		b.WriteString(", on the bridge")
	}
	return b.String()
}

func short(x float64) string {
	return strings.TrimSuffix(fmt.Sprintf("%.1f", x), ".0")
}

// Text writes the build sheet for paper: a road after the other, a step a line, with the pieces' numbers and what the road has
// turned by then, which is how a miscount is found.
func Text(roads []Road) string {
	var b strings.Builder
	for i, r := range roads {
		if i > 0 {
			b.WriteByte('\n')
		}
		fmt.Fprintf(&b, "Road %d, %d pieces\n", r.Number, r.Pieces)
		for _, s := range r.Steps {
			pieces := fmt.Sprint(s.From)
			if s.To > s.From {
				pieces = fmt.Sprintf("%d-%d", s.From, s.To)
			}
			fmt.Fprintf(&b, "  call %-3d  %-9s  %s", s.Call, pieces, s.Say)
			if strings.HasPrefix(s.Piece, "left") || strings.HasPrefix(s.Piece, "right") || strings.HasPrefix(s.Piece, "hairpin") {
				fmt.Fprintf(&b, "  (turned %s so far)", turn(s.TurnedDeg))
			}
			b.WriteByte('\n')
		}
	}
	return b.String()
}

func turn(deg float64) string {
	switch {
	case math.Abs(deg) < 1e-6:
		return "nothing"
	case deg < 0:
		return short(-deg) + " to the right"
	}
	return short(deg) + " to the left"
}

package main

import (
	"fmt"
	"strings"

	"lanewright/layout"
)

// extraAnswer is a piece with something on it that a counter or a hand controller has to know of: the timing line, a further sensor, a speed trap, a
// changer. At says how far round the lap each lane meets it.
type extraAnswer struct {
	Kind    string      `json:"kind"` // "timing", "sensor", "trap", "changer"
	Name    string      `json:"name,omitempty"`
	Sensor  int         `json:"sensor,omitempty"` // its number; 1 is the timing line, a trap has this one and the next
	Call    int         `json:"call"`
	Road    int         `json:"road"`
	Index   int         `json:"index"` // of the piece along its road
	Piece   string      `json:"piece"`
	ApartMM float64     `json:"apart_mm,omitempty"` // between the two lines of a trap, in the first lane
	At      []extraSpot `json:"at"`
}

type extraSpot struct {
	Lane      int     `json:"lane"`
	AtMM      float64 `json:"at_mm"`       // from the timing line, along the lap
	InPieceMM float64 `json:"in_piece_mm"` // from the start of the piece
}

// extrasOf lists the extras road by road in driving order.
func extrasOf(t layout.Track) []extraAnswer {
	type at struct{ road, piece int }
	met := map[at][]extraSpot{}
	for _, l := range t.Lanes {
		lap := t.Lap(l.Number)
		for i, st := range lap {
			p := &t.Roads[st.Road-1].Pieces[st.Piece]
			if i > 0 && p.Kind == layout.KindTiming || st.Position < 1 {
				continue // the line again, at the end of the lap
			}
			in := 0.0
			if len(p.Sensors) > 0 {
				in = p.Sensors[0].AtMM[st.Position-1]
			}
			k := at{st.Road, st.Piece}
			met[k] = append(met[k], extraSpot{l.Number, st.FromMM + in, in})
		}
	}
	out := []extraAnswer{}
	for _, r := range t.Roads {
		for i := range r.Pieces {
			p := &r.Pieces[i]
			kind := extraKind(p)
			if kind == "" {
				continue
			}
			e := extraAnswer{Kind: kind, Call: p.Call, Road: p.Road, Index: p.Index, Piece: p.Piece, At: met[at{r.Number, i}]}
			if e.At == nil {
				e.At = []extraSpot{}
			}
			if len(p.Sensors) > 0 {
				e.Sensor, e.Name = p.Sensors[0].Number, p.Sensors[0].Name
			}
			if kind == "trap" {
				e.Name = strings.TrimSuffix(e.Name, " in")
				e.ApartMM = p.Sensors[1].AtMM[0] - p.Sensors[0].AtMM[0]
			}
			out = append(out, e)
		}
	}
	return out
}

func extraKind(p *layout.Placed) string {
	switch {
	case p.Kind == layout.KindTiming:
		return "timing"
	case p.Kind == layout.KindChanger:
		return "changer"
	case len(p.Sensors) > 1:
		return "trap"
	case len(p.Sensors) == 1:
		return "sensor"
	}
	return ""
}

// String says what it is and where each lane meets it.
func (e extraAnswer) String() string {
	what := e.Piece
	switch e.Kind {
	case "timing":
		what = "timing line"
	case "sensor":
		what = fmt.Sprintf("sensor %d %q", e.Sensor, e.Name)
	case "trap":
		what = fmt.Sprintf("trap %q, sensors %d and %d, %s mm apart", e.Name, e.Sensor, e.Sensor+1, trim(e.ApartMM, 3))
	}
	var at []string
	for _, s := range e.At {
		if e.Kind == "timing" {
			at = append(at, fmt.Sprintf("lane %d %s mm into its piece", s.Lane, trim(s.InPieceMM, 3)))
		} else {
			at = append(at, fmt.Sprintf("lane %d at %.3f m", s.Lane, s.AtMM/1000))
		}
	}
	return fmt.Sprintf("%s, call %d, road %d: %s", what, e.Call, e.Road, strings.Join(at, ", "))
}

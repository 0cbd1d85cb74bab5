package draw

import (
	"fmt"
	"math"
	"strconv"

	"lanewright/layout"
	"lanewright/layout/curve"
)

const (
	captionMM = textMM * 0.7
	letterMM  = captionMM * 0.56 // a letter's width; figures and lower case of the fonts in use are narrower
)

// captions writes each table's name and size where no road lies; where there is no such place, over the road on a plate of its own.
func (s *scene) captions() {
	var places []disk
	for r := range s.track.Roads {
		for i := range s.track.Roads[r].Pieces {
			places = append(places, disks(&s.track.Roads[r].Pieces[i])...)
		}
	}
	for i, tb := range s.track.Plan.Tables {
		if tb.Find {
			continue
		}
		name := tb.Name
		if name == "" {
			name = "table " + strconv.Itoa(i+1)
		}
		text := fmt.Sprintf("%s, %s x %s mm", name, number(tb.WidthMM), number(tb.DepthMM))
		room, hidden := s.captionRoom(tb, letterMM*float64(len([]rune(text))), places)
		lo, hi := s.on(room.minX, room.minY), s.on(room.maxX, room.maxY)
		if hidden {
			s.area(wood, timber, 0.15, lo, point{hi.x, lo.y}, hi, point{lo.x, hi.y})
		}
		s.write(lo.x+captionPad, lo.y-captionPad-0.2*captionMM, captionMM, left, text)
	}
}

// captionPad is the room around a caption in mm of paper.
const captionPad = 0.6

// disk is a place that road covers.
type disk struct{ x, y, r float64 }

// diskMM is how far apart the places are.
const diskMM = 30.0

func disks(p *layout.Placed) []disk {
	length := p.Centre.Length()
	if !(length > 0) || math.IsInf(length, 0) {
		return nil
	}
	n := int(min(length/diskMM+1, 200))
	out := make([]disk, 0, n+1)
	for i := range n + 1 {
		q := p.Centre.At(length * float64(i) / float64(n))
		out = append(out, disk{q.X, q.Y, p.WidthMM / 2})
	}
	return out
}

// captionRoom finds room for a caption of so many mm of paper on a table: in a corner, else somewhere on it, else where least
// road lies; hidden says that some does.
func (s *scene) captionRoom(tb layout.Table, widthMM float64, places []disk) (room span, hidden bool) {
	w, h := (widthMM+2*captionPad)*s.den, (captionMM+2*captionPad)*s.den
	corners := Corners(tb)
	box := empty()
	for _, c := range corners {
		box.hold(c.X, c.Y)
	}
	at := func(across, up float64) span {
		x, y := box.minX+across*max(0, box.width()-w), box.minY+up*max(0, box.height()-h)
		return span{x, y, x + w, y + h}
	}
	tries := []span{at(0, 0), at(0, 1), at(1, 0), at(1, 1)}
	const rows, columns = 12, 6
	for i := range rows + 1 {
		for k := range columns + 1 {
			tries = append(tries, at(float64(k)/columns, float64(i)/rows))
		}
	}
	least := -1
	for _, try := range tries {
		if !within(corners, try) && tb.TurnedDeg != 0 {
			continue
		}
		n := 0
		for _, d := range places {
			dx, dy := max(try.minX-d.x, 0, d.x-try.maxX), max(try.minY-d.y, 0, d.y-try.maxY)
			if dx*dx+dy*dy < d.r*d.r {
				n++
			}
		}
		if least < 0 || n < least {
			room, least = try, n
		}
		if least == 0 {
			return room, false
		}
	}
	if least < 0 { // a turned table too small for its caption
		return at(0.5, 0.5), true
	}
	return room, true
}

// within says whether a span lies on a table with the given corners.
func within(corners [4]curve.Pose, r span) bool {
	for i, a := range corners {
		b := corners[(i+1)%4]
		for _, p := range [4][2]float64{{r.minX, r.minY}, {r.maxX, r.minY}, {r.minX, r.maxY}, {r.maxX, r.maxY}} {
			if (b.X-a.X)*(p[1]-a.Y)-(b.Y-a.Y)*(p[0]-a.X) < 0 {
				return false
			}
		}
	}
	return true
}

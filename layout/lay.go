package layout

import (
	"fmt"
	"math"

	"lanewright/layout/curve"
	"lanewright/layout/lattice"
)

// Limits that keep any plan short of a hang. A layout that fills a hall has some hundred pieces.
const (
	pieceMost = 20000 // on all roads together
	countMost = 200   // like pieces in one item of a sectional kit; more is a length meant for a routed track
)

// laid is one piece to be put down on one road.
type laid struct {
	piece  int // index into builder.pieces
	turn   int // 1 left, -1 right, 0 straight; of shifts and ramps the way they are laid
	rise   float64
	units  int64 // exact height gained; where a rise is shared among pieces, the first carries all of it
	rough  bool  // that height is no whole number of millionths
	lanes  [2]int
	move   Move
	at     []float64 // sensor places stated in the call
	word   string
	sensor int // number of its first sensor
}

// road is a road while it is being laid, in the frame of the start of road 1.
type road struct {
	x, y     float64
	micro    int64 // heading
	sin, cos float64
	z        float64
	units    int64 // height, exact
	spacing  float64
	shift    float64
	shifted  int64 // the same, exact
	terms    []lattice.Term
	inexact  bool // something on it is no whole number of millionths
	placed   []Placed
	parted   bool // no longer side by side with road 1
}

// builder lays a plan.
type builder struct {
	plan         *Plan
	kit          Kit
	start        curve.Pose
	sin, cos     float64 // of the start's heading
	sinNow       float64 // of the heading of the piece being laid
	cosNow       float64
	pieces       []Piece
	names        [][2]string // as called, laid to the left or straight, and to the right
	roads        []road
	findings     []Finding
	broken       bool // something could not be laid, so that closing means nothing
	call         int  // index of the call being laid
	sensors      int  // numbers given to sensors so far
	total        int  // pieces laid
	chosen       map[choice][]int
	moves        map[moveKey]curve.Path
	moved        bool            // there are too many of them, and that has been said
	effort       int             // combinations of angles that may still be tried
	queue        []laid          // of the call, road after road
	first        int             // where those of the road in hand begin
	strandsLeft  []Strand        // room for the strands of the next pieces
	segmentsLeft []curve.Segment // and for their segments
}

// mark is where a road stood before a call.
type mark struct {
	micro  int64
	placed int
}

// marks are those of all roads.
type marks [4]mark

type choice struct {
	ring  int // 0 for straights
	total int64
}

// say adds a finding at the call being laid.
func (b *builder) say(level Level, code string, road int, amount float64, unit, way, format string, args ...any) {
	f := Finding{Level: level, Code: code, File: b.plan.File, Road: road, Amount: amount, Unit: unit, Text: fmt.Sprintf(format, args...), Way: way}
	if b.call < len(b.plan.Calls) {
		f.Line, f.Call = b.plan.Calls[b.call].Line, b.call+1
	}
	b.findings = append(b.findings, f)
}

// fail reports an input that cannot be laid.
func (b *builder) fail(code string, road int, way, format string, args ...any) bool {
	b.broken = true
	b.say(Error, code, road, 0, "", way, format, args...)
	return false
}

func (b *builder) newRoad(n int) road {
	var r road
	r.y = -float64(n-1) * b.kit.RoadWidthMM
	r.z = b.plan.Start.HeightMM
	r.cos = 1
	r.spacing = b.kit.SpacingMM
	return r
}

// world takes a place in the frame of road 1's start to the tables.
func (b *builder) world(x, y float64, micro int64) curve.Pose {
	return curve.Pose{
		X:       b.start.X + b.cos*x - b.sin*y,
		Y:       b.start.Y + b.sin*x + b.cos*y,
		Heading: curve.Radians(b.plan.Start.HeadingDeg + float64(micro)/1e6),
	}
}

// advance moves the end of the road past a piece and notes the exact way of it.
func (r *road) advance(p *Piece, turn int) {
	heading := r.micro
	if p.RadiusMM <= 0 {
		r.x += p.LengthMM * r.cos
		r.y += p.LengthMM * r.sin
		units, ok := lattice.Units(p.LengthMM)
		r.inexact = r.inexact || !ok
		r.terms = append(r.terms, lattice.Term{Units: units, Micro: heading})
		return
	}
	m, ok := lattice.Micro(p.AngleDeg)
	units, ok2 := lattice.Units(p.RadiusMM)
	r.inexact = r.inexact || !ok || !ok2
	if m == 0 || !ok {
		m = micro(p.AngleDeg)
	}
	side := float64(turn)
	r.micro += int64(turn) * m
	sin, cos := curve.SinCos(float64(r.micro) / 1e6)
	r.x += side * p.RadiusMM * (sin - r.sin)
	r.y += side * p.RadiusMM * (r.cos - cos)
	r.sin, r.cos = sin, cos
	const quarter = lattice.Full / 4
	r.terms = append(r.terms,
		lattice.Term{Units: int64(turn) * units, Micro: heading + quarter},
		lattice.Term{Units: -int64(turn) * units, Micro: r.micro + quarter})
}

// put lays one piece at the end of a road.
func (b *builder) put(n int, l laid) {
	r := &b.roads[n-1]
	p := &b.pieces[l.piece]
	turn := 0
	if p.RadiusMM > 0 {
		turn = l.turn
	}
	r.placed = append(r.placed, Placed{
		Index:   len(r.placed) + 1,
		Call:    b.call + 1,
		Line:    b.plan.Calls[b.call].Line,
		Road:    n,
		Piece:   b.name(l),
		Part:    p.Name,
		Kind:    p.Kind,
		TurnDeg: float64(turn) * p.AngleDeg,
		BankDeg: p.BankDeg,
		Start:   b.world(r.x, r.y, r.micro),
		StartZ:  r.z,
		WidthMM: b.kit.RoadWidthMM,
		Bridge:  b.plan.Calls[b.call].Bridge,
	})
	pl := &r.placed[len(r.placed)-1]
	b.sinNow, b.cosNow = math.Sincos(pl.Start.Heading)
	r.advance(p, turn)
	r.z += l.rise
	r.units += l.units
	r.inexact = r.inexact || l.rough
	pl.End, pl.EndZ = b.world(r.x, r.y, r.micro), r.z
	b.strands(r, pl, p, l, turn)
	b.total++
}

// name returns what a piece is called as it is laid; the names are made once for each piece and way.
func (b *builder) name(l laid) string {
	side := 0
	if l.turn < 0 {
		side = 1
	}
	for len(b.names) <= l.piece {
		b.names = append(b.names, [2]string{})
	}
	if b.names[l.piece][side] == "" {
		b.names[l.piece][side] = called(&b.pieces[l.piece], side)
	}
	return b.names[l.piece][side]
}

func called(p *Piece, side int) string {
	way := [2]string{"left", "right"}[side]
	switch {
	case p.Kind == KindChanger:
		return p.Name
	case p.Hairpin:
		return "hairpin " + way
	case p.RadiusMM > 0 && p.Ring > 0:
		return fmt.Sprintf("%s %s ring %d", way, trim(p.AngleDeg), p.Ring)
	case p.RadiusMM > 0:
		return fmt.Sprintf("%s %s radius %s", way, trim(p.AngleDeg), trim(p.RadiusMM))
	case p.ShiftMM != 0:
		return "shift " + way
	case p.RiseMM != 0:
		return "ramp " + [2]string{"up", "down"}[side]
	}
	return p.Name
}

// centreLength returns the length of a piece along the middle of its road, seen from above.
func centreLength(p *Piece) float64 {
	if p.RadiusMM > 0 {
		return p.RadiusMM * curve.Radians(p.AngleDeg)
	}
	return p.LengthMM
}

// layCall lays one call on every road and checks what can be said about it alone.
func (b *builder) layCall(c *Call) {
	if c.Trouble != nil {
		f := *c.Trouble
		f.File, f.Line, f.Call = b.plan.File, c.Line, b.call+1
		b.findings = append(b.findings, f)
		b.broken = true
		return
	}
	sides := b.bySide(c)
	if sides == nil {
		return
	}
	var before marks
	for i := range b.roads {
		before[i] = mark{b.roads[i].micro, len(b.roads[i].placed)}
	}
	// A call that cannot be laid on one road is laid on none, lest the others run ahead.
	var ends [4]int
	b.queue = b.queue[:0]
	sensors := b.sensors
	for n := 1; n <= len(b.roads); n++ {
		b.sensors = sensors
		b.first = len(b.queue)
		s := sides[n-1]
		for i := range s.Items {
			if !b.item(&s.Items[i], s, n) {
				return
			}
		}
		ends[n-1] = len(b.queue)
		if b.total+len(b.queue) > pieceMost {
			b.fail(CodeTooManyPieces, 0, "", "the course needs more than %d pieces; no more are laid", pieceMost)
			return
		}
	}
	from := 0
	for n := 1; n <= len(b.roads); n++ {
		for _, l := range b.queue[from:ends[n-1]] {
			b.put(n, l)
		}
		from = ends[n-1]
	}
	b.checkGrade(&before)
	b.checkBeliefs(c, &before)
	b.checkBeside(c, &before)
}

// bySide returns for each road the side of the call that speaks of it; nil after a finding.
func (b *builder) bySide(c *Call) []*Side {
	sides := make([]*Side, len(b.roads))
	for i := range c.Sides {
		s := &c.Sides[i]
		if len(s.Roads) == 0 {
			for n := range sides {
				sides[n] = s
			}
			continue
		}
		for _, n := range s.Roads {
			switch {
			case n > len(b.roads):
				b.fail(CodeRoadMissing, n, "", "the call speaks of road %d, but the plan has %s", n, plural(len(b.roads), "road"))
				return nil
			case sides[n-1] != nil:
				b.fail(CodeRoadTwice, n, "", "the call lists road %d twice", n)
				return nil
			}
			sides[n-1] = s
		}
	}
	for i := range sides {
		if sides[i] == nil {
			b.fail(CodeRoadMissing, i+1, fmt.Sprintf("add | road %d: and its pieces", i+1), "the call lists other roads but not road %d", i+1)
			return nil
		}
	}
	return sides
}

func plural(n int, word string) string {
	if n == 1 {
		return "1 " + word
	}
	return fmt.Sprintf("%d %ss", n, word)
}

// mmText writes a length for a message: to a tenth where that says enough, finer where it is small.
func mmText(mm float64) string {
	switch a := math.Abs(mm); {
	case a >= 10:
		return fmt.Sprintf("%.1f mm", mm)
	case a >= 0.01 || a == 0:
		return fmt.Sprintf("%.3f mm", mm)
	}
	return fmt.Sprintf("%.2g mm", mm)
}

func degText(deg float64) string {
	return trim(math.Round(deg*1e4)/1e4) + " degrees"
}

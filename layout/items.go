package layout

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"lanewright/layout/curve"
	"lanewright/layout/lattice"
)

// item queues the pieces of one item for road n; false after a finding.
func (b *builder) item(it *Item, s *Side, n int) bool {
	if it.Road > len(b.roads) {
		return b.fail(CodeRoadMissing, it.Road, "", "the call speaks of road %d, but the plan has %s", it.Road, plural(len(b.roads), "road"))
	}
	if it.Road > 0 && len(s.Roads) > 0 && !slices.Contains(s.Roads, it.Road) {
		return b.fail(CodeRoadMissing, it.Road, "", "a list for other roads speaks of road %d", it.Road)
	}
	for _, lane := range it.Lanes {
		if lane > b.kit.Lanes {
			return b.fail(CodeLaneMissing, n, "", "the call speaks of lane %d, but a road has %d lanes; they count from 1 at its left edge", lane, b.kit.Lanes)
		}
	}
	if len(it.AtMM) > 1 && len(it.AtMM) != b.kit.Lanes {
		return b.fail(CodeTimingPlace, n, "give one place for all lanes, or one a lane", "the call gives %d places for a sensor on %d lanes", len(it.AtMM), b.kit.Lanes)
	}
	first := len(b.queue)
	ok := false
	switch {
	case it.Verb == VerbBend || it.Verb == VerbHairpin:
		ok = b.bend(it, s, n)
	case b.kit.Routed:
		ok = b.routed(it, n)
	default:
		ok = b.sectional(it, n)
	}
	if ok && it.RiseMM != 0 {
		b.spread(b.queue[first:], it.RiseMM)
		units, whole := lattice.Units(it.RiseMM)
		b.queue[first].units += units
		b.queue[first].rough = b.queue[first].rough || !whole
	}
	return ok
}

// spread shares a rise among pieces by their length, so that the middle of the road climbs evenly.
func (b *builder) spread(run []laid, rise float64) {
	var whole float64
	for _, l := range run {
		whole += centreLength(&b.pieces[l.piece])
	}
	for i := range run {
		run[i].rise += rise * centreLength(&b.pieces[run[i].piece]) / whole
	}
}

// queueOne queues a piece as an item calls for it.
func (b *builder) queueOne(piece int, it *Item) {
	p := &b.pieces[piece]
	l := laid{piece: piece, turn: it.Turn, lanes: it.Lanes, move: p.Move, at: it.AtMM, word: it.Word}
	if l.lanes[0] > l.lanes[1] {
		l.lanes[0], l.lanes[1] = l.lanes[1], l.lanes[0]
	}
	if p.Kind == KindCrossing && l.lanes[0] == 0 {
		l.lanes = p.Crosses
	}
	if p.RiseMM != 0 {
		l.rise = float64(it.Turn) * p.RiseMM
		units, whole := lattice.Units(l.rise)
		l.units, l.rough = units, !whole
	}
	if p.Kind == KindSensor {
		l.sensor = b.sensors + 2
		if l.word == "" {
			l.word = fmt.Sprintf("sensor %d", l.sensor)
		}
		b.sensors += len(p.Sensors)
	}
	b.queue = append(b.queue, l)
}

// swap checks the lanes that a crossing or changer joins.
func (b *builder) swap(it *Item, n int, p *Piece) bool {
	if it.Lanes[0] == 0 {
		if p.Kind == KindCrossing && p.Crosses[0] == 0 {
			return b.fail(CodeLaneMissing, n, "for example crossing lanes 1 2", "a road of %d lanes needs to know which two lanes cross", b.kit.Lanes)
		}
		return true
	}
	if d := it.Lanes[0] - it.Lanes[1]; d != 1 && d != -1 {
		return b.fail(CodeLaneMissing, n, "name two lanes side by side", "lanes %d and %d are no neighbours", it.Lanes[0], it.Lanes[1])
	}
	return true
}

// wanted is what an item other than a bend asks of a sectional kit.
func wanted(it *Item) (kind Kind, name string) {
	switch it.Verb {
	case VerbCrossing:
		return KindCrossing, "crossing"
	case VerbChanger:
		return KindChanger, "changer " + it.Move.String()
	case VerbNarrowIn:
		return KindPinch, "narrow-in"
	case VerbNarrowOut:
		return KindPinch, "narrow-out"
	case VerbShift:
		return KindPinch, "shift"
	case VerbTiming:
		return KindTiming, "timing"
	case VerbSensor:
		return KindSensor, "sensor"
	case VerbTrap:
		return KindSensor, "trap"
	case VerbCrossroads:
		return KindCrossroads, "crossroads"
	case VerbRamp:
		return KindStraight, "ramp"
	}
	return KindStraight, "straight"
}

// sectional queues pieces of a kit.
func (b *builder) sectional(it *Item, n int) bool {
	kind, name := wanted(it)
	if it.ToMM != 0 {
		return b.fail(CodeCallUnclear, n, "", "the pieces of this kit have their own spacing and shift; none can be stated in a call")
	}
	count := 1
	found := -1
	switch {
	case it.UnitMM && it.Verb == VerbStraight:
		found = b.find(func(p *Piece) bool { return p.Kind == KindStraight && p.RiseMM == 0 && p.LengthMM == it.Number })
		if found < 0 {
			return b.fail(CodePieceMissing, n, "straights of this kit: "+b.straights(), "the kit has no straight of %s", mmText(it.Number))
		}
	case it.UnitMM:
		return b.fail(CodeCallUnclear, n, "leave the length out", "the kit's %s has its own length", name)
	default:
		if it.Number != 0 {
			count = int(it.Number)
		}
		if float64(count) != it.Number && it.Number != 0 {
			return b.fail(CodeOutOfRange, n, "", "%s is no whole number of pieces", trim(it.Number))
		}
		if count > countMost {
			return b.fail(CodeTooManyPieces, n, "with this kit the number behind a piece counts pieces", "%d pieces in one call; at most %d are laid", count, countMost)
		}
		found = b.find(func(p *Piece) bool {
			if p.Kind != kind || p.RadiusMM > 0 {
				return false
			}
			switch {
			case it.Word != "" && p.Word != it.Word && it.Verb != VerbSensor && it.Verb != VerbTrap:
				return false
			case it.Verb == VerbStraight:
				return p.RiseMM == 0
			case it.Verb == VerbChanger:
				return p.Move == it.Move
			case it.Verb == VerbCrossing && p.Crosses[0] != 0 && it.Lanes[0] != 0 && b.kit.Lanes > 2:
				return p.Crosses[0] == min(it.Lanes[0], it.Lanes[1])
			}
			return p.Name == name || strings.HasPrefix(p.Name, name+" ")
		})
	}
	if found < 0 {
		return b.missing(it, n, name)
	}
	p := &b.pieces[found]
	if !b.swap(it, n, p) {
		return false
	}
	if it.Road != 0 && it.Road != n {
		return b.beside(float64(count)*p.LengthMM, n, it, p.Name)
	}
	for range count {
		b.queueOne(found, it)
	}
	return true
}

func (b *builder) missing(it *Item, n int, name string) bool {
	if it.Word != "" && it.Verb != VerbStraight {
		name += " " + it.Word
	}
	if it.Verb == VerbChanger {
		return b.fail(CodePieceMissing, n, "changers of this kit: "+b.partNames(KindChanger), "the kit has no straight %s", name)
	}
	if it.Verb != VerbStraight {
		return b.fail(CodePieceMissing, n, "pieces of this kit: "+b.partNames(), "the kit has no %s", name)
	}
	if it.Word == "" {
		return b.fail(CodePieceMissing, n, "", "the kit has no straight")
	}
	way := "straights of this kit: " + b.straights()
	words := wordList(callWords)
	for i := range b.pieces {
		words = append(words, b.pieces[i].Word)
	}
	if like := nearest(it.Word, words); like != "" {
		way = fmt.Sprintf("did you mean %s?", like)
	}
	return b.fail(CodePieceMissing, n, way, "%q is neither a piece of the kit nor a word of the calls", shorten(it.Word))
}

const callWords = "straight left right hairpin crossing changer narrow-in narrow-out shift timing sensor trap crossroads ramp rise fall"

func wordList(s string) []string { return strings.Fields(s) }

func (b *builder) find(fits func(*Piece) bool) int {
	for i := range b.pieces {
		if fits(&b.pieces[i]) {
			return i
		}
	}
	return -1
}

// straights lists the names of the kit's straights with their lengths.
func (b *builder) straights() string {
	var names []string
	for _, p := range b.kit.Pieces {
		if p.Kind == KindStraight && p.RiseMM == 0 {
			names = append(names, fmt.Sprintf("%s %s mm", p.Word, trim(p.LengthMM)))
		}
	}
	return shortList(names)
}

// partNames lists the kit's pieces, of the given kinds where some are given.
func (b *builder) partNames(kinds ...Kind) string {
	var names []string
	for _, p := range b.kit.Pieces {
		if len(kinds) == 0 || slices.Contains(kinds, p.Kind) {
			names = append(names, p.Name)
		}
	}
	return shortList(names)
}

func shortList(names []string) string {
	if len(names) == 0 {
		return "none"
	}
	const most = 24
	if len(names) > most {
		names = append(names[:most:most], "...")
	}
	return strings.Join(names, ", ")
}

// beside queues plain straights that are together as long as another road's piece.
func (b *builder) beside(lengthMM float64, n int, it *Item, piece string) bool {
	if b.kit.Routed {
		i := b.free(Piece{Name: "straight " + trim(lengthMM), Kind: KindStraight, LengthMM: lengthMM})
		b.queueOne(i, &Item{})
		return true
	}
	var sizes []int64
	var index []int
	for i := range b.pieces {
		if p := &b.pieces[i]; p.Kind == KindStraight && p.RiseMM == 0 {
			sizes, index = append(sizes, micro(p.LengthMM)), append(index, i)
		}
	}
	longestFirst(sizes, index)
	counts := b.chooseOnce(choice{0, micro(lengthMM)}, sizes)
	if counts == nil {
		return b.fail(CodeLengthMissing, n, "list the pieces road by road", "beside the %s of road %d lie %s, which the kit's straights (%s) cannot make up",
			piece, it.Road, mmText(lengthMM), b.straights())
	}
	for k, c := range counts {
		for range c {
			b.queueOne(index[k], &Item{})
		}
	}
	return true
}

func longestFirst(sizes []int64, index []int) {
	for i := 1; i < len(sizes); i++ {
		for j := i; j > 0 && sizes[j] > sizes[j-1]; j-- {
			sizes[j], sizes[j-1] = sizes[j-1], sizes[j]
			index[j], index[j-1] = index[j-1], index[j]
		}
	}
}

// chooseOnce is choose with a memory, since a course asks for the same few angles again and again.
func (b *builder) chooseOnce(c choice, sizes []int64) []int {
	if counts, ok := b.chosen[c]; ok {
		return counts
	}
	counts := choose(c.total, sizes, &b.effort)
	if b.chosen == nil {
		b.chosen = map[choice][]int{}
	}
	b.chosen[c] = counts
	return counts
}

// free adds a piece that exists in no kit and returns its index. Equal ones are shared.
func (b *builder) free(p Piece) int {
	p.Stock = -1
	for i := len(b.kit.Pieces); i < len(b.pieces); i++ {
		q := &b.pieces[i]
		if q.Name == p.Name && q.Kind == p.Kind && q.RadiusMM == p.RadiusMM && q.LengthMM == p.LengthMM && q.ToMM == p.ToMM &&
			q.FromMM == p.FromMM && q.ShiftMM == p.ShiftMM && q.Move == p.Move && q.Crosses == p.Crosses {
			return i
		}
	}
	b.pieces = append(b.pieces, p)
	return len(b.pieces) - 1
}

// shortest piece of a routed track; shorter ones are counts meant for a sectional kit.
const routedLeast = 5

// routed queues a free piece, with the length of the call.
func (b *builder) routed(it *Item, n int) bool {
	kind, name := wanted(it)
	length := it.Number
	if it.Word != "" && it.Verb != VerbSensor && it.Verb != VerbTrap {
		return b.missing(it, n, name)
	}
	if it.Verb == VerbRamp {
		return b.fail(CodePieceMissing, n, "for example rise 90 over straight 1200", "a routed track has no ramp pieces")
	}
	if it.Verb == VerbCrossroads && length == 0 {
		length = b.kit.RoadWidthMM
	}
	if length < routedLeast {
		return b.fail(CodeOutOfRange, n, "for example "+name+" 900", "on a routed track %s is followed by its length in mm, at least %d, not by %s", name, routedLeast, trim(length))
	}
	p := Piece{Name: name + " " + trim(length), Kind: kind, LengthMM: length, Shape: b.kit.Shape, Move: it.Move}
	side := 0.0
	switch it.Verb {
	case VerbCrossing:
		if b.kit.Lanes == 2 {
			p.Crosses = [2]int{1, 2}
		}
		side = b.kit.SpacingMM
	case VerbChanger:
		side = b.kit.SpacingMM
	case VerbNarrowIn, VerbNarrowOut:
		p.FromMM, p.ToMM = b.roads[n-1].spacing, it.ToMM
		if it.Verb == VerbNarrowOut && p.ToMM == 0 {
			p.ToMM = b.kit.SpacingMM
		}
		if p.ToMM == 0 {
			return b.fail(CodeCallUnclear, n, "for example narrow-in 300 to 60", "a narrow piece of a routed track must say to which lane spacing it goes")
		}
		p.FromMM = b.spacingNow(n)
		if (it.Verb == VerbNarrowIn) != (p.ToMM < p.FromMM) {
			return b.fail(CodeSpacing, n, "", "%s goes to %s, but the lanes already lie %s apart", name, mmText(p.ToMM), mmText(p.FromMM))
		}
		side = math.Abs(p.ToMM-p.FromMM) * float64(b.kit.Lanes-1) / 2
		if w := float64(b.kit.Lanes-1) * p.ToMM; w >= b.kit.RoadWidthMM {
			return b.fail(CodeOutOfRange, n, "", "%d lanes %s apart do not fit on a road %s wide", b.kit.Lanes, mmText(p.ToMM), mmText(b.kit.RoadWidthMM))
		}
	case VerbShift:
		if p.ShiftMM = it.ToMM; p.ShiftMM == 0 {
			return b.fail(CodeCallUnclear, n, "for example shift left 300 by 30", "a shift of a routed track must say by how much")
		}
		side = p.ShiftMM
	case VerbTiming:
		p.Sensors = [][]float64{b.middle(length)}
	case VerbSensor:
		p.Sensors = [][]float64{b.middle(length)}
	case VerbTrap:
		if len(it.AtMM) != 0 {
			return b.fail(CodeCallUnclear, n, "write two sensors", "the lines of a routed speed trap lie at both ends of its length; no place can be stated")
		}
		p.Sensors = [][]float64{b.places(0), b.places(length)}
	}
	if side > length {
		return b.fail(CodeOutOfRange, n, "make it longer", "a sideways move of %s does not fit into a length of %s", mmText(side), mmText(length))
	}
	if !b.swap(it, n, &p) {
		return false
	}
	if it.Road != 0 && it.Road != n {
		return b.beside(length, n, it, p.Name)
	}
	b.queueOne(b.free(p), it)
	return true
}

// spacingNow returns the lane spacing at the end of what is queued for a road.
func (b *builder) spacingNow(n int) float64 {
	for i := len(b.queue) - 1; i >= b.first; i-- {
		if to := b.pieces[b.queue[i].piece].ToMM; to > 0 {
			return to
		}
	}
	return b.roads[n-1].spacing
}

// middle is where a sensor sits on a routed piece unless the call says otherwise.
func (b *builder) middle(length float64) []float64 { return b.places(length / 2) }

func (b *builder) places(at float64) []float64 {
	out := make([]float64, b.kit.Lanes)
	for i := range out {
		out[i] = at
	}
	return out
}

// bend queues the pieces of a bend. The ring or radius called is that of the innermost road of the side; every road further out
// takes the next ring.
func (b *builder) bend(it *Item, s *Side, n int) bool {
	steps := b.outwards(it, s, n)
	angle := it.Micro
	radius := it.Radius
	if it.Verb == VerbHairpin {
		angle = 180e6
		if !b.kit.Routed {
			return b.hairpin(it, n, steps)
		}
	}
	if angle > 360e6*100 {
		return b.fail(CodeOutOfRange, n, "", "a bend of %s is more than a hundred circles", degText(float64(angle)/1e6))
	}
	if b.kit.Routed {
		return b.routedBend(it, n, angle, radius, steps)
	}
	ring := max(it.Ring, 1)
	if radius > 0 {
		i := b.find(func(p *Piece) bool { return p.Kind == KindCurve && !p.Hairpin && p.RadiusMM == radius })
		if i < 0 {
			return b.fail(CodeRingMissing, n, "rings of this kit: "+b.rings(), "the kit has no ring of radius %s", mmText(radius))
		}
		ring = b.pieces[i].Ring
	}
	ring += steps
	if it.Move != MoveNone && (it.Road == 0 || it.Road == n) {
		return b.curvedChanger(it, n, ring, angle)
	}
	if len(it.Pieces) > 0 && steps == 0 {
		for _, m := range it.Pieces {
			i := b.find(func(p *Piece) bool { return plainCurve(p, ring) && micro(p.AngleDeg) == m })
			if i < 0 {
				return b.noAngle(it, n, ring, m, steps)
			}
			b.queueOne(i, it)
		}
		return true
	}
	var sizes []int64
	var index []int
	for i := range b.pieces {
		if p := &b.pieces[i]; plainCurve(p, ring) {
			sizes, index = append(sizes, micro(p.AngleDeg)), append(index, i)
		}
	}
	if len(sizes) == 0 {
		return b.noAngle(it, n, ring, angle, steps)
	}
	counts := b.chooseOnce(choice{ring, angle}, sizes)
	if counts == nil {
		return b.noAngle(it, n, ring, angle, steps)
	}
	for k, c := range counts {
		if c > countMost {
			return b.fail(CodeTooManyPieces, n, "", "%d pieces in one call; at most %d are laid", c, countMost)
		}
		for range c {
			b.queueOne(index[k], it)
		}
	}
	return true
}

func plainCurve(p *Piece, ring int) bool {
	return p.Kind == KindCurve && !p.Hairpin && p.Ring == ring
}

// outwards counts the roads of the side that lie inside road n in this bend.
func (b *builder) outwards(it *Item, s *Side, n int) int {
	if len(s.Roads) == 0 {
		if it.Turn > 0 {
			return n - 1
		}
		return len(b.roads) - n
	}
	innermost := n
	for _, q := range s.Roads {
		if it.Turn > 0 {
			innermost = min(innermost, q)
		} else {
			innermost = max(innermost, q)
		}
	}
	if it.Turn > 0 {
		return n - innermost
	}
	return innermost - n
}

// noAngle reports a ring that is not there or that cannot turn by an angle.
func (b *builder) noAngle(it *Item, n, ring int, angle int64, steps int) bool {
	where := ""
	if steps > 0 {
		where = fmt.Sprintf(", %s outside ring %d", plural(steps, "road"), ring-steps)
	}
	var has []string
	for i := range b.pieces {
		if p := &b.pieces[i]; plainCurve(p, ring) {
			has = append(has, trim(p.AngleDeg))
		}
	}
	if len(has) == 0 {
		way := "rings of this kit: " + b.rings()
		if steps > 0 {
			way += "; or list the pieces road by road"
		}
		return b.fail(CodeRingMissing, n, way, "the kit has no ring %d%s", ring, where)
	}
	b.broken = true
	b.say(Error, CodeAngleMissing, n, float64(angle)/1e6, "deg", b.anglesNear(ring, angle),
		"ring %d%s cannot turn by %s; its pieces turn by %s", ring, where, degText(float64(angle)/1e6), strings.Join(has, ", "))
	return false
}

// anglesNear tells which whole turns a ring can make just below and above one that it cannot.
func (b *builder) anglesNear(ring int, angle int64) string {
	var sizes []int64
	for i := range b.pieces {
		if p := &b.pieces[i]; plainCurve(p, ring) {
			sizes = append(sizes, micro(p.AngleDeg))
		}
	}
	g := sizes[0]
	for _, s := range sizes {
		for a := s; a != 0; {
			g, a = a, g%a
		}
	}
	var near []string
	below, above := angle-angle%g, angle-angle%g+g
	for k := int64(0); k < 8; k++ {
		if v := below - k*g; v > 0 && v != angle && choose(v, sizes, &b.effort) != nil {
			near = append(near, trim(float64(v)/1e6))
			break
		}
	}
	for k := int64(0); k < 8; k++ {
		if v := above + k*g; choose(v, sizes, &b.effort) != nil {
			near = append(near, trim(float64(v)/1e6))
			break
		}
	}
	if len(near) == 0 {
		return ""
	}
	return "it can turn by " + strings.Join(near, " or ") + " degrees"
}

func (b *builder) rings() string {
	most := 0
	seen := map[int]string{}
	for _, p := range b.kit.Pieces {
		if p.Kind == KindCurve && !p.Hairpin {
			most = max(most, p.Ring)
			if seen[p.Ring] == "" {
				seen[p.Ring] = fmt.Sprintf("ring %d radius %s", p.Ring, trim(p.RadiusMM))
			}
		}
	}
	var out []string
	for ring := 1; ring <= most; ring++ {
		if seen[ring] != "" {
			out = append(out, seen[ring])
		}
	}
	return shortList(out)
}

func (b *builder) curvedChanger(it *Item, n, ring int, angle int64) bool {
	i := b.find(func(p *Piece) bool {
		return p.Kind == KindChanger && p.Ring == ring && p.Turn == it.Turn && p.Move == it.Move && micro(p.AngleDeg) == angle
	})
	if i < 0 {
		return b.fail(CodePieceMissing, n, "changers of this kit: "+b.partNames(KindChanger), "the kit has no changer %s in a bend of %s %s on ring %d", it.Move, way(it.Turn), degText(float64(angle)/1e6), ring)
	}
	if !b.swap(it, n, &b.pieces[i]) {
		return false
	}
	b.queueOne(i, it)
	return true
}

func way(turn int) string {
	if turn < 0 {
		return "right"
	}
	return "left"
}

// hairpin queues the kit's hairpin on the innermost road and, outside it, a ring of the radius that fits.
func (b *builder) hairpin(it *Item, n, steps int) bool {
	i := b.find(func(p *Piece) bool { return p.Hairpin })
	if i < 0 {
		return b.fail(CodePieceMissing, n, "for example left 180 ring 1", "the kit has no hairpin")
	}
	if steps == 0 {
		b.queueOne(i, it)
		return true
	}
	radius := b.pieces[i].RadiusMM + float64(steps)*b.kit.RoadWidthMM
	angle := micro(b.pieces[i].AngleDeg)
	j := b.find(func(p *Piece) bool {
		return p.Kind == KindCurve && !p.Hairpin && math.Abs(p.RadiusMM-radius) < besideMM
	})
	if j < 0 {
		return b.fail(CodeRingMissing, n, "list the pieces road by road", "outside the hairpin road %d needs a ring of radius %s, which the kit lacks", n, mmText(radius))
	}
	var sizes []int64
	var index []int
	ring := b.pieces[j].Ring
	for k := range b.pieces {
		if p := &b.pieces[k]; plainCurve(p, ring) {
			sizes, index = append(sizes, micro(p.AngleDeg)), append(index, k)
		}
	}
	counts := b.chooseOnce(choice{ring, angle}, sizes)
	if counts == nil {
		return b.noAngle(it, n, ring, angle, steps)
	}
	for k, c := range counts {
		for range c {
			b.queueOne(index[k], it)
		}
	}
	return true
}

// routedBend queues one arc of a routed track.
func (b *builder) routedBend(it *Item, n int, angle int64, radius float64, steps int) bool {
	if it.Ring != 0 {
		return b.fail(CodeRingMissing, n, "for example left 90 radius 600", "a routed track has no rings; a bend is called with its radius")
	}
	if radius == 0 {
		return b.fail(CodeCallUnclear, n, "for example left 90 radius 600", "a bend of a routed track needs its radius, to the middle of the innermost road")
	}
	radius += float64(steps) * b.kit.RoadWidthMM
	p := Piece{Kind: KindCurve, RadiusMM: radius, Shape: b.kit.Shape}
	angles := it.Pieces
	if len(angles) == 0 || steps > 0 {
		angles = []int64{angle}
	}
	if it.Move != MoveNone && (it.Road == 0 || it.Road == n) {
		p.Kind, p.Move = KindChanger, it.Move
		if !b.swap(it, n, &p) {
			return false
		}
	}
	for _, m := range angles {
		p.AngleDeg = float64(m) / 1e6
		p.Name = fmt.Sprintf("curve %s radius %s", trim(p.AngleDeg), trim(radius))
		if p.Kind == KindChanger {
			p.Name = fmt.Sprintf("changer %s in %s %s radius %s", it.Move, way(it.Turn), trim(p.AngleDeg), trim(radius))
			if b.kit.SpacingMM > radius*curve.Radians(p.AngleDeg) {
				return b.fail(CodeOutOfRange, n, "make the bend longer", "a change of lanes %s apart does not fit into this bend", mmText(b.kit.SpacingMM))
			}
		}
		b.queueOne(b.free(p), it)
	}
	return true
}

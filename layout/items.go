package layout

import (
	"fmt"
	"slices"
	"strings"

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

const callWords = "straight left right hairpin crossing changer chicane narrow-in narrow-out shift timing sensor trap crossroads ramp rise fall"

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

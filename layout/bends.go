package layout

import (
	"fmt"
	"math"
	"strings"
)

// bend queues the pieces of a bend. The ring or radius called is that of the innermost road of the side; every road further out
// takes the next ring.
func (b *builder) bend(it *Item, s *Side, n int) bool {
	if it.Road != 0 && it.Move == MoveNone && len(b.roads) > 1 {
		return b.fail(CodeCallUnclear, it.Road, "for example road 1: left 60 ring 1 | road 2: left 60 ring 2", "a bend is for all roads; where they differ, list them road by road")
	}
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
	return b.turnOn(it, n, ring, angle, steps)
}

// turnOn queues the pieces of a ring that make up an angle.
func (b *builder) turnOn(it *Item, n, ring int, angle int64, steps int) bool {
	sizes, index := b.anglesOf(ring)
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

// anglesOf returns the angles of a ring's plain curves, in the order of preference, and which pieces they are.
func (b *builder) anglesOf(ring int) (sizes []int64, index []int) {
	for i := range b.pieces {
		if p := &b.pieces[i]; plainCurve(p, ring) {
			sizes, index = append(sizes, micro(p.AngleDeg)), append(index, i)
		}
	}
	return sizes, index
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
	sizes, _ := b.anglesOf(ring)
	for _, m := range sizes {
		has = append(has, trim(float64(m)/1e6))
	}
	if len(has) == 0 {
		way := "rings of this kit: " + b.rings()
		if steps > 0 {
			way += "; or list the pieces road by road"
		}
		return b.fail(CodeRingMissing, n, way, "the kit has no ring %d%s", ring, where)
	}
	if where != "" {
		where += ","
	}
	b.broken = true
	b.say(Error, CodeAngleMissing, n, float64(angle)/1e6, "deg", b.anglesNear(ring, angle),
		"ring %d%s cannot turn by %s; its pieces turn by %s", ring, where, degText(float64(angle)/1e6), strings.Join(has, ", "))
	return false
}

// anglesNear tells which whole turns a ring can make just below and above one that it cannot.
func (b *builder) anglesNear(ring int, angle int64) string {
	sizes, _ := b.anglesOf(ring)
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
	return b.turnOn(it, n, b.pieces[j].Ring, angle, steps)
}

package fit

import (
	"fmt"
	"math"
	"slices"

	"lanewright/layout"
)

// jointMM is by how much the strips of two roads are shrunk together before they are compared: roads side by side touch,
// and joints give about as much. Common practice, no source.
const jointMM = 0.5

// lump is the strip of one piece, ready to be compared.
type lump struct {
	piece  *layout.Placed
	bands  []band
	lo, hi vec
}

// Collisions finds stretches of road on the same ground that are neither neighbours along their road, nor the two passes
// of a level crossroads, nor a declared bridge with room beneath. There is one finding for each pair of calls.
func Collisions(t layout.Track) []layout.Finding {
	lumps := lumpsOf(t)
	var hits []hit
	pairs, all := nearPairs(lumps)
	for _, pair := range pairs {
		if len(hits) >= hitsMost {
			all = false
			break
		}
		a, b := &lumps[pair[0]], &lumps[pair[1]]
		if neighbours(t, a.piece, b.piece) || crossroads(a.piece, b.piece) {
			continue
		}
		if h, ok := meet(a, b); ok {
			hits = append(hits, h)
		}
	}
	out := word(t, hits)
	if !all {
		out = append(out, layout.Finding{Level: layout.Note, Code: CodeCollision, File: t.Plan.File,
			Text: "so many pieces lie on each other that not all were compared", Way: "mend what is reported and check again"})
	}
	return out
}

// Bounds of a comparison. A layout that fills a hall has some thousand pairs of pieces near each other.
const (
	pairsMost = 200_000
	hitsMost  = 2_000
)

func lumpsOf(t layout.Track) []lump {
	var out []lump
	for i := range t.Roads {
		for k := range t.Roads[i].Pieces {
			p := &t.Roads[i].Pieces[k]
			half := p.WidthMM/2 - jointMM/2
			l := lump{piece: p, bands: bandsOf(p, half, half), lo: vec{math.Inf(1), math.Inf(1)}, hi: vec{math.Inf(-1), math.Inf(-1)}}
			for j := range l.bands {
				lo, hi := l.bands[j].box()
				l.lo, l.hi = vec{min(l.lo.x, lo.x), min(l.lo.y, lo.y)}, vec{max(l.hi.x, hi.x), max(l.hi.y, hi.y)}
			}
			out = append(out, l)
		}
	}
	return out
}

// nearPairs gives the pairs of lumps whose boxes overlap, by sweeping along x; false when there are more than are given.
func nearPairs(lumps []lump) ([][2]int, bool) {
	order := make([]int, len(lumps))
	for i := range order {
		order[i] = i
	}
	slices.SortStableFunc(order, func(a, b int) int {
		switch {
		case lumps[a].lo.x < lumps[b].lo.x:
			return -1
		case lumps[a].lo.x > lumps[b].lo.x:
			return 1
		}
		return a - b
	})
	var out [][2]int
	var open []int
	for _, i := range order {
		if len(out) > pairsMost {
			return out, false
		}
		l := &lumps[i]
		kept := open[:0]
		for _, k := range open {
			o := &lumps[k]
			if o.hi.x <= l.lo.x {
				continue
			}
			kept = append(kept, k)
			if o.lo.y < l.hi.y && l.lo.y < o.hi.y {
				out = append(out, [2]int{min(i, k), max(i, k)})
			}
		}
		open = append(kept, i)
	}
	slices.SortFunc(out, func(a, b [2]int) int {
		if a[0] != b[0] {
			return a[0] - b[0]
		}
		return a[1] - b[1]
	})
	return out, true
}

// neighbours says whether two pieces follow each other on one road.
func neighbours(t layout.Track, a, b *layout.Placed) bool {
	if a.Road != b.Road {
		return false
	}
	n := 0
	for _, r := range t.Roads {
		if r.Number == a.Road {
			n = len(r.Pieces)
		}
	}
	d := max(a.Index, b.Index) - min(a.Index, b.Index)
	return d <= 1 || d == n-1
}

// crossroads says whether two pieces are the two passes of one level crossroads.
func crossroads(a, b *layout.Placed) bool {
	if a.Kind != layout.KindCrossroads || b.Kind != layout.KindCrossroads {
		return false
	}
	p, q := a.Centre.At(a.Centre.Length()/2), b.Centre.At(b.Centre.Length()/2)
	return math.Hypot(p.X-q.X, p.Y-q.Y) <= 1 && math.Abs(a.StartZ-b.StartZ) <= 1
}

// hit is two pieces over the same ground.
type hit struct {
	a, b  *layout.Placed
	over  float64 // mm by which their middle lines are too close
	clear float64 // least difference in height where they overlap
}

// meet compares two strips: their edges against each other's inside, at points so dense that nothing wider than a
// quarter of a millimetre slips through at the sizes of road pieces.
func meet(a, b *lump) (hit, bool) {
	h := hit{a: a.piece, b: b.piece, clear: math.Inf(1)}
	found := false
	for i := range a.bands {
		for k := range b.bands {
			x, y := &a.bands[i], &b.bands[k]
			if x.middle.dist(y.middle) > x.around+y.around {
				continue
			}
			// A place of a strip is no farther than half its width from its middle line.
			apart := middleDistance(x, y)
			if apart >= x.left+y.left || !overlap(x, y) {
				continue
			}
			found = true
			h.over = max(h.over, x.left+y.left+jointMM-apart)
			h.clear = min(h.clear, heights(a.piece, b.piece, x, y))
		}
	}
	return h, found
}

// outline cuts the edge of a band, shrunk at its ends as well, into stretches that stray from it by less than 0.02 mm.
func outline(b *band) []seg {
	const stray = 0.02
	s0, s1 := min(jointMM/2, b.length/2), max(b.length-jointMM/2, b.length/2)
	n := 1
	if b.turn != 0 {
		r := b.radius + max(b.left, b.right)
		n = int(clamp(math.Ceil(math.Abs(b.turn)/math.Sqrt(8*stray/r)), 1, 500))
	}
	var pts []vec
	for i := 0; i <= n; i++ {
		pts = append(pts, b.at(s0+(s1-s0)*float64(i)/float64(n), b.left))
	}
	for i := n; i >= 0; i-- {
		pts = append(pts, b.at(s0+(s1-s0)*float64(i)/float64(n), -b.right))
	}
	out := make([]seg, len(pts))
	for i := range pts {
		out[i] = seg{pts[i], pts[(i+1)%len(pts)]}
	}
	return out
}

// overlap says whether two bands share ground: an edge of one runs through the inside of the other, or one lies in the
// other altogether.
func overlap(a, b *band) bool {
	for _, s := range outline(a) {
		if b.meets(s, 0) {
			return true
		}
	}
	for _, s := range outline(b) {
		if a.meets(s, 0) {
			return true
		}
	}
	return false
}

// middleDistance is the least distance of the two middle lines, lines or arcs.
func middleDistance(a, b *band) float64 {
	line := func(x *band) seg { return seg{x.at(0, 0), x.at(x.length, 0)} }
	switch {
	case a.turn == 0 && b.turn == 0:
		return line(a).toSeg(line(b))
	case a.turn == 0:
		return b.arcToSeg(0, line(a))
	case b.turn == 0:
		return a.arcToSeg(0, line(b))
	}
	// Two arcs: at an end of either, or on the line through both centres, or where they cross.
	least := min(a.arcTo(b.at(0, 0)), a.arcTo(b.at(b.length, 0)), b.arcTo(a.at(0, 0)), b.arcTo(a.at(a.length, 0)))
	ca, cb := a.centre(), b.centre()
	d := cb.sub(ca)
	l := d.len()
	if l < 1e-9 {
		return least
	}
	axis := d.times(1 / l)
	for _, sa := range [2]float64{1, -1} {
		for _, sb := range [2]float64{1, -1} {
			p, q := ca.add(axis.times(sa*a.radius)), cb.add(axis.times(sb*b.radius))
			if a.along(p) && b.along(q) {
				least = min(least, p.dist(q))
			}
		}
	}
	if x := (l*l + a.radius*a.radius - b.radius*b.radius) / (2 * l); math.Abs(x) <= a.radius {
		y := math.Sqrt(a.radius*a.radius - x*x)
		for _, side := range [2]float64{1, -1} {
			p := ca.add(axis.times(x)).add(vec{-axis.y, axis.x}.times(side * y))
			if a.along(p) && b.along(p) {
				return 0
			}
		}
	}
	return least
}

// along says whether a place lies in the direction of the arc as seen from its centre.
func (b *band) along(p vec) bool {
	s, _ := b.seen(p)
	return s >= 0 && s <= b.length
}

// arcTo is the distance of a place from the middle line of a bend.
func (b *band) arcTo(p vec) float64 {
	if b.along(p) {
		return math.Abs(p.dist(b.centre()) - b.radius)
	}
	return min(p.dist(b.at(0, 0)), p.dist(b.at(b.length, 0)))
}

// heights is the least difference in height over the shared ground. A road is level across and rises evenly along its
// middle line.
func heights(pa, pb *layout.Placed, a, b *band) float64 {
	za := func(s float64) float64 { return pa.StartZ + (pa.EndZ-pa.StartZ)*clamp(s/max(a.length, 1e-9), 0, 1) }
	zb := func(s float64) float64 { return pb.StartZ + (pb.EndZ-pb.StartZ)*clamp(s/max(b.length, 1e-9), 0, 1) }
	least := math.Inf(1)
	scan := func(x, y *band, zx, zy func(float64) float64) {
		const along, across = 48, 8
		for i := range along + 1 {
			s := x.length * float64(i) / along
			for k := range across + 1 {
				p := x.at(s, -x.right+(x.left+x.right)*float64(k)/across)
				if y.holds(p, 0) {
					t, _ := y.seen(p)
					least = min(least, math.Abs(zx(s)-zy(t)))
				}
			}
		}
	}
	scan(a, b, za, zb)
	scan(b, a, zb, za)
	if math.IsInf(least, 0) { // they share less than the raster sees
		least = min(math.Abs(pa.StartZ-pb.StartZ), math.Abs(pa.EndZ-pb.EndZ), math.Abs(pa.StartZ-pb.EndZ), math.Abs(pa.EndZ-pb.StartZ))
	}
	return least
}

// word makes findings of the hits, the worst one for each pair of calls.
func word(t layout.Track, hits []hit) []layout.Finding {
	limits := t.Kit.Limits
	var out []layout.Finding
	seen := map[[3]int]int{}
	for _, h := range hits {
		f := layout.Finding{File: t.Plan.File, Call: h.b.Call, Road: h.b.Road, Unit: "mm"}
		if f.Call >= 1 && f.Call <= len(t.Plan.Calls) {
			f.Line = t.Plan.Calls[f.Call-1].Line
		}
		room := h.clear - limits.DeckMM
		where := fmt.Sprintf("%s, piece %d of road %d, and %s, piece %d of road %d (call %d)",
			h.b.Piece, h.b.Index, h.b.Road, h.a.Piece, h.a.Index, h.a.Road, h.a.Call)
		kind := 0
		switch {
		case room > 0 && room < limits.ClearMM:
			kind = 1
			f.Level, f.Code, f.Amount = layout.Warning, CodeBridgeLow, limits.ClearMM-room
			f.Text = fmt.Sprintf("%s cross with %.1f mm of clear height, %.1f mm less than the kit wants", where, room, limits.ClearMM-room)
			f.Way = fmt.Sprintf("raise the upper road to %.0f mm above the lower one", limits.ClearMM+limits.DeckMM)
		case room > 0 && (h.a.Bridge || h.b.Bridge):
			continue
		case room > 0:
			kind = 2
			f.Level, f.Code, f.Amount = layout.Warning, CodeBridgeUnset, h.over
			f.Text = fmt.Sprintf("%s run one over the other, %.1f mm apart in height, but no call says bridge", where, h.clear)
			f.Way = "write bridge behind the call of the upper road"
		default:
			f.Level, f.Code, f.Amount = layout.Error, CodeCollision, h.over
			f.Text = fmt.Sprintf("%s lie on the same ground: their middles come %.1f mm too close", where, h.over)
			f.Way = "move them apart, cross them at crossroads, or take one over a bridge"
		}
		key := [3]int{h.a.Call, h.b.Call, kind}
		if i, ok := seen[key]; ok {
			if f.Amount > out[i].Amount {
				out[i] = f
			}
			continue
		}
		seen[key] = len(out)
		out = append(out, f)
	}
	return out
}

package fit

import (
	"math"

	"lanewright/layout"
	"lanewright/layout/curve"
)

// vec is a place on the tables in mm.
type vec struct{ x, y float64 }

func (a vec) sub(b vec) vec           { return vec{a.x - b.x, a.y - b.y} }
func (a vec) add(b vec) vec           { return vec{a.x + b.x, a.y + b.y} }
func (a vec) times(k float64) vec     { return vec{a.x * k, a.y * k} }
func (a vec) dot(b vec) float64       { return a.x*b.x + a.y*b.y }
func (a vec) cross(b vec) float64     { return a.x*b.y - a.y*b.x }
func (a vec) len() float64            { return math.Hypot(a.x, a.y) }
func (a vec) dist(b vec) float64      { return a.sub(b).len() }
func (a vec) turned(s, c float64) vec { return vec{a.x*c - a.y*s, a.x*s + a.y*c} }
func place(p curve.Pose) vec          { return vec{p.X, p.Y} }
func between(a, b vec, u float64) vec { return vec{a.x + u*(b.x-a.x), a.y + u*(b.y-a.y)} }
func clamp(v, lo, hi float64) float64 { return max(lo, min(hi, v)) }

// seg is a straight stretch from a to b.
type seg struct{ a, b vec }

// distance from a point to the stretch.
func (s seg) to(p vec) float64 {
	d := s.b.sub(s.a)
	l := d.dot(d)
	if l == 0 {
		return p.dist(s.a)
	}
	return p.dist(s.a.add(d.times(clamp(p.sub(s.a).dot(d)/l, 0, 1))))
}

func (s seg) crosses(t seg) bool {
	d1, d2 := s.b.sub(s.a), t.b.sub(t.a)
	o1, o2 := d1.cross(t.a.sub(s.a)), d1.cross(t.b.sub(s.a))
	o3, o4 := d2.cross(s.a.sub(t.a)), d2.cross(s.b.sub(t.a))
	return o1*o2 < 0 && o3*o4 < 0
}

func (s seg) toSeg(t seg) float64 {
	if s.crosses(t) {
		return 0
	}
	return min(s.to(t.a), s.to(t.b), t.to(s.a), t.to(s.b))
}

// band is the ground that a stretch of road covers: everything within left and right of its middle line, which is a line
// or an arc. A straight's band is a rectangle, a bend's a part of a ring.
type band struct {
	start       curve.Pose
	length      float64 // along the middle
	turn        float64 // rad, positive to the left; 0: straight
	radius      float64 // of the middle, where turn is not 0
	left, right float64 // mm from the middle to the edges
	middle      vec     // of a circle around the band
	around      float64 // its radius
}

// bandsOf cuts a piece into bands: one for each line or arc of its middle line. Other curves become chords.
func bandsOf(p *layout.Placed, left, right float64) []band {
	var out []band
	for _, s := range p.Centre {
		switch s := s.(type) {
		case curve.Line:
			out = append(out, newBand(s.Start, s.LengthMM, 0, 0, left, right))
		case curve.Arc:
			out = append(out, newBand(s.Start, s.Length(), s.Turn, s.RadiusMM, left, right))
		default:
			poses := curve.Path{s}.Sample(0.01)
			for i := 1; i < len(poses); i++ {
				d := place(poses[i]).sub(place(poses[i-1]))
				out = append(out, newBand(curve.Pose{X: poses[i-1].X, Y: poses[i-1].Y, Heading: math.Atan2(d.y, d.x)}, d.len(), 0, 0, left, right))
			}
		}
	}
	return out
}

func newBand(start curve.Pose, length, turn, radius, left, right float64) band {
	b := band{start: start, length: length, turn: turn, radius: radius, left: left, right: right}
	b.middle = b.at(length/2, 0)
	wide := max(left, right)
	b.around = math.Hypot(length/2, wide)
	if turn != 0 { // of the chord, then as far again as the arc may bulge
		b.around = b.middle.dist(b.at(0, 0)) + wide
		if math.Abs(turn) > math.Pi {
			b.around = 2*radius + wide
		}
	}
	return b
}

// at gives the place s mm along the middle and e mm to its left.
func (b *band) at(s, e float64) vec {
	sin, cos := math.Sincos(b.start.Heading)
	if b.turn == 0 {
		return vec{b.start.X + s*cos - e*sin, b.start.Y + s*sin + e*cos}
	}
	c := b.centre()
	t := math.Copysign(s/b.radius, b.turn)
	out := vec{sin, -cos}.times(math.Copysign(b.radius, b.turn) - e) // from the centre to the road
	st, ct := math.Sincos(t)
	return c.add(out.turned(st, ct))
}

func (b *band) centre() vec {
	sin, cos := math.Sincos(b.start.Heading)
	r := math.Copysign(b.radius, b.turn)
	return vec{b.start.X - r*sin, b.start.Y + r*cos}
}

// seen gives a place as distance along the middle and to its left. On a bend the distance is that of the direction as
// seen from the centre; places behind the band come out negative or beyond its length.
func (b *band) seen(p vec) (s, e float64) {
	sin, cos := math.Sincos(b.start.Heading)
	if b.turn == 0 {
		d := p.sub(place(b.start))
		return d.x*cos + d.y*sin, -d.x*sin + d.y*cos
	}
	d := p.sub(b.centre())
	side := math.Copysign(1, b.turn)
	first := vec{sin, -cos}.times(side)
	angle := side * math.Atan2(first.cross(d), first.dot(d)) // in (-pi, pi], growing along the road
	// Take the turn of the angle that lies nearest to the band.
	half := math.Abs(b.turn) / 2
	for angle < half-math.Pi {
		angle += 2 * math.Pi
	}
	return angle * b.radius, side * (b.radius - d.len())
}

// holds says whether a place lies within the band, and not on its edge to within eps.
func (b *band) holds(p vec, eps float64) bool {
	s, e := b.seen(p)
	return s > eps && s < b.length-eps && e < b.left-eps && e > -b.right+eps
}

// edges gives the two ends of the band, straight across the road.
func (b *band) ends() [2]seg {
	return [2]seg{{b.at(0, b.left), b.at(0, -b.right)}, {b.at(b.length, b.left), b.at(b.length, -b.right)}}
}

// toSeg is the distance between the band and a stretch that does not run into it.
func (b *band) toSeg(t seg) float64 {
	ends := b.ends()
	d := min(ends[0].toSeg(t), ends[1].toSeg(t))
	for _, e := range [2]float64{b.left, -b.right} {
		if b.turn == 0 {
			d = min(d, seg{b.at(0, e), b.at(b.length, e)}.toSeg(t))
		} else {
			d = min(d, b.arcToSeg(e, t))
		}
	}
	return d
}

// arcToSeg is the distance between the edge at e and a stretch: at an end of either, or where the stretch comes nearest
// to, or farthest from, the centre, or at a crossing.
func (b *band) arcToSeg(e float64, t seg) float64 {
	c := b.centre()
	r := math.Abs(math.Copysign(b.radius, b.turn) - e)
	d := min(t.to(b.at(0, e)), t.to(b.at(b.length, e)))
	check := func(p vec) {
		if s, _ := b.seen(p); s >= 0 && s <= b.length {
			d = min(d, math.Abs(p.dist(c)-r))
		}
	}
	check(t.a)
	check(t.b)
	dir := t.b.sub(t.a)
	if l := dir.dot(dir); l > 0 {
		u := c.sub(t.a).dot(dir) / l
		if u > 0 && u < 1 {
			check(t.a.add(dir.times(u)))
		}
		for _, u := range circleCuts(t, c, r) {
			check(between(t.a, t.b, u))
		}
	}
	return d
}

// circleCuts gives where along a stretch (0 to 1) it crosses a circle.
func circleCuts(t seg, c vec, r float64) []float64 {
	d, f := t.b.sub(t.a), t.a.sub(c)
	a, h, k := d.dot(d), d.dot(f), f.dot(f)-r*r
	disc := h*h - a*k
	if a == 0 || disc < 0 {
		return nil
	}
	root := math.Sqrt(disc)
	var out []float64
	for _, u := range [2]float64{(-h - root) / a, (-h + root) / a} {
		if u >= 0 && u <= 1 {
			out = append(out, u)
		}
	}
	return out
}

// meets says whether a stretch runs through the inside of the band, by more than eps from its edges: between the places
// where it crosses the lines and circles that bound the band, it is inside all along or not at all.
func (b *band) meets(t seg, eps float64) bool {
	cuts := []float64{0, 1}
	lineCut := func(s seg) {
		d1, d2 := t.b.sub(t.a), s.b.sub(s.a)
		if den := d1.cross(d2); den != 0 {
			cuts = append(cuts, s.a.sub(t.a).cross(d2)/den)
		}
	}
	in := band{start: b.start, length: b.length, turn: b.turn, radius: b.radius, left: b.left - eps, right: b.right - eps}
	ends := in.ends()
	lineCut(ends[0])
	lineCut(ends[1])
	for _, e := range [2]float64{in.left, -in.right} {
		if b.turn == 0 {
			lineCut(seg{in.at(0, e), in.at(in.length, e)})
		} else {
			cuts = append(cuts, circleCuts(t, b.centre(), math.Abs(math.Copysign(b.radius, b.turn)-e))...)
		}
	}
	sortFloats(cuts)
	for i := 1; i < len(cuts); i++ {
		lo, hi := clamp(cuts[i-1], 0, 1), clamp(cuts[i], 0, 1)
		if hi > lo && b.holds(between(t.a, t.b, (lo+hi)/2), eps) {
			return true
		}
	}
	return false
}

func sortFloats(v []float64) {
	for i := 1; i < len(v); i++ {
		for k := i; k > 0 && v[k] < v[k-1]; k-- {
			v[k], v[k-1] = v[k-1], v[k]
		}
	}
}

// box gives the corners of the smallest upright rectangle around the band.
func (b *band) box() (lo, hi vec) {
	lo, hi = b.at(0, b.left), b.at(0, b.left)
	hold := func(p vec) {
		lo, hi = vec{min(lo.x, p.x), min(lo.y, p.y)}, vec{max(hi.x, p.x), max(hi.y, p.y)}
	}
	for _, e := range [2]float64{b.left, -b.right} {
		hold(b.at(0, e))
		hold(b.at(b.length, e))
	}
	if b.turn == 0 {
		return lo, hi
	}
	c := b.centre()
	for _, e := range [2]float64{b.left, -b.right} {
		r := math.Abs(math.Copysign(b.radius, b.turn) - e)
		for _, axis := range [4]vec{{r, 0}, {0, r}, {-r, 0}, {0, -r}} {
			p := c.add(axis)
			if s, _ := b.seen(p); s >= 0 && s <= b.length {
				hold(p)
			}
		}
	}
	return lo, hi
}

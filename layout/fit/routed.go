package fit

import (
	"cmp"
	"fmt"
	"math"
	"math/cmplx"
	"slices"
	"strconv"

	"lanewright/layout"
)

// resize is a set of new sizes on a routed track.
type resize struct {
	bend    int // unit whose angle changes, -1 for none
	degrees float64
	knobs   []int     // units whose length or radius changes
	sizes   []float64 // their new lengths, or radii to the middle of road 1
	change  float64   // mm changed in all
}

// closeRouted looks for new lengths of straights or radii of bends, one or two in all, after a new angle for one bend
// where the course does not turn a whole number of times; the least change first. All roads change together.
func closeRouted(t layout.Track, o CloseOptions) (CloseResult, error) {
	all := make([]int, len(t.Roads))
	for i := range all {
		all[i] = i
	}
	c := chain{units: unitsOf(t, all)}
	if len(c.units) == 0 || !alike(t) {
		return CloseResult{}, fmt.Errorf("fit: the roads part; mend that first: %w", ErrNoSearch)
	}
	c.lay()
	var list []resize
	missing := wrap(-c.micro[len(c.units)])
	if missing == 0 {
		list = c.lengths(resize{bend: -1}, c.at)
	} else {
		for i := range c.units {
			list = append(list, c.angle(i, missing)...)
		}
	}
	slices.SortStableFunc(list, func(a, b resize) int {
		return cmp.Compare(a.change, b.change)
	})
	out := CloseResult{Tried: c.tried, Scope: fmt.Sprintf("new lengths or radii of up to 2 pieces and a new angle of 1 bend, among %d pieces", len(c.units))}
	if c.cut {
		out.Scope += "; the layout is so large that not all of these were tried"
	}
	for _, r := range list[:min(len(list), o.Most*poolMost)] {
		cl := Closing{NetTurnDeg: float64(c.micro[len(c.units)]) / 1e6}
		calls, ok := c.resized(t.Plan, r, &cl)
		if ok {
			cl.try(t, calls)
		}
		if cl.Calls != nil {
			cl.sign = fmt.Sprint(len(out.Closings))
			out.Closings = append(out.Closings, cl)
		}
	}
	out.Closings = rank(out.Closings, o.Most)
	return out, nil
}

// knob is a size that moves the end of the course: the length of a straight, or the radius of a bend.
type knob struct {
	unit int
	way  complex128 // where the end goes for each mm
	size float64    // as it is
	cost float64    // mm of road changed for each mm
}

// knobs lists the sizes that may change, after the change of angle of r.
func (c *chain) knobs(r resize) []knob {
	var out []knob
	for i := range c.units {
		u := &c.units[i]
		h, micro := c.micro[i], u.roads[0].micro
		switch by := int64(math.Round(r.degrees * 1e6)); {
		case r.bend >= 0 && i > r.bend:
			h += by
		case i == r.bend:
			micro += by
		}
		switch {
		case u.straight > 0:
			out = append(out, knob{i, turnBy(h), u.straight, 1})
		case u.plain && bends(u) && micro != 0:
			// The chord of an arc grows with its radius: i(1 - e^(i turn)), the other way round to the right.
			way := turnBy(h) * complex(0, 1) * (1 - turnBy(micro))
			if micro < 0 {
				way = -way
			}
			out = append(out, knob{i, way, math.Abs(bendRadius(u.roads[0])), math.Abs(float64(micro)) / 1e6 * math.Pi / 180})
		}
	}
	return out
}

// knobsMost bounds the pairs of sizes tried on one layout.
const knobsMost = 2_000_000

// leastChangeMM is the least change that sizes given to a thousandth of a millimetre can show.
const leastChangeMM = 0.0005

// lengths solves for one or two sizes that bring the end at[n] to the start.
func (c *chain) lengths(r resize, at []complex128) []resize {
	gap := -at[len(c.units)]
	var out []resize
	put := func(ks []knob, by []float64) {
		x := r
		x.change = math.Abs(r.change)
		for k, kn := range ks {
			size := round3(kn.size + by[k])
			if size < 1 || size > 1e5 {
				return
			}
			x.knobs = append(slices.Clone(x.knobs), kn.unit)
			x.sizes = append(slices.Clone(x.sizes), size)
			x.change += math.Abs(by[k]) * kn.cost
		}
		out = append(out, x)
	}
	if cmplx.Abs(gap) < 1e-6 {
		put(nil, nil)
		return out
	}
	all := c.knobs(r)
	for i, a := range all {
		length := cmplx.Abs(a.way)
		if length < 1e-9 {
			continue // a full circle comes back whatever its radius
		}
		dir := a.way / complex(length, 0)
		c.tried++
		along := gap * cmplx.Conj(dir)
		if math.Abs(imag(along)) < 1e-6 {
			put([]knob{a}, []float64{real(along) / length})
			continue
		}
		for _, b := range all[i+1:] {
			if c.tried++; c.tried > knobsMost {
				c.cut = true
				return out
			}
			way := b.way * cmplx.Conj(dir)
			if math.Abs(imag(way)) < 0.05*cmplx.Abs(way) || cmplx.Abs(way) < 1e-9 {
				continue // too nearly parallel: small gaps would need long changes
			}
			v := imag(along) / imag(way)
			u := (real(along) - v*real(way)) / length
			if math.Abs(u) < leastChangeMM || math.Abs(v) < leastChangeMM {
				continue // one of them does it alone
			}
			put([]knob{a, b}, []float64{u, v})
		}
	}
	return out
}

func round3(mm float64) float64 { return math.Round(mm*1000) / 1000 }

// angle gives bend i the missing turn, one way round or the other, and lets the straights do the rest.
func (c *chain) angle(i int, missing int64) []resize {
	u := &c.units[i]
	if !u.plain || !bends(u) {
		return nil
	}
	var out []resize
	for _, by := range []int64{missing, missing - 360_000_000} {
		micro := u.roads[0].micro + by
		if micro*u.roads[0].micro <= 0 || micro > 360_000_000 || micro < -360_000_000 {
			continue
		}
		// The bend's end moves on along its circle; what follows turns about the bend's centre.
		scale := float64(micro) / float64(u.roads[0].micro)
		radius := bendRadius(u.roads[0])
		way := complex(0, radius) * (1 - turnBy(micro))
		at := slices.Clone(c.at)
		rest := c.at[len(c.units)] - c.at[i+1]
		at[len(c.units)] = c.at[i] + turnBy(c.micro[i])*way + turnBy(by)*rest
		length := math.Abs(radius) * math.Abs(float64(u.roads[0].micro)) / 1e6 * math.Pi / 180
		out = append(out, c.lengths(resize{bend: i, degrees: float64(by) / 1e6, change: length * math.Abs(scale-1)}, at)...)
	}
	return out
}

// bends says whether a unit is a bend whose radius can be told from its way: a full circle leads nowhere.
func bends(u *unit) bool { return u.turned && wrap(u.roads[0].micro) != 0 }

// bendRadius is the radius of a bend of one arc, positive to the left: way = iR (1 - e^(i turn)).
func bendRadius(s shape) float64 {
	return real(s.way / (complex(0, 1) * (1 - turnBy(s.micro))))
}

// resized words the course with the new sizes.
func (c *chain) resized(p layout.Plan, r resize, cl *Closing) ([]string, bool) {
	texts := make([]string, len(p.Calls))
	for i := range p.Calls {
		texts[i] = p.Calls[i].Text
	}
	set := func(i int, text string) bool {
		u := &c.units[i]
		alone := 0
		for k := range c.units {
			if c.units[k].call == u.call {
				alone++
			}
		}
		if alone != 1 || !u.plain || u.call < 1 || u.call > len(texts) || len(p.Calls[u.call-1].Sides) > 1 || p.Calls[u.call-1].Apart {
			return false
		}
		cl.Edits = append(cl.Edits, Edit{Action: "set", Call: u.call, Index: u.index, Piece: u.text, With: text})
		texts[u.call-1] = text
		return true
	}
	bend := func(i int, by int64, wider float64) bool {
		u := &c.units[i]
		micro := u.roads[0].micro + by
		side, radius := "left", bendRadius(u.roads[0])+wider
		if micro < 0 {
			side = "right"
			// Calls state the radius of the inner road, the last one on the right.
			radius = -bendRadius(u.roads[len(u.roads)-1]) + wider
		}
		return radius >= 1 && set(i, fmt.Sprintf("%s %s radius %s", side, plainNumber(math.Abs(float64(micro)/1e6)), plainNumber(round3(radius))))
	}
	turned := r.bend < 0
	for k, i := range r.knobs {
		u := &c.units[i]
		if u.straight > 0 {
			if !set(i, "straight "+plainNumber(r.sizes[k])) {
				return nil, false
			}
			continue
		}
		by := int64(0)
		if i == r.bend {
			turned, by = true, int64(math.Round(r.degrees*1e6))
		}
		if !bend(i, by, r.sizes[k]-math.Abs(bendRadius(u.roads[0]))) {
			return nil, false
		}
	}
	if !turned && !bend(r.bend, int64(math.Round(r.degrees*1e6)), 0) {
		return nil, false
	}
	if r.bend >= 0 {
		cl.NetTurnDeg += r.degrees
	}
	slices.SortFunc(cl.Edits, func(a, b Edit) int { return cmp.Compare(a.Call, b.Call) })
	return texts, true
}

func plainNumber(v float64) string { return strconv.FormatFloat(v, 'f', -1, 64) }

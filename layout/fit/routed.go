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
	bend      int // unit whose angle changes, -1 for none
	degrees   float64
	straights []int // units whose length changes
	lengths   []float64
	change    float64 // mm changed in all
}

// closeRouted looks for new lengths of one or two straights, after a new angle for one bend where the course does not
// turn a whole number of times; the least change first. All roads change together.
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
	out := CloseResult{Tried: c.tried, Scope: fmt.Sprintf("new lengths of up to 2 straights and a new angle of 1 bend, among %d pieces", len(c.units))}
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

// lengths solves for one or two straights whose lengths bring the end at[n] to the start.
func (c *chain) lengths(r resize, at []complex128) []resize {
	n := len(c.units)
	gap := -at[n]
	var out []resize
	turn := func(i int) complex128 {
		h := c.micro[i]
		if r.bend >= 0 && i > r.bend {
			h += int64(math.Round(r.degrees * 1e6))
		}
		return turnBy(h)
	}
	put := func(is []int, by []float64) {
		x := r
		x.change = math.Abs(r.change)
		for k, i := range is {
			l := round3(c.units[i].straight + by[k])
			if l < 1 {
				return
			}
			x.straights = append(slices.Clone(x.straights), i)
			x.lengths = append(slices.Clone(x.lengths), l)
			x.change += math.Abs(by[k])
		}
		out = append(out, x)
	}
	if cmplx.Abs(gap) < 1e-6 {
		put(nil, nil)
		return out
	}
	for i := range c.units {
		if c.units[i].straight == 0 {
			continue
		}
		a := turn(i)
		c.tried++
		along := gap * cmplx.Conj(a)
		if math.Abs(imag(along)) < 1e-6 {
			put([]int{i}, []float64{real(along)})
			continue
		}
		for k := i + 1; k < n; k++ {
			if c.units[k].straight == 0 {
				continue
			}
			c.tried++
			b := turn(k) * cmplx.Conj(a)
			if math.Abs(imag(b)) < 0.05 {
				continue // too nearly parallel: small gaps would need long changes
			}
			v := imag(along) / imag(b)
			put([]int{i, k}, []float64{real(along) - v*real(b), v})
		}
	}
	return out
}

func round3(mm float64) float64 { return math.Round(mm*1000) / 1000 }

// angle gives bend i the missing turn, one way round or the other, and lets the straights do the rest.
func (c *chain) angle(i int, missing int64) []resize {
	u := &c.units[i]
	if !u.plain || !u.turned {
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
	if r.bend >= 0 {
		u := &c.units[r.bend]
		micro := u.roads[0].micro + int64(math.Round(r.degrees*1e6))
		side, radius := "left", bendRadius(u.roads[0])
		if micro < 0 {
			side = "right"
			// Calls state the radius of the inner road, the last one on the right.
			radius = -bendRadius(u.roads[len(u.roads)-1])
		}
		cl.NetTurnDeg += r.degrees
		if !set(r.bend, fmt.Sprintf("%s %s radius %s", side, plainNumber(math.Abs(float64(micro)/1e6)), plainNumber(round3(radius)))) {
			return nil, false
		}
	}
	for k, i := range r.straights {
		if !set(i, "straight "+plainNumber(r.lengths[k])) {
			return nil, false
		}
	}
	slices.SortFunc(cl.Edits, func(a, b Edit) int { return cmp.Compare(a.Call, b.Call) })
	return texts, true
}

func plainNumber(v float64) string { return strconv.FormatFloat(v, 'f', -1, 64) }

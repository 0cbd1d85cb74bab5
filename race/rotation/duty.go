package rotation

// staffRest puts marshals at the posts of each heat from those sitting out: as
// many posts as can be, then duties as equal as can be (least sum of squares),
// then as few as can be in the heat before one's own. The heats that have been
// run keep their duty.
//
// It is exact for the given heats: a minimum-cost flow from heats to drivers,
// whose cost per driver is convex, by successive shortest paths. Source: Ahuja,
// Magnanti & Orlin, "Network Flows", 1993 (from memory).
func staffRest(p Problem, heats, run [][]int) [][]int {
	n, nh := p.Drivers, len(heats)
	w := newRoster(p, heats)
	for h, row := range run {
		for _, x := range row {
			if x > 0 {
				w.count[x-1]++
			}
		}
		w.free[h] = nil
	}
	for h := len(run); h < nh; h++ {
		for range min(p.Posts, len(w.free[h])) {
			w.add(h)
		}
	}
	stood := make([]int, n*p.Posts) // driver, post -> times
	out := make([][]int, nh)
	for h := range out {
		out[h] = make([]int, p.Posts)
		if h < len(run) {
			copy(out[h], run[h])
		}
		for _, d := range w.free[h] {
			if !w.on[h*n+d] {
				continue
			}
			best := -1
			for q := range p.Posts {
				if out[h][q] == 0 && (best < 0 || stood[d*p.Posts+q] < stood[d*p.Posts+best]) {
					best = q
				}
			}
			out[h][best] = d + 1
		}
		for q, x := range out[h] {
			if x > 0 {
				stood[(x-1)*p.Posts+q]++
			}
		}
	}
	return out
}

// roster is the flow: heats on one side, drivers on the other.
type roster struct {
	n     int
	free  [][]int // heat -> drivers who can stand at a post
	on    []bool  // heat, driver -> stands
	late  []bool  // heat, driver -> drives the next heat
	count []int   // driver -> duties
	dist  []int   // heats first, then drivers
	from  []int
	queue []int
	in    []bool
}

func newRoster(p Problem, heats [][]int) *roster {
	n, nh := p.Drivers, len(heats)
	w := &roster{n: n, free: make([][]int, nh), on: make([]bool, n*nh), late: make([]bool, n*nh), count: make([]int, n),
		dist: make([]int, n+nh), from: make([]int, n+nh), in: make([]bool, n+nh)}
	here, at := presence(p, nh), stints(n, heats)
	for h, row := range heats {
		for d := range n {
			if h >= here[d].from && h < here[d].until && len(at[d]) > 0 && !drives(row, d+1) {
				w.free[h] = append(w.free[h], d)
				w.late[h*n+d] = h+1 < nh && drives(heats[h+1], d+1)
			}
		}
	}
	return w
}

// evenWeight puts equal duties above all duties before one's own heat.
const evenWeight = 1 << 20

// add sends one more unit from heat h to the driver it costs least, moving
// others to other heats where that pays.
func (w *roster) add(h int) {
	const far = 1 << 60
	nh := len(w.free)
	for i := range w.dist {
		w.dist[i], w.from[i] = far, -1
	}
	w.dist[h] = 0
	w.queue = append(w.queue[:0], h)
	relax := func(u, v, cost int) {
		if w.dist[u]+cost < w.dist[v] {
			w.dist[v], w.from[v] = w.dist[u]+cost, u
			if !w.in[v] {
				w.in[v] = true
				w.queue = append(w.queue, v)
			}
		}
	}
	for len(w.queue) > 0 {
		u := w.queue[0]
		w.queue = w.queue[1:]
		w.in[u] = false
		if u < nh {
			for _, d := range w.free[u] {
				if i := u*w.n + d; !w.on[i] {
					relax(u, nh+d, bit(w.late[i]))
				}
			}
			continue
		}
		d := u - nh
		for g := range nh {
			if i := g*w.n + d; w.on[i] {
				relax(u, g, -bit(w.late[i]))
			}
		}
	}
	best, cost := -1, far
	for d := range w.n {
		if c := w.dist[nh+d]; c < far && c+evenWeight*(2*w.count[d]+1) < cost {
			best, cost = d, c+evenWeight*(2*w.count[d]+1)
		}
	}
	if best < 0 {
		return
	}
	w.count[best]++
	for v := nh + best; v != h; {
		u := w.from[v]
		if u < nh {
			w.on[u*w.n+v-nh] = true
		} else {
			w.on[v*w.n+u-nh] = false
		}
		v = u
	}
}

func bit(b bool) int {
	if b {
		return 1
	}
	return 0
}

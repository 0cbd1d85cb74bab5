package race

import (
	"slices"

	"lanewright/race/score"
)

// stepUp seats the first drivers of a main that has been accepted in the next one, and returns what takes that back.
func (n *Night) stepUp(h *heat) (back func()) {
	back = func() {}
	if h.plan.Main == "" || h.plan.StepUp == 0 {
		return back
	}
	var next *heat
	for _, k := range n.heats {
		if k.state == ahead && k.plan.Main != "" && (next == nil || k.number < next.number) {
			next = k
		}
	}
	if next == nil {
		return back
	}
	was := next.plan.Drivers
	seats := make([]int, n.Seats())
	copy(seats, was)
	left := h.plan.StepUp
	for _, row := range n.HeatResults(h.number) {
		if left == 0 || row.Place == 0 {
			break
		}
		if row.Driver == 0 || slices.Contains(seats, row.Driver) || n.drivers[row.Driver-1].away {
			continue
		}
		s := n.openSeat(seats)
		if s < 0 {
			break
		}
		seats[s] = row.Driver
		left--
	}
	next.plan.Drivers = seats
	return func() { next.plan.Drivers = was }
}

// openSeat finds the first seat with nobody on it that can be used, -1 if none.
func (n *Night) openSeat(seats []int) int {
	for s, d := range seats {
		if d == 0 && (n.info.Digital || !n.lanes[s].closed) {
			return s
		}
	}
	return -1
}

// mains returns the mains of the night, top one first.
func (n *Night) mains() []*heat {
	var out []*heat
	for _, h := range n.heats {
		if h.plan.Main != "" {
			out = append(out, h)
		}
	}
	slices.Reverse(out)
	return out
}

// MainsBegun tells whether a main has been started.
func (n *Night) MainsBegun() bool {
	return slices.ContainsFunc(n.mains(), func(h *heat) bool { return h.run != nil || len(h.void) > 0 })
}

// byMains puts the rows of the night into the order of its mains, once all of them are accepted: everybody stands where he finished
// in the highest main that he drove, and those who drove none come behind, as the sum of the night has them.
func (n *Night) byMains(rows []ResultRow, sizes []int) ([]ResultRow, []int) {
	mains := n.mains()
	if len(mains) == 0 || slices.ContainsFunc(mains, func(h *heat) bool { return h.state != ran || h.run == nil }) {
		return rows, sizes
	}
	finished := make([][]string, len(mains))
	which := map[int]string{}
	for i := len(mains) - 1; i >= 0; i-- {
		for _, r := range n.HeatResults(mains[i].number) {
			finished[i] = append(finished[i], driverKey(r.Driver))
			which[r.Driver] = mains[i].plan.Main + " main"
		}
	}
	place := map[int]int{}
	for i, key := range score.MainsOrder(finished) {
		place[driverOf(key)] = i + 1
	}
	out := slices.Clone(rows)
	slices.SortStableFunc(out, func(a, b ResultRow) int {
		pa, pb := place[a.Driver], place[b.Driver]
		switch {
		case pa == pb: // neither drove a main
			return 0
		case pa == 0:
			return 1
		case pb == 0:
			return -1
		}
		return pa - pb
	})
	sizes = nil
	for i := range out {
		r := &out[i]
		r.Shared, r.Gap = false, ""
		if m := which[r.Driver]; m != "" {
			r.Place, r.Reason = i+1, m
			sizes = append(sizes, 1)
		} else if r.Place > 0 {
			r.Place = i + 1
			sizes = append(sizes, 1)
		}
	}
	return out, sizes
}

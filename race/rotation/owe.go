package rotation

// owe works out how often everybody still needs each lane, and widens the
// problem by the late arrivals.
func (r *redraw) owe() {
	p := &r.p
	p.Drivers += r.change.Late
	ran := len(r.run)
	if ran > 0 {
		p.Wishes.First = nil // it was run, one way or the other
	}
	stays := append([]Stay(nil), p.Wishes.Stay...)
	for d := r.before.Drivers + 1; d <= p.Drivers; d++ {
		if !hasDriven(r.run, d) {
			stays = append(stays, Stay{Driver: d, From: ran + 1})
		}
	}
	for _, d := range r.change.Leave {
		kept := stays[:0:0]
		for _, s := range stays {
			if s.Driver != d {
				kept = append(kept, s)
			}
		}
		stays = append(kept, Stay{Driver: d, Until: max(ran, 1)})
	}
	p.Wishes.Stay = stays
	driven := make([][]int, p.Drivers)
	r.need = make([][]int, p.Drivers)
	for d := range r.need {
		driven[d], r.need[d] = make([]int, p.Lanes), make([]int, p.Lanes)
	}
	for _, row := range r.run {
		for l, x := range row {
			if x > 0 {
				driven[x-1][l]++
			}
		}
	}
	barred := map[Bar]bool{}
	for _, b := range p.Wishes.Bar {
		barred[b] = true
	}
	var open []int
	for _, l := range p.usable() {
		if !contains(r.change.Close, l) {
			open = append(open, l)
		}
	}
	if p.Kind == ShortKind {
		r.oweShort(open, driven, barred)
		return
	}
	for d := range r.need {
		for _, l := range open {
			if !r.gone[d+1] && !barred[Bar{d + 1, l}] {
				r.need[d][l-1] = max(0, p.Rounds-driven[d][l-1])
			}
		}
	}
}

func hasDriven(heats [][]int, driver int) bool {
	for _, row := range heats {
		if contains(row, driver) {
			return true
		}
	}
	return false
}

// oweShort gives everybody the heats he is short of: on the lanes the plan had
// for him as far as they are open, then on those he has driven least and that
// are wanted least.
func (r *redraw) oweShort(open []int, driven [][]int, barred map[Bar]bool) {
	p := r.p
	column := make([]int, p.Lanes)
	left := make([]int, p.Drivers)
	for d := range left {
		if r.gone[d+1] {
			continue
		}
		left[d] = p.LanesEach
		for _, n := range driven[d] {
			left[d] -= n
		}
	}
	take := func(d, l int) {
		r.need[d][l-1]++
		column[l-1]++
		left[d]--
	}
	for _, row := range r.played.Plan {
		for l, x := range row {
			if x > 0 && left[x-1] > 0 && contains(open, l+1) && !barred[Bar{x, l + 1}] {
				take(x-1, l+1)
			}
		}
	}
	for d := range left {
		for left[d] > 0 {
			best := 0
			for _, l := range open {
				if barred[Bar{d + 1, l}] {
					continue
				}
				a, b := driven[d][l-1]+r.need[d][l-1], 0
				if best > 0 {
					b = driven[d][best-1] + r.need[d][best-1]
				}
				if best == 0 || a < b || a == b && column[l-1] < column[best-1] {
					best = l
				}
			}
			if best == 0 {
				break
			}
			take(d, best)
		}
	}
}

package rotation

// restHeats is the fewest heats that still take what is owed.
func (r *redraw) restHeats() int {
	heats := 0
	column := make([]int, r.p.Lanes)
	for d, row := range r.need {
		sum := 0
		for l, n := range row {
			sum += n
			column[l] += n
		}
		// someone who comes later needs all his heats after that
		for _, s := range r.p.Wishes.Stay {
			if s.Driver == d+1 && sum > 0 && s.From-1 > len(r.run) {
				sum += s.From - 1 - len(r.run)
			}
		}
		heats = max(heats, sum)
	}
	for _, n := range column {
		heats = max(heats, n)
	}
	return heats
}

// seat fills so many heats with what is owed and leaves everybody where the old
// plan had him as far as that goes.
func (r *redraw) seat(heats int) [][]int {
	need := make([][]int, len(r.need))
	for d := range need {
		need[d] = append([]int(nil), r.need[d]...)
	}
	var rows [][]int
	for _, row := range r.played.Plan {
		kept := make([]int, r.p.Lanes)
		for l, x := range row {
			if x > 0 && need[x-1][l] > 0 {
				kept[l] = x
				need[x-1][l]--
			}
		}
		rows = append(rows, kept)
	}
	for len(rows) > heats { // dissolve the emptiest heats
		worst := 0
		for h := range rows {
			if filled(rows[h]) <= filled(rows[worst]) {
				worst = h
			}
		}
		for l, x := range rows[worst] {
			if x > 0 {
				need[x-1][l]++
			}
		}
		rows = append(rows[:worst], rows[worst+1:]...)
	}
	for len(rows) < heats {
		rows = append(rows, make([]int, r.p.Lanes))
	}
	for d := range need {
		for l, n := range need[d] {
			for range n {
				place(rows, d+1, l)
			}
		}
	}
	return rows
}

func filled(row []int) int {
	n := 0
	for _, x := range row {
		n += bit(x > 0)
	}
	return n
}

// place puts driver d on lane l into one of the heats. If there is none in
// which both are free, seats of two heats are swapped along the path that
// starts at lane l, so that one of them becomes so (König); the shortest such
// path is taken.
func place(rows [][]int, d, l int) {
	best := -1
	for h, row := range rows {
		if row[l] == 0 && !drives(row, d) && (best < 0 || filled(row) < filled(rows[best])) {
			best = h
		}
	}
	if best >= 0 {
		rows[best][l] = d
		return
	}
	var path []int
	from := -1
	to := -1
	for a, row := range rows {
		if drives(row, d) {
			continue
		}
		for b, other := range rows {
			if other[l] != 0 {
				continue
			}
			// lanes to swap between a and b
			set := []int{l}
			for i := 0; i < len(set); i++ {
				if x := row[set[i]]; x > 0 {
					for m, y := range other {
						if y == x {
							set = append(set, m)
						}
					}
				}
			}
			if from < 0 || len(set) < len(path) {
				path, from, to = set, a, b
			}
		}
	}
	if from < 0 {
		return // cannot happen while nobody is owed more than there are heats
	}
	for _, m := range path {
		rows[from][m], rows[to][m] = rows[to][m], rows[from][m]
	}
	rows[from][l] = d
}

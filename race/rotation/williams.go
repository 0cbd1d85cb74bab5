package rotation

// williams gives n = L even drivers a square in which every driver takes over
// from every other exactly once and every lane follows every other exactly
// once. First column 0, 1, n-1, 2, n-2, ..., and one more mod n along the rows
// (Williams 1949). Renaming lanes keeps that, so the names are chosen for the
// least lane by time. It returns nil when there is no such square or it is
// worse than now in what comes before the moves.
func williams(p Problem, now *lanes, order []laneLevel) *lanes {
	n := now.n
	if n != now.k || n%2 != 0 || now.heats != n || !p.Wishes.none() {
		return nil
	}
	names := make([]int, n)
	for i := range names {
		names[i] = i
	}
	r := newRandom(p.Seed, 300)
	var best *lanes
	for range 400 {
		if n > 2 {
			r.shuffle(names)
		}
		w := newLanes(p, williamsRows(p, names))
		if best == nil || w.total.less(&best.total, order) {
			best = w
		}
	}
	for _, l := range order {
		if l == laneMoves {
			break
		}
		if best.total[l] > now.total[l]+int64(n) {
			return nil
		}
	}
	if best.total[laneMoves] >= now.total[laneMoves] {
		return nil
	}
	return best
}

// williamsRows is the square with its lanes renamed.
func williamsRows(p Problem, names []int) [][]int {
	n := len(names)
	first := make([]int, n)
	for i := range first {
		if i%2 == 1 {
			first[i] = (i + 1) / 2
		} else {
			first[i] = (n - i/2) % n
		}
	}
	use := p.usable()
	rows := make([][]int, n)
	for h := range rows {
		rows[h] = make([]int, p.Lanes)
		for l := range n {
			rows[h][use[names[l]]-1] = (first[h]+first[l])%n + 1
		}
	}
	return rows
}

package rotation

import "sort"

// arrange brings the designs into the order of an evening in many simple ways
// and returns the most promising ones. Turned blocks in their turn are a good
// start: all drivers then have the same gaps, moved in time.
func (s *search) arrange(designs []design, order []level, keep int) []*evening {
	var out []*evening
	for _, d := range designs {
		for _, blocks := range d.orders(s.rnd) {
			if len(out) > 0 && s.stop() {
				break
			}
			out = append(out, newEvening(s.p, blocks))
			if len(out) >= 4*keep {
				out = bestEvenings(out, order, keep)
			}
		}
	}
	return bestEvenings(out, order, keep)
}

func bestEvenings(all []*evening, order []level, keep int) []*evening {
	sort.SliceStable(all, func(i, j int) bool { return all[i].total.less(&all[j].total, order) })
	return all[:min(keep, len(all))]
}

// totals are what an evening is judged by, level by level.
type totals [levels]int64

// less compares level by level in the given order.
func (t *totals) less(u *totals, order []level) bool {
	for _, l := range order {
		if t[l] != u[l] {
			return t[l] < u[l]
		}
	}
	return false
}

// orders lists ways to hold the blocks of a design one after another: base
// blocks take turns and each goes round by steps that do not divide the circle.
func (d design) orders(r *random) [][][]int {
	m := d.turns
	base := (len(d.blocks) - d.still) / max(m, 1)
	if m <= 2 || base == 0 {
		shuffled := append([][]int(nil), d.blocks...)
		for i := len(shuffled) - 1; i > 0; i-- {
			j := r.below(i + 1)
			shuffled[i], shuffled[j] = shuffled[j], shuffled[i]
		}
		return [][][]int{d.blocks, shuffled}
	}
	var out [][][]int
	for u := 1; u < m; u++ {
		if gcd(u, m) != 1 {
			continue
		}
		// base blocks start at different places of their circles
		shift := make([]int, base)
		for b := 1; b < base; b++ {
			shift[b] = r.below(m)
		}
		var blocks [][]int
		for i := range m {
			for b := range base {
				blocks = append(blocks, d.blocks[b*m+(i*u+shift[b])%m])
			}
		}
		// still blocks are spread between
		for i, block := range d.blocks[base*m:] {
			at := (i + 1) * len(blocks) / (d.still + 1)
			blocks = append(blocks[:at], append([][]int{block}, blocks[at:]...)...)
		}
		out = append(out, blocks)
	}
	return out
}

func gcd(a, b int) int {
	for b != 0 {
		a, b = b, a%b
	}
	return a
}

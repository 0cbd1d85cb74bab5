package rotation

// lots lets the seed say who is who in the designs.
func (s *search) lots(designs []design) {
	who := make([]int, s.p.Drivers)
	for i := range who {
		who[i] = i
	}
	if len(s.p.Wishes.Bar) == 0 {
		newRandom(s.p.Seed, 7).shuffle(who)
	}
	for _, d := range designs {
		for h, block := range d.blocks {
			out := make([]int, len(block))
			for i, x := range block {
				out[i] = who[x]
			}
			d.blocks[h] = out
		}
	}
}

// designs finds who meets whom, or at least who drives together, in so many
// heats.
func (s *search) designs(need demand, heats int) []design {
	p := s.p
	k := len(p.usable())
	s.up, s.raised = 0, ""
	if need.full && heats == need.heats {
		s.up, s.raised = evenSplitRaise(p.Drivers, k, heats, need.each[0])
		return s.whoMeets(p.Drivers, k, heats, need.each[0])
	}
	var blocks [][]int
	name := "heats filled one after another"
	if p.Kind != ShortKind && p.Drivers >= k {
		d := s.whoMeets(p.Drivers, k, p.Drivers*p.Rounds, k*p.Rounds)[0]
		blocks, name = d.blocks, d.name
	}
	return []design{{blocks: fill(blocks, need.each, k, heats), turns: 1, name: name}}
}

// fill makes heats blocks of at most k drivers in which driver x drives each[x]
// times, keeping of the given blocks what fits. Drivers who are owed most come
// first, so that it always works out when no one is owed more than heats and
// all together no more than heats*k.
func fill(blocks [][]int, each []int, k, heats int) [][]int {
	owed := append([]int(nil), each...)
	out := make([][]int, heats)
	seats := 0
	for _, e := range each {
		seats += e
	}
	for h := range out {
		if h < len(blocks) {
			for _, x := range blocks[h] {
				if owed[x] > 0 {
					out[h] = append(out[h], x)
					owed[x]--
				}
			}
		}
	}
	rest := 0
	for _, o := range owed {
		rest += o
	}
	if rest > 0 && len(blocks) > 0 {
		return fill(nil, each, k, heats) // it did not fit, from the start
	}
	if len(blocks) > 0 {
		return out
	}
	for h := range out {
		size := min(k, ceilDiv(seats, heats-h))
		for len(out[h]) < size {
			best := -1
			for x, o := range owed {
				if o > 0 && !contains(out[h], x) && (best < 0 || o > owed[best]) {
					best = x
				}
			}
			if best < 0 {
				break
			}
			out[h] = append(out[h], best)
			owed[best]--
			seats--
		}
	}
	return out
}

func oneUp(blocks [][]int) [][]int {
	out := make([][]int, len(blocks))
	for i, b := range blocks {
		for _, x := range b {
			out[i] = append(out[i], x+1)
		}
	}
	return out
}

package rotation

// movesLead says whether moves matter more than something that is settled
// before the lanes are.
func (p Problem) movesLead() bool {
	for i, c := range p.Order {
		if c == Moves {
			for _, later := range p.Order[i+1:] {
				if later == Opponents || later == Waiting {
					return true
				}
			}
			return false
		}
	}
	return false
}

// polish goes on from a draw with who drives when and the lanes together, which
// is slower but may give up opponents and waits for moves, and returns the
// better of the two draws.
func (s *search) polish(d Draw, moves int) Draw {
	p := s.p
	t := newTable(p, d.Heats, 0, nil)
	t.weigh(p.Order, 0)
	for i := range t.factor {
		if l := level(i); l != levelBroken && l != levelUneven {
			t.factor[i] *= t.factor[i] // farther apart than in a re-draw
		}
	}
	s.enter("moves", func() Draw { return d })
	t.anneal(moves, newRandom(p.Seed, 600), s.stop)
	s.moved += t.evening.moved
	e := p.finish(t.rows(p.Lanes), p.Rounds)
	e.Moved, e.Cut = s.moved, s.cut
	s.sharpen(&e)
	if e.Figures.Broken == 0 && e.ahead(d) {
		return e
	}
	return d
}

// ahead compares two draws criterion by criterion by the sums of their claims'
// distances from the bounds.
func (d Draw) ahead(e Draw) bool {
	sum := func(d Draw, c Criterion) int64 {
		v := int64(0)
		for _, x := range d.Claims {
			if x.Criterion == c {
				v += x.Value
			}
		}
		return v
	}
	for i, x := range d.Claims {
		if i > 0 && d.Claims[i-1].Criterion == x.Criterion {
			continue
		}
		if a, b := sum(d, x.Criterion), sum(e, x.Criterion); a != b {
			return a < b
		}
	}
	return false
}

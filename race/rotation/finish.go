package rotation

// finish works out figures, bounds and proof of a table of heats.
func (p Problem) finish(heats [][]int, rounds int) Draw { return p.finishRest(heats, rounds, 0, nil) }

// finishRest does so for a table whose first run heats were driven, with the
// given duty.
func (p Problem) finishRest(heats [][]int, rounds, run int, duty [][]int) Draw {
	d := Draw{Kind: p.Kind, Drivers: p.Drivers, Lanes: p.Lanes, Rounds: p.Rounds, Seed: p.Seed, Heats: heats}
	if p.Posts > 0 {
		d.Duty = staffRest(p, heats, duty)
	}
	d.Figures = measure(p, heats, d.Duty)
	s := shapeOf(p, heats, rounds)
	d.Bounds = s.bounds()
	if run > 0 {
		d.Bounds.PairSq = max(d.Bounds.PairSq, p.meetBound(heats, run))
	}
	if p.Kind == ShortKind && p.Costs != nil {
		d.Claims = append(d.Claims, p.costClaim(heats, s))
		d.Bounds.CostSpread = float64(d.Claims[0].Bound) / costScale
	}
	d.Claims = append(d.Claims, s.claims(d.Figures, d.Bounds, p.Order)...)
	d.Left = p.left(heats)
	d.Proof = prove(d)
	return d
}

// left says what the lanes leave over for each driver.
func (p Problem) left(heats [][]int) []Advantage {
	if p.Costs == nil {
		return nil
	}
	var out []Advantage
	mean := make([]float64, p.Drivers)
	all, least, driving := 0.0, 0.0, 0
	for d, t := range stints(p.Drivers, heats) {
		if len(t) == 0 {
			continue
		}
		for _, s := range t {
			mean[d] += p.Costs[s.lane] / float64(len(t))
		}
		if driving == 0 || mean[d] < least {
			least = mean[d]
		}
		all += mean[d]
		driving++
	}
	for d, t := range stints(p.Drivers, heats) {
		a := Advantage{Driver: d + 1}
		if len(t) > 0 {
			a.Cost, a.HeadStart = mean[d]-all/float64(driving), mean[d]-least
		}
		out = append(out, a)
	}
	return out
}

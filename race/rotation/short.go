package rotation

// normalShort settles how many heats each driver gets and how many heats that
// takes. Everybody drives equally often; heats left over are not held.
func (p Problem) normalShort() (Problem, error) {
	lanes := len(p.usable())
	n := p.Drivers
	switch {
	case p.LanesEach < 0 || p.Heats < 0:
		return p, badf("short rotation of %d heats with %d lanes for each driver: expected positive numbers", p.Heats, p.LanesEach)
	case p.LanesEach == 0 && p.Heats == 0:
		return p, badf("a short rotation needs the lanes for each driver or the number of heats")
	case p.Heats > HeatsMax:
		return p, badf("%d heats: expected at most %d", p.Heats, HeatsMax)
	case p.LanesEach > lanes*RoundsMax:
		return p, badf("%d lanes for each driver: %d lanes driven %d times at most make %d", p.LanesEach, lanes, RoundsMax, lanes*RoundsMax)
	}
	if p.LanesEach == 0 {
		p.LanesEach = min(p.Heats*min(lanes, n)/n, p.Heats, lanes*RoundsMax)
		if p.LanesEach == 0 {
			return p, badf("%d heats on %d lanes have %d seats for %d drivers: %d heats are needed for everybody to drive once",
				p.Heats, lanes, p.Heats*lanes, n, ceilDiv(n, lanes))
		}
		// each lane carries one driver a heat
		for p.LanesEach > 0 && shortHeats(n, lanes, p.LanesEach) > p.Heats {
			p.LanesEach--
		}
	}
	need := shortHeats(n, lanes, p.LanesEach)
	if p.Heats != 0 && need > p.Heats {
		return p, badf("%d heats for each of %d drivers on %d lanes take %d heats, but there are %d", p.LanesEach, n, lanes, need, p.Heats)
	}
	p.Heats = need
	p.Rounds = 1
	return p, nil
}

// shortHeats is the fewest heats in which n drivers drive k times each.
func shortHeats(n, lanes, k int) int { return max(k, ceilDiv(n*k, lanes)) }

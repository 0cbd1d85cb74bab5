package rotation

// demand is how often everybody is to drive.
type demand struct {
	each  []int // driver -> heats
	heats int   // fewest heats for that, wishes aside
	full  bool  // all drive equally often and fill every seat of these heats
}

// demand settles how often everybody drives, and in how many heats at least.
func (p Problem) demand() demand {
	k := len(p.usable())
	d := demand{each: make([]int, p.Drivers)}
	column := p.Drivers * p.Rounds
	for i := range d.each {
		d.each[i] = k * p.Rounds
	}
	if p.Kind == ShortKind {
		for i := range d.each {
			d.each[i] = p.LanesEach
		}
		d.heats = p.Heats
		d.full = p.Drivers*p.LanesEach == d.heats*k
		return d
	}
	open := make([]bool, p.Lanes+1)
	for _, l := range p.usable() {
		open[l] = true
	}
	bars := make([]int, p.Lanes+1)
	for _, b := range p.Wishes.Bar {
		if open[b.Lane] {
			d.each[b.Driver-1] -= p.Rounds
			bars[b.Lane]++
		}
	}
	least := bars[p.usable()[0]]
	for _, l := range p.usable() {
		least = min(least, bars[l])
	}
	d.heats = column - least*p.Rounds
	for _, e := range d.each {
		d.heats = max(d.heats, e)
	}
	d.full = p.Drivers >= k && len(p.Wishes.Bar) == 0
	return d
}

// effort is how many moves the searches make for n drivers on k lanes: few
// where little is to be found, more for large fields.
func (p Problem) effort() (order, lanes, starts int) {
	order, lanes, starts = 12000, 8000, 4
	if p.Drivers > 16 {
		order, lanes = 40000, 30000
	}
	order, lanes = 2*order/(1+p.Rounds), 2*lanes/(1+p.Rounds) // moves take longer
	return order * p.Effort, lanes * p.Effort, starts
}

package rotation

import "sort"

// circle lists the places of the rolling rotation in driving order: lanes in
// order odd lanes up, even lanes down (for six: 1 3 5 6 4 2), and 0 for each
// sit-out place. after says behind how many lanes each sit-out place lies; nil
// puts all of them after the last lane. Common practice, no source.
func circle(lanes []int, out int, after []int) ([]int, error) {
	var order []int
	for i := 0; i < len(lanes); i += 2 {
		order = append(order, lanes[i])
	}
	for i := len(lanes) - 1; i >= 0; i-- {
		if i%2 == 1 {
			order = append(order, lanes[i])
		}
	}
	if after == nil {
		return append(order, make([]int, out)...), nil
	}
	if len(after) != out {
		return nil, badf("%d sit-out places are given, but %d drivers sit out each heat", len(after), out)
	}
	at := append([]int(nil), after...)
	sort.Ints(at)
	var places []int
	k := 0
	for i := 0; i <= len(order); i++ {
		for k < len(at) && at[k] == i {
			places = append(places, 0)
			k++
		}
		if i < len(order) {
			places = append(places, order[i])
		}
	}
	if k != len(at) {
		return nil, badf("sit-out place after lane %d of the circle: expected 0 to %d", at[k], len(order))
	}
	return places, nil
}

// Rolling gives the rotation along a fixed circle: each heat everybody moves
// one place on, for Rounds turns of the circle. Fewer drivers than lanes leave
// places of the circle empty, spread as evenly as they go. Driver 1 starts on
// the first lane of the circle, driver 2 one place behind him.
//
// Wishes are not kept; Figures.Broken counts where they are broken.
func Rolling(p Problem) (Draw, error) {
	p.Kind, p.LanesEach, p.Heats = RollingOn, 0, 0
	p, err := p.normal()
	if err != nil {
		return Draw{}, err
	}
	heats, err := roll(p)
	if err != nil {
		return Draw{}, err
	}
	d := p.finish(heats, p.Rounds)
	d.Notes = append(d.Notes, "Whoever you follow onto a lane tonight, you follow all night.")
	if d.Figures.Broken > 0 {
		d.Notes = append(d.Notes, "The rolling rotation takes no account of wishes; some are broken here.")
	}
	return d, nil
}

func roll(p Problem) ([][]int, error) {
	use := p.usable()
	places, err := circle(use, max(0, p.Drivers-len(use)), p.SitOut)
	if err != nil {
		return nil, err
	}
	m := len(places)
	who := make([]int, m) // who starts at each place, 0 for nobody
	for i := range who {
		who[i] = i + 1
	}
	if p.Drivers < m { // fewer drivers than lanes
		clear(who)
		for d := range p.Drivers {
			who[d*m/p.Drivers] = d + 1
		}
	}
	var heats [][]int
	for h := range m * p.Rounds {
		row := make([]int, p.Lanes)
		for i, lane := range places {
			if lane > 0 {
				row[lane-1] = who[((i-h)%m+m)%m]
			}
		}
		heats = append(heats, row)
	}
	return heats, nil
}

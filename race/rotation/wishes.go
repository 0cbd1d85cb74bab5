package rotation

import "fmt"

// valid checks names, lanes and heats of the wishes, each for itself; whether
// they can hold together is seen when the draw is planned.
func (w Wishes) valid(p Problem) error {
	driver := func(d int, wish string) error {
		if d < 1 || d > p.Drivers {
			return badf("wish that %s: there are drivers 1 to %d", wish, p.Drivers)
		}
		return nil
	}
	pairs := map[[2]int]bool{}
	for _, s := range w.Share {
		for _, d := range []int{s.A, s.B} {
			if err := driver(d, s.String()); err != nil {
				return err
			}
		}
		if s.A == s.B {
			return badf("wish that %s: a car is shared by two different drivers", s)
		}
		key := [2]int{min(s.A, s.B), max(s.A, s.B)}
		if pairs[key] {
			return badf("wish that %s: the pair is named twice", s)
		}
		pairs[key] = true
	}
	stay := map[int]bool{}
	for _, s := range w.Stay {
		if err := driver(s.Driver, s.String()); err != nil {
			return err
		}
		if s.From < 0 || s.Until < 0 || s.From > HeatsMax || s.Until > HeatsMax || s.Until > 0 && s.Until < s.From {
			return badf("wish that %s: expected heats from 1 to %d, the first before the last", s, HeatsMax)
		}
		if stay[s.Driver] {
			return badf("wish that %s: driver %d is named twice", s, s.Driver)
		}
		stay[s.Driver] = true
	}
	bars := map[Bar]bool{}
	for _, b := range w.Bar {
		if err := driver(b.Driver, b.String()); err != nil {
			return err
		}
		if b.Lane < 1 || b.Lane > p.Lanes {
			return badf("wish that %s: the track has lanes 1 to %d", b, p.Lanes)
		}
		if bars[b] {
			return badf("wish that %s: it is named twice", b)
		}
		bars[b] = true
	}
	if len(w.First) > p.Lanes {
		return badf("the first heat names %d drivers for %d lanes", len(w.First), p.Lanes)
	}
	seen := map[int]bool{}
	for i, d := range w.First {
		if d == 0 {
			continue
		}
		if d < 1 || d > p.Drivers {
			return badf("the first heat has driver %d on lane %d: there are drivers 1 to %d", d, i+1, p.Drivers)
		}
		if seen[d] {
			return badf("the first heat names driver %d twice", d)
		}
		seen[d] = true
		for _, c := range p.Closed {
			if c == i+1 {
				return &ContradictionError{[]string{firstWish(d, i+1)}, "that lane is closed"}
			}
		}
	}
	return nil
}

func (w Wishes) none() bool {
	return len(w.Share) == 0 && len(w.Stay) == 0 && len(w.Bar) == 0 && len(w.First) == 0
}

func firstWish(driver, lane int) string {
	return fmt.Sprintf("driver %d starts on lane %d", driver, lane)
}

// words lists all wishes in words.
func (w Wishes) words() []string {
	var out []string
	for _, s := range w.Share {
		out = append(out, s.String())
	}
	for _, s := range w.Stay {
		out = append(out, s.String())
	}
	for _, b := range w.Bar {
		out = append(out, b.String())
	}
	for l, d := range w.First {
		if d > 0 {
			out = append(out, firstWish(d, l+1))
		}
	}
	return out
}

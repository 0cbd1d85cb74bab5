package seeding

import (
	"cmp"
	"fmt"
	"math"
	"slices"

	"lanewright/race/analysis"
)

// Seed is one driver's place in a seeding by pace.
type Seed struct {
	Driver string
	Seed   int // from 1
	// Pace is what the driver's lap takes against the mean driver's, as a
	// logarithm: -0.02 is 2 % quicker. Shrunk: few stints are pulled to 0.
	Pace float64
	// SE is the standard error of Pace as a prediction; nil when stints are too
	// few to tell drivers from chance.
	SE             *float64
	Stints, Nights int
	// Ahead is the probability of being truly quicker than the next seed; nil
	// for the last, and without SE.
	Ahead *float64
}

// PaceModel says what the seeding rests on.
type PaceModel struct {
	Seeds []Seed
	// Spread is the standard deviation between drivers, Form that between nights
	// of one driver (0 when he came once), Error that of a stint; as logarithms. Nil when
	// they could not be told apart: seeds then follow unshrunk pace.
	Spread, Form, Error *float64
	LeftOut             int // stints stopped early or too short
	Note                string
}

// FromPace seeds drivers from the stints of past nights: ln of the median lap =
// night + lane (of its layout) + driver + form of the night + error; driver and
// form random, fitted by REML. newcomers have not driven yet; they are seeded at
// the mean, with the spread between drivers as their error.
//
// One class at a time: cars of different classes are not compared.
func FromPace(stints []analysis.Stint, newcomers []string) (*PaceModel, error) {
	type row struct {
		driver, night, lane string
		pace                float64
	}
	out := &PaceModel{}
	var rows []row
	class := ""
	for i, s := range stints {
		if err := s.Check(); err != nil {
			return nil, fmt.Errorf("seeding: %w", err)
		}
		if i == 0 {
			class = s.Class
		} else if s.Class != class {
			return nil, fmt.Errorf("seeding: stints of class %q and %q %w: expected one class at a time", class, s.Class, ErrBadInput)
		}
		p := analysis.Pace(s.Laps)
		if s.Early || p == nil {
			out.LeftOut++
			continue
		}
		rows = append(rows, row{s.Driver, fmt.Sprintf("%012d", s.Night), fmt.Sprintf("%s\x00%06d", s.Layout, s.Lane), *p})
	}
	slices.SortFunc(rows, func(a, b row) int {
		return cmp.Or(cmp.Compare(a.driver, b.driver), cmp.Compare(a.night, b.night), cmp.Compare(a.lane, b.lane), cmp.Compare(a.pace, b.pace))
	})
	drivers := keys(rows, func(r row) string { return r.driver })
	nights := keys(rows, func(r row) string { return r.night })
	lanes := keys(rows, func(r row) string { return r.lane })
	visits := keys(rows, func(r row) string { return r.driver + "\x00" + r.night })
	n := len(rows)
	out.Seeds = make([]Seed, len(drivers))
	for i, d := range drivers {
		out.Seeds[i].Driver = d
	}
	if n == 0 {
		out.Note = "no stint with enough laps: all are newcomers"
		out.add(newcomers)
		out.number(nil)
		return out, nil
	}
	y := make([]float64, n)
	fixed := [][]float64{make([]float64, n)}
	night, lane := blank(len(nights), n), blank(len(lanes), n)
	driver := analysis.Random{Levels: len(drivers), Level: make([]int, n)}
	visit := analysis.Random{Levels: len(visits), Level: make([]int, n)}
	seen := map[int]bool{}
	for i, r := range rows {
		y[i], fixed[0][i] = r.pace, 1
		driver.Level[i], visit.Level[i] = at(drivers, r.driver), at(visits, r.driver+"\x00"+r.night)
		night[at(nights, r.night)][i], lane[at(lanes, r.lane)][i] = 1, 1
		out.Seeds[driver.Level[i]].Stints++
		if !seen[visit.Level[i]] {
			seen[visit.Level[i]] = true
			out.Seeds[driver.Level[i]].Nights++
		}
	}
	fixed = append(append(fixed, night...), lane...)
	random := []analysis.Random{driver}
	if len(visits) > len(drivers) {
		random = append(random, visit)
	}
	fit, err := analysis.Mixed(fixed, random, y)
	if err != nil && len(random) > 1 {
		random = random[:1]
		fit, err = analysis.Mixed(fixed, random, y)
	}
	if err != nil {
		// Too little to find spreads: order by plain least squares, without
		// claiming an error.
		obs := make([]analysis.Obs, n)
		for i, r := range rows {
			obs[i] = analysis.Obs{Driver: r.driver, Lane: at(lanes, r.lane), Heat: at(nights, r.night), Y: r.pace}
		}
		plain, perr := analysis.FitLanes(obs, analysis.LaneOptions{})
		if perr != nil {
			return nil, fmt.Errorf("seeding: %w", perr)
		}
		if plain.DriverGroups > 1 {
			out.Note = "not all drivers are connected by lanes they share; seeds across the groups are a guess"
		} else {
			out.Note = "too few stints to tell drivers from chance; seeds follow plain lane-corrected pace"
		}
		for i, d := range plain.Drivers {
			out.Seeds[i].Pace = *d.Value
		}
		out.add(newcomers)
		out.number(nil)
		return out, nil
	}
	// Few who came twice cannot tell drivers from their nights. A fit by which drivers differ less than one driver's nights do would
	// make everybody nearly equal, in the order of their names, and be sure of it: then pace is taken from the drivers alone, and the
	// nights are added to the error.
	form := 0.0
	if len(random) > 1 {
		spread := fit.SD[1]
		out.Form = &spread
		if fit.SD[0] < fit.SD[1] {
			if alone, aerr := analysis.Mixed(fixed, random[:1], y); aerr == nil {
				form, fit = fit.SD[1], alone
				out.Note = "drivers cannot be told well from their nights: too few came more than once; the errors count that"
			}
		}
	}
	out.Spread, out.Error = &fit.SD[0], &fit.Residual
	byNights := func(i int) float64 { return form * form / float64(max(out.Seeds[i].Nights, 1)) }
	for i := range drivers {
		c := make([]float64, len(drivers))
		c[i] = 1
		v, se, _ := fit.Contrast(nil, [][]float64{c})
		se = math.Sqrt(se*se + byNights(i))
		out.Seeds[i].Pace, out.Seeds[i].SE = v, &se
	}
	formOf := make([]float64, len(drivers)) // Seeds are sorted before the probabilities are worked out
	for i := range drivers {
		formOf[i] = byNights(i)
	}
	out.add(newcomers)
	index := map[string]int{}
	for i, d := range drivers {
		index[d] = i
	}
	out.number(func(a, b string) float64 {
		ia, oka := index[a]
		ib, okb := index[b]
		c := make([]float64, len(drivers))
		extra := 0.0
		if oka {
			c[ia]++
			extra += formOf[ia]
		} else {
			extra += fit.SD[0] * fit.SD[0]
		}
		if okb {
			c[ib]--
			extra += formOf[ib]
		} else {
			extra += fit.SD[0] * fit.SD[0]
		}
		diff, se, _ := fit.Contrast(nil, [][]float64{c})
		se = math.Hypot(se, math.Sqrt(extra))
		if se == 0 {
			return 0.5
		}
		return math.Erfc(diff/se/math.Sqrt2) / 2 // less is quicker
	})
	return out, nil
}

// add appends newcomers at the mean.
func (m *PaceModel) add(newcomers []string) {
	for _, d := range newcomers {
		if !slices.ContainsFunc(m.Seeds, func(s Seed) bool { return s.Driver == d }) {
			m.Seeds = append(m.Seeds, Seed{Driver: d, SE: m.Spread})
		}
	}
}

// number sorts quickest first, equals by id, and fills in the probabilities.
func (m *PaceModel) number(ahead func(a, b string) float64) {
	slices.SortFunc(m.Seeds, func(a, b Seed) int {
		return cmp.Or(cmp.Compare(a.Pace, b.Pace), cmp.Compare(a.Driver, b.Driver))
	})
	for i := range m.Seeds {
		m.Seeds[i].Seed = i + 1
		if ahead != nil && i+1 < len(m.Seeds) {
			p := ahead(m.Seeds[i].Driver, m.Seeds[i+1].Driver)
			m.Seeds[i].Ahead = &p
		}
	}
}

func keys[T any](rows []T, key func(T) string) []string {
	out := make([]string, len(rows))
	for i, r := range rows {
		out[i] = key(r)
	}
	slices.Sort(out)
	return slices.Compact(out)
}

func at(sorted []string, key string) int {
	i, _ := slices.BinarySearch(sorted, key)
	return i
}

func blank(columns, n int) [][]float64 {
	out := make([][]float64, columns)
	for i := range out {
		out[i] = make([]float64, n)
	}
	return out
}

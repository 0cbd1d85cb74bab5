package speeds

import (
	"cmp"
	"fmt"
	"math"
	"slices"

	"lanewright/race/analysis"
)

// paceRow is one stint for the model.
type paceRow struct {
	driver, layout string
	lane, night    int
	pace           float64
	par            float64 // seconds, 0 for unknown
}

// paceModel is ln(lap) = lane of the layout (fixed) + driver + visit + error, or
// with par ln(lap/par) = mean + driver + layout + visit + error; all but the fixed
// part random.
type paceModel struct {
	fit      *analysis.MixedFit
	drivers  []string
	driver   int // which random factor is the driver
	hasVisit bool
	visits   *visitFit // stands in where drivers differ less than their own visits do
}

func fitPace(rows []paceRow, par bool) (*paceModel, error) {
	n := len(rows)
	if n == 0 {
		return nil, fmt.Errorf("no stint has enough laps %w: expected at least four laps in a stint", ErrBadInput)
	}
	rows = slices.Clone(rows)
	slices.SortFunc(rows, func(a, b paceRow) int {
		return cmp.Or(cmp.Compare(a.driver, b.driver), cmp.Compare(a.layout, b.layout), cmp.Compare(a.night, b.night), cmp.Compare(a.lane, b.lane), cmp.Compare(a.pace, b.pace))
	})
	lane := func(r paceRow) string { return fmt.Sprintf("%s\x00%09d", r.layout, r.lane) }
	visit := func(r paceRow) string { return fmt.Sprintf("%s\x00%s\x00%020d", r.driver, r.layout, r.night) }
	driverAt, drivers := numbered(rows, func(r paceRow) string { return r.driver })
	layoutAt, layouts := numbered(rows, func(r paceRow) string { return r.layout })
	laneAt, lanes := numbered(rows, lane)
	visitAt, visits := numbered(rows, visit)
	y := make([]float64, n)
	one := make([]float64, n)
	columns := [][]float64{one}
	for range lanes {
		columns = append(columns, make([]float64, n))
	}
	for i, r := range rows {
		y[i], one[i] = r.pace, 1
		if par {
			y[i] -= math.Log(r.par)
		}
		columns[1+laneAt[i]][i] = 1
	}
	m := &paceModel{drivers: drivers}
	random := []analysis.Random{{Level: driverAt, Levels: len(drivers)}}
	if par {
		// How wrong par is cannot be seen from two layouts.
		const layoutsMin = 3
		if len(layouts) < layoutsMin {
			return nil, fmt.Errorf("%d layouts %w: expected at least %d to see how wrong par laps are", len(layouts), ErrBadInput, layoutsMin)
		}
		// The coarser factor first: drivers may be nested in layouts.
		columns = columns[:1]
		random = append([]analysis.Random{{Level: layoutAt, Levels: len(layouts)}}, random...)
		m.driver = 1
	}
	full := append(slices.Clone(random), analysis.Random{Level: visitAt, Levels: len(visits)})
	fit, err := analysis.Mixed(columns, full, y)
	m.hasVisit = err == nil
	if err != nil {
		fit, err = analysis.Mixed(columns, random, y)
	}
	if err != nil {
		return nil, err
	}
	m.fit = fit
	if m.hasVisit && !par && fit.SD[0] < fit.SD[1] {
		if m.visits, err = newVisitFit(driverAt, visitAt, laneAt, len(drivers), len(visits), len(lanes), y, fit.SD[1], fit.Residual); err != nil {
			return nil, err
		}
	}
	return m, nil
}

func numbered(rows []paceRow, key func(paceRow) string) ([]int, []string) {
	names := make([]string, len(rows))
	for i, r := range rows {
		names[i] = key(r)
	}
	sorted := slices.Compact(slices.Sorted(slices.Values(names)))
	at := make([]int, len(rows))
	for i, k := range names {
		at[i], _ = slices.BinarySearch(sorted, k)
	}
	return at, sorted
}

func (m *paceModel) visit() *float64 {
	if !m.hasVisit {
		return nil
	}
	return known(m.fit.SD[len(m.fit.SD)-1])
}

func (m *paceModel) duel(one, other, via string) Duel {
	a, _ := slices.BinarySearch(m.drivers, one)
	b, _ := slices.BinarySearch(m.drivers, other)
	c := make([]float64, len(m.drivers))
	c[a], c[b] = 1, -1
	random := make([][]float64, m.driver+1)
	random[m.driver] = c
	v, se, _ := m.fit.Contrast(nil, random)
	if m.visits != nil {
		v, se = m.visits.contrast(a, b)
	}
	d := Duel{A: one, B: other, Log: v, SE: se, Percent: 100 * math.Expm1(v), Via: via, Quicker: 0.5}
	const z975 = 1.959963984540054
	d.Low, d.High = v-z975*se, v+z975*se
	if se > 0 {
		d.Quicker = math.Erfc(v/se/math.Sqrt2) / 2
	}
	return d
}

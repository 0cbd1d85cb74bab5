package speeds

import (
	"cmp"
	"slices"
)

// graph links drivers to the lanes of layouts they have driven.
type graph struct {
	drivers []string
	places  []place
	drove   [][]int // places of each driver, sorted
	group   []int   // component of each driver
	at      []int   // component of each place
	count   []int   // stints on each place
}

type place struct {
	layout string
	lane   int
}

func comparePlaces(a, b place) int {
	return cmp.Or(cmp.Compare(a.layout, b.layout), cmp.Compare(a.lane, b.lane))
}

func newGraph(rows []paceRow) *graph {
	g := &graph{}
	for _, r := range rows {
		g.drivers, g.places = append(g.drivers, r.driver), append(g.places, place{r.layout, r.lane})
	}
	slices.Sort(g.drivers)
	g.drivers = slices.Compact(g.drivers)
	slices.SortFunc(g.places, comparePlaces)
	g.places = slices.Compact(g.places)
	g.drove, g.count = make([][]int, len(g.drivers)), make([]int, len(g.places))
	g.group, g.at = make([]int, len(g.drivers)), make([]int, len(g.places))
	for _, r := range rows {
		d, _ := slices.BinarySearch(g.drivers, r.driver)
		p, _ := slices.BinarySearchFunc(g.places, place{r.layout, r.lane}, comparePlaces)
		g.drove[d] = append(g.drove[d], p)
		g.count[p]++
	}
	on := make([][]int, len(g.places))
	for d := range g.drove {
		slices.Sort(g.drove[d])
		g.drove[d] = slices.Compact(g.drove[d])
		for _, p := range g.drove[d] {
			on[p] = append(on[p], d)
		}
	}
	groups := 0
	for start := range g.drivers {
		if g.group[start] != 0 {
			continue
		}
		groups++
		g.group[start] = groups
		for todo := []int{start}; len(todo) > 0; {
			d := todo[len(todo)-1]
			todo = todo[:len(todo)-1]
			for _, p := range g.drove[d] {
				if g.at[p] != 0 {
					continue
				}
				g.at[p] = groups
				for _, e := range on[p] {
					if g.group[e] == 0 {
						g.group[e] = groups
						todo = append(todo, e)
					}
				}
			}
		}
	}
	return g
}

func (g *graph) find(driver string) int {
	i, _ := slices.BinarySearch(g.drivers, driver)
	return i
}

func (g *graph) connected(a, b string) bool { return g.group[g.find(a)] == g.group[g.find(b)] }

// met reports whether two drivers have driven the same lane of a layout.
func (g *graph) met(a, b string) bool {
	for _, p := range g.drove[g.find(a)] {
		if _, ok := slices.BinarySearch(g.drove[g.find(b)], p); ok {
			return true
		}
	}
	return false
}

// refusal names the one visit that would connect two drivers best: one of them to
// the layout of the other's group that has most stints (equals: by name, then the
// first driver). A layout both groups have driven, on different lanes, comes
// first: one stint there is enough.
func (g *graph) refusal(a, b string) *NotConnectedError {
	e := &NotConnectedError{A: a, B: b}
	type choice struct {
		driver string
		place  place
		shared bool
		stints int
	}
	var best *choice
	consider := func(driver, other string) {
		from, to := g.group[g.find(driver)], g.group[g.find(other)]
		stints := map[string]int{}
		known := map[string]bool{}
		for p, where := range g.places {
			if g.at[p] == to {
				stints[where.layout] += g.count[p]
			}
			if g.at[p] == from {
				known[where.layout] = true
			}
		}
		for p, where := range g.places {
			if g.at[p] != to {
				continue
			}
			c := choice{driver, where, known[where.layout], stints[where.layout]}
			better := best == nil || c.shared && !best.shared
			if !better && c.shared == best.shared {
				better = c.stints > best.stints
			}
			if better {
				best = &c
			}
		}
	}
	consider(a, b)
	consider(b, a)
	e.Visit.Driver, e.Visit.Layout = best.driver, best.place.layout
	if best.shared {
		e.Visit.Lane = best.place.lane
	}
	return e
}

package speeds

import (
	"cmp"
	"errors"
	"fmt"
	"math"
	"slices"
	"strings"
	"time"

	"lanewright/race/analysis"
)

// Cell is a driver on a layout over all his stints there.
type Cell struct {
	Driver, Layout string
	Stints, Laps   int // laps without standing starts
	Best           time.Duration
	Median         time.Duration // of all laps, standing starts left out; 0 without any
	BestMMS        *float64      // quickest lap by speed, millimetres a second; nil where no lane length is known
	ParRatio       *float64      // median over stints of par/median lap; nil where no par is known
}

// Across compares drivers of one class over layouts.
type Across struct {
	Class            string
	Drivers, Layouts []string // sorted
	Cells            []Cell   // sorted by driver, then layout

	stints []analysis.Stint
	graph  *graph
	model  *paceModel // nil when nothing could be fitted
	why    error      // why there is no model
	par    *paceModel // with par taken off, for those whom nothing else connects
}

// ErrNotConnected reports that nothing links two drivers: no chain of lanes that
// one of them and somebody else drove leads to the other.
var ErrNotConnected = errors.New("never met, and nobody links them")

// NotConnectedError names what would connect two drivers. It wraps
// [ErrNotConnected].
type NotConnectedError struct {
	A, B string
	// Visit is the one visit that would connect them: Driver to Layout, on Lane
	// when both have driven the layout but share no lane; otherwise Lane is 0.
	Visit struct {
		Driver, Layout string
		Lane           int
	}
}

func (e *NotConnectedError) Error() string {
	where := e.Visit.Layout
	if e.Visit.Lane > 0 {
		where = fmt.Sprintf("lane %d of %s", e.Visit.Lane, e.Visit.Layout)
	}
	return fmt.Sprintf("speeds: %s and %s %v: one visit of %s to %s would connect them", e.A, e.B, ErrNotConnected, e.Visit.Driver, where)
}

// Unwrap makes errors.Is find ErrNotConnected.
func (e *NotConnectedError) Unwrap() error { return ErrNotConnected }

// AcrossLayouts gathers the stints of one class. Order changes nothing.
func AcrossLayouts(stints []analysis.Stint, class string) (*Across, error) {
	a := &Across{Class: class}
	for _, s := range stints {
		if err := s.Check(); err != nil {
			return nil, fmt.Errorf("speeds: %w", err)
		}
		if s.Class == class {
			a.stints = append(a.stints, s)
		}
	}
	if len(a.stints) == 0 {
		return nil, fmt.Errorf("speeds: no stints of class %q among %d %w: expected at least one", class, len(stints), ErrBadInput)
	}
	slices.SortStableFunc(a.stints, func(x, y analysis.Stint) int {
		return cmp.Or(cmp.Compare(x.Driver, y.Driver), cmp.Compare(x.Layout, y.Layout), cmp.Compare(x.Night, y.Night), cmp.Compare(x.Heat, y.Heat), cmp.Compare(x.Lane, y.Lane))
	})
	for from := 0; from < len(a.stints); {
		to := from + 1
		for to < len(a.stints) && a.stints[to].Driver == a.stints[from].Driver && a.stints[to].Layout == a.stints[from].Layout {
			to++
		}
		a.Cells = append(a.Cells, newCell(a.stints[from:to]))
		from = to
	}
	for _, c := range a.Cells {
		a.Drivers, a.Layouts = append(a.Drivers, c.Driver), append(a.Layouts, c.Layout)
	}
	slices.Sort(a.Drivers)
	slices.Sort(a.Layouts)
	a.Drivers, a.Layouts = slices.Compact(a.Drivers), slices.Compact(a.Layouts)
	var rows []paceRow
	allPar := true
	for _, s := range a.stints {
		p := analysis.Pace(s.Laps)
		if p == nil || s.Early {
			continue
		}
		rows = append(rows, paceRow{s.Driver, s.Layout, s.Lane, s.Night, *p, s.Par.Seconds()})
		allPar = allPar && s.Par > 0
	}
	a.graph = newGraph(rows)
	a.model, a.why = fitPace(rows, false)
	if allPar {
		a.par, _ = fitPace(rows, true)
	}
	return a, nil
}

func newCell(stints []analysis.Stint) Cell {
	c := Cell{Driver: stints[0].Driver, Layout: stints[0].Layout, Stints: len(stints)}
	var laps []time.Duration
	var ratios []float64
	for _, s := range stints {
		for i, l := range s.Laps {
			if c.Best == 0 || l < c.Best {
				c.Best = l
			}
			if v := s.LaneLengthMM / l.Seconds(); s.LaneLengthMM > 0 && (c.BestMMS == nil || v > *c.BestMMS) {
				c.BestMMS = &v
			}
			if i > 0 {
				laps = append(laps, l)
			}
		}
		if p := analysis.Pace(s.Laps); p != nil && s.Par > 0 && !s.Early {
			ratios = append(ratios, s.Par.Seconds()/math.Exp(*p))
		}
	}
	c.Laps = len(laps)
	slices.Sort(laps)
	if n := len(laps); n > 0 {
		c.Median = laps[(n-1)/2] + (laps[n/2]-laps[(n-1)/2])/2
	}
	slices.Sort(ratios)
	if n := len(ratios); n > 0 {
		c.ParRatio = known((ratios[(n-1)/2] + ratios[n/2]) / 2)
	}
	return c
}

// Duel is what is known about two drivers.
type Duel struct {
	A, B string
	// Log is ln of A's lap over B's, negative where A is quicker; shrunk towards
	// 0 as far as few visits demand, unless drivers were found to differ less than
	// one driver's visits do: then it is not shrunk and SE counts the visits.
	// SE is its standard error.
	Log, SE float64
	Low     float64 // 95 % interval of Log, normal
	High    float64
	Percent float64 // A's lap against B's in per cent; negative is quicker
	Quicker float64 // probability that A is truly the quicker
	Via     string  // "met", "through others" or "par laps only"
}

// Compare compares two drivers. For those whom nothing connects, par laps of all
// lanes are used if they are known; otherwise the error is a
// [NotConnectedError].
func (a *Across) Compare(one, other string) (Duel, error) {
	for _, d := range []string{one, other} {
		if _, ok := slices.BinarySearch(a.graph.drivers, d); !ok {
			return Duel{}, fmt.Errorf("speeds: driver %s has no stint of class %q with enough laps %w: expected one of %s", d, a.Class, ErrBadInput, strings.Join(a.graph.drivers, ", "))
		}
	}
	if one == other {
		return Duel{}, fmt.Errorf("speeds: %s against himself %w: expected two drivers", one, ErrBadInput)
	}
	if a.graph.connected(one, other) {
		if a.model == nil {
			return Duel{}, fmt.Errorf("speeds: %s and %s: %w", one, other, a.why)
		}
		via := "through others"
		if a.graph.met(one, other) {
			via = "met"
		}
		return a.model.duel(one, other, via), nil
	}
	if a.par != nil {
		return a.par.duel(one, other, "par laps only"), nil
	}
	return Duel{}, a.graph.refusal(one, other)
}

// Spread returns the standard deviations behind the comparison, as logarithms:
// between drivers, between visits of one driver (nil when visits could not be told
// from stints), and of a stint. ok is false when there is no model.
func (a *Across) Spread() (driver float64, visit *float64, stint float64, ok bool) {
	if a.model == nil {
		return 0, nil, 0, false
	}
	return a.model.fit.SD[0], a.model.visit(), a.model.fit.Residual, true
}

// ParSpread returns how far par is wrong from layout to layout: the standard
// deviation of ln(lap/par) between layouts. nil without par laps on all lanes, or
// with too few layouts.
func (a *Across) ParSpread() *float64 {
	if a.par == nil {
		return nil
	}
	return known(a.par.fit.SD[0])
}

package speeds

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"time"

	"lanewright/race/analysis"
)

// Season gathers laps as they come, a stint at a time, and keeps eight bytes a lap:
// a season of a million laps fits into 10 MB and medians stay exact.
type Season struct {
	at   map[seasonKey]int
	sets []lapSet
}

type seasonKey struct{ driver, layout, class string }

type lapSet struct {
	seasonKey
	stints, starts int
	best           time.Duration
	bestLane       int
	bestNight      int
	laps           []time.Duration // standing starts left out
}

// SeasonLine is one driver with one class on one layout over a season.
type SeasonLine struct {
	Driver, Layout, Class string
	Stints, Laps          int // laps with standing starts
	Best                  time.Duration
	BestLane, BestNight   int
	Median                time.Duration // without standing starts; 0 without laps
	Mean, SD, MAD         *float64      // seconds, without standing starts
	P05, P95              *float64      // seconds, type 7
}

// Add takes one stint.
func (s *Season) Add(stint analysis.Stint) error {
	if err := stint.Check(); err != nil {
		return fmt.Errorf("speeds: %w", err)
	}
	if s.at == nil {
		s.at = map[seasonKey]int{}
	}
	k := seasonKey{stint.Driver, stint.Layout, stint.Class}
	i, ok := s.at[k]
	if !ok {
		i = len(s.sets)
		s.at[k] = i
		s.sets = append(s.sets, lapSet{seasonKey: k})
	}
	set := &s.sets[i]
	set.stints++
	if len(stint.Laps) > 0 {
		set.starts++
		set.laps = append(set.laps, stint.Laps[1:]...)
	}
	for _, l := range stint.Laps {
		// Equal laps: the earlier night, then the lower lane, whatever came first.
		if set.best == 0 || cmp.Or(cmp.Compare(l, set.best), cmp.Compare(stint.Night, set.bestNight), cmp.Compare(stint.Lane, set.bestLane)) < 0 {
			set.best, set.bestLane, set.bestNight = l, stint.Lane, stint.Night
		}
	}
	return nil
}

// Lines returns the season so far, sorted by class, layout and median, drivers
// without laps last.
func (s *Season) Lines() []SeasonLine {
	out := make([]SeasonLine, len(s.sets))
	for i := range s.sets {
		out[i] = s.sets[i].line()
	}
	slices.SortFunc(out, func(a, b SeasonLine) int {
		none := func(d time.Duration) time.Duration {
			if d == 0 {
				return math.MaxInt64
			}
			return d
		}
		return cmp.Or(cmp.Compare(a.Class, b.Class), cmp.Compare(a.Layout, b.Layout), cmp.Compare(none(a.Median), none(b.Median)), cmp.Compare(a.Driver, b.Driver))
	})
	return out
}

func (set *lapSet) line() SeasonLine {
	l := SeasonLine{Driver: set.driver, Layout: set.layout, Class: set.class, Stints: set.stints, Laps: len(set.laps) + set.starts,
		Best: set.best, BestLane: set.bestLane, BestNight: set.bestNight}
	n := len(set.laps)
	if n == 0 {
		return l
	}
	slices.Sort(set.laps)
	x := set.laps
	med := middle(x)
	l.Median = med
	// Integers about the median keep every digit.
	var sum, square float64
	for _, v := range x {
		d := (v - med).Seconds()
		sum += d
		square += d * d
	}
	mean := sum / float64(n)
	l.Mean = known(med.Seconds() + mean)
	if n > 1 {
		l.SD = known(math.Sqrt(math.Max(0, square-sum*mean) / float64(n-1)))
	}
	l.P05, l.P95 = known(quantile7(x, 0.05)), known(quantile7(x, 0.95))
	l.MAD = known(1.4826 * deviation(x, med).Seconds())
	return l
}

func middle(x []time.Duration) time.Duration {
	n := len(x)
	return x[(n-1)/2] + (x[n/2]-x[(n-1)/2])/2
}

// deviation returns the median distance from med of sorted laps, by walking
// outwards from the middle: no second sort.
func deviation(x []time.Duration, med time.Duration) time.Duration {
	right, _ := slices.BinarySearch(x, med)
	left := right - 1
	need := len(x)/2 + 1
	var last, before time.Duration
	for range need {
		before = last
		switch {
		case left < 0 || right < len(x) && x[right]-med <= med-x[left]:
			last = x[right] - med
			right++
		default:
			last = med - x[left]
			left--
		}
	}
	if len(x)%2 == 1 {
		return last
	}
	return before + (last-before)/2
}

func quantile7(x []time.Duration, p float64) float64 {
	h := float64(len(x)-1) * p
	i := int(h)
	if i+1 >= len(x) {
		return x[len(x)-1].Seconds()
	}
	return x[i].Seconds() + (h-float64(i))*(x[i+1]-x[i]).Seconds()
}

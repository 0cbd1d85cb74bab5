package score

import (
	"cmp"
	"slices"
	"time"
)

// LapMark is a lap that may be a record.
type LapMark struct {
	Layout, Class string
	Lane          int
	Driver, Car   string
	Time          time.Duration
	Order         int64 // when it was driven: any number that grows with time
}

// Record is the best lap on one lane of a layout by one class; Lane 0 stands
// for the layout's best over all lanes.
type Record struct {
	Layout, Class string
	Lane          int
	Mark          LapMark
}

// Records returns the standing records, one for each layout, class and lane and
// one for each layout and class over all lanes (lane 0, listed first). A record
// falls only to a quicker lap: who equals it later does not hold it. Equal laps
// with the same Order go to the lower driver id. Laps without a time are
// skipped. Sorted by layout, class, lane.
func Records(marks []LapMark) []Record {
	type key struct {
		layout, class string
		lane          int
	}
	best := map[key]LapMark{}
	for _, m := range marks {
		if m.Time <= 0 {
			continue
		}
		for _, lane := range []int{0, m.Lane} {
			k := key{m.Layout, m.Class, lane}
			if old, ok := best[k]; !ok || m.beats(old) {
				best[k] = m
			}
		}
	}
	out := make([]Record, 0, len(best))
	for k, m := range best {
		out = append(out, Record{k.layout, k.class, k.lane, m})
	}
	slices.SortFunc(out, func(a, b Record) int {
		return cmp.Or(cmp.Compare(a.Layout, b.Layout), cmp.Compare(a.Class, b.Class), cmp.Compare(a.Lane, b.Lane))
	})
	return out
}

// beats reports whether m holds the record rather than old.
func (m LapMark) beats(old LapMark) bool {
	return cmp.Or(cmp.Compare(m.Time, old.Time), cmp.Compare(m.Order, old.Order), cmp.Compare(m.Driver, old.Driver), cmp.Compare(m.Lane, old.Lane)) < 0
}

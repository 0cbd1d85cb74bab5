package control

import (
	"testing"
	"time"

	"lanewright/race"
)

// BenchmarkRestart folds a night of a million passes, the last heat of which is being driven.
func BenchmarkRestart(b *testing.B) {
	var records []Record
	add := func(e race.Event) {
		k, data := race.Encode(e)
		records = append(records, Record{uint64(len(records) + 1), uint16(k), int64(e.When()), data})
	}
	for _, e := range beginning(func(o *race.Opened) { o.Card.Length = time.Hour }) {
		add(e)
	}
	const heats, passes = 100, 10000
	plan := make([]race.PlannedHeat, heats)
	for i := range plan {
		plan[i].Drivers = []int{1, 2, 3, 4}
	}
	add(race.Drawn{Draw: "balanced", Heats: plan})
	p := race.Passed{Pass: race.Pass{Source: "c", Segment: 1, Sensor: 1, Raw: "$LWP,4711,1,3,123456789*5A"}}
	now := 1000 * time.Second
	for h := range heats {
		add(race.HeatStaged{Heat: h + 1})
		add(race.LampsStarted{Lamps: 5})
		add(race.Went{Source: "c", Segment: 1, At: now})
		for i := range passes {
			p.Lane, p.At, p.Serial = 1+i%4, now+time.Duration(i)*300*time.Millisecond, p.Serial+1
			p.Heard, p.Ticks = race.Wall(p.At)+1_700_000_000_000_000_000, uint64(p.At/1000)
			p.Wall = p.Heard + 300_000
			add(p)
		}
		now += 3700 * time.Second
		if h < heats-1 {
			add(race.Finished{Segment: 1, At: now})
			add(race.Accepted{Heat: h + 1})
		}
	}
	b.ReportAllocs()
	for b.Loop() {
		n := race.NewNight()
		last, err := Fold(n, func(fn func(Record) error) error {
			for _, r := range records {
				if err := fn(r); err != nil {
					return err
				}
			}
			return nil
		})
		if err != nil || n.Phase() != race.Green {
			b.Fatal(last, err, n.Phase())
		}
	}
	b.ReportMetric(float64(len(records)), "records")
}

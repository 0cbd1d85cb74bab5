package stints_test

import (
	"encoding/json"
	"math/rand/v2"
	"reflect"
	"slices"
	"testing"
	"time"

	"pgregory.net/rapid"

	"lanewright/race"
	"lanewright/race/analysis"
	"lanewright/race/stints"
	"lanewright/race/stints/evening"
)

const sec = time.Second

// plan is an invented night: drivers on three lanes of 15.0, 15.2 and 15.4 m, laps of 5 s plus a tenth a driver and half a tenth a
// lane, a second more for the standing start.
func plan(drivers ...string) evening.Plan {
	p := evening.Plan{Opened: race.Opened{Night: "n", Club: "Mill Lane", Layout: race.LayoutInfo{Name: "Saltmarsh"}, Scale: 32}}
	for _, mm := range []float64{15000, 15200, 15400} {
		p.Opened.Layout.Lanes = append(p.Opened.Layout.Lanes, race.LaneInfo{LengthMM: mm})
	}
	for _, d := range drivers {
		p.Drivers = append(p.Drivers, race.DriverAdded{Name: d, Car: d + "'s car", Class: "open"})
	}
	p.Heats = evening.Rolling(len(drivers), 3)
	p.Lap = func(heat, seat, driver, lap int) time.Duration {
		d := 5*sec + time.Duration(driver)*100*time.Millisecond + time.Duration(seat)*50*time.Millisecond
		switch lap {
		case 0:
			return 700 * time.Millisecond
		case 1:
			return d + sec
		}
		return d
	}
	return p
}

func fold(t *testing.T, p evening.Plan, ear *stints.Ear) *race.Night {
	t.Helper()
	var seen func(*race.Night, uint64, race.Pass)
	if ear != nil {
		seen = ear.Hear
	}
	n, err := p.Fold(seen)
	if err != nil {
		t.Fatal(err)
	}
	return n
}

func find(t *testing.T, f stints.Found, heat, lane int) analysis.Stint {
	t.Helper()
	for _, s := range f.Stints {
		if s.Heat == heat && s.Lane == lane {
			return s
		}
	}
	t.Fatalf("no stint in heat %d on lane %d: %+v", heat, lane, f.Left)
	return analysis.Stint{}
}

func TestANightBecomesStints(t *testing.T) {
	n := fold(t, plan("Ann", "Ben", "Cid", "Dot"), nil)
	f := stints.Of(n, stints.Options{Night: 3, Par: map[int]time.Duration{2: 4 * sec}})
	if len(f.Stints) != 12 || len(f.Left) != 0 {
		t.Fatalf("%d stints and %d left out, want 12 and none", len(f.Stints), len(f.Left))
	}
	s := find(t, f, 2, 2) // Cid: 0.7 to the line, 6.4, then laps of 5.4: 9 of them fit into 52.9 s
	want := analysis.Stint{Driver: "Cid", Night: 3, Heat: 2, Lane: 2, Layout: "Saltmarsh", Class: "open", Score: 10, LaneLengthMM: 15200, Par: 4 * sec}
	want.Laps = append([]time.Duration{6400 * time.Millisecond}, slices.Repeat([]time.Duration{5400 * time.Millisecond}, 9)...)
	if !reflect.DeepEqual(s, want) {
		t.Errorf("got  %+v\nwant %+v", s, want)
	}
	for _, s := range f.Stints {
		if err := s.Check(); err != nil {
			t.Error(err)
		}
	}
}

func TestWhatCountsForPaceAndWhatForTheScore(t *testing.T) {
	p := plan("Ann", "Ben", "Cid")
	lap := p.Lap
	p.Lap = func(heat, seat, driver, n int) time.Duration {
		switch {
		case heat == 1 && driver == 1 && n == 8: // a spin
			return lap(heat, seat, driver, n) + 3*sec
		case heat == 1 && driver == 2 && n >= 6: // never seen again
			return 0
		case heat == 2 && driver == 1: // did not start
			return 0
		}
		return lap(heat, seat, driver, n)
	}
	p.After = func(heat int, passes [][]uint64) []race.Event {
		switch heat {
		case 2: // Ben on lane 1
			return []race.Event{race.PassStruck{Heat: 2, Seat: 1, Pass: passes[0][4]}, race.LapsGiven{Heat: 2, Seat: 1, Laps: 1}}
		case 3: // Cid on lane 1, Ann on lane 2, Ben on lane 3
			return []race.Event{race.Penalised{Heat: 3, Seat: 1, Laps: 2, Hundredths: 50}, race.PartSet{Heat: 3, Seat: 2, Part: 37}, race.StintDropped{Heat: 3, Seat: 3}}
		}
		return nil
	}
	n := fold(t, p, nil)
	f := stints.Of(n, stints.Options{})
	want := []stints.Left{{1, 2, "Ben", stints.Early}, {2, 3, "Ann", stints.NoLap}, {3, 3, "Ben", stints.NotCounted}}
	if !reflect.DeepEqual(f.Left, want) {
		t.Errorf("left out %+v, want %+v", f.Left, want)
	}
	if s := find(t, f, 1, 1); s.Early || len(s.Laps) != 10 || *analysis.Pace(s.Laps) != *analysis.Pace([]time.Duration{1, 5150 * time.Millisecond, 5150 * time.Millisecond, 5150 * time.Millisecond}) {
		t.Errorf("a spin moves pace: %+v", s)
	}
	if s := find(t, f, 1, 2); !s.Early || s.Score != 5 {
		t.Errorf("a car that stopped is not early: %+v", s)
	}
	// The struck pass makes one lap of two; the given one has no time.
	if s := find(t, f, 2, 1); s.Score != 11 || s.Laps[3] != 2*5250*time.Millisecond {
		t.Errorf("struck and given: %+v", s)
	}
	if s, free := find(t, f, 3, 1), find(t, stints.Of(fold(t, plan("Ann", "Ben", "Cid"), nil), stints.Options{}), 3, 1); s.Score != free.Score-2.5 || !reflect.DeepEqual(s.Laps, free.Laps) {
		t.Errorf("a penalty: %+v, without: %+v", s, free)
	}
	if s := find(t, f, 3, 2); s.Score != 11.37 {
		t.Errorf("part lap: %+v", s)
	}
}

func TestALapWithATrackCallIsNotPace(t *testing.T) {
	p := plan("Ann", "Ben", "Cid")
	lap := p.Lap
	// The call stands from 20 to 50 s; cars stand still and are put back, so the lap takes that much longer by the counter.
	p.Lap = func(heat, seat, driver, n int) time.Duration {
		d := lap(heat, seat, driver, n)
		if heat == 1 && n == 4 {
			d += 31 * sec
		}
		return d
	}
	p.Opened.Card = race.DefaultCard()
	p.Opened.Card.Length = 100 * sec
	p.During = func(heat int) []evening.Mark {
		if heat != 1 {
			return nil
		}
		return []evening.Mark{
			{At: 20 * sec, Event: func(s int, at time.Duration) race.Event {
				return race.Held{Segment: s, At: at, Acked: true, Why: "crash"}
			}},
			{At: 49 * sec, Event: func(int, time.Duration) race.Event { return race.ResumeStarted{Lamps: 3} }},
			{At: 50 * sec, Event: func(s int, at time.Duration) race.Event { return race.Resumed{Segment: s, At: at, Acked: true} }},
		}
	}
	f := stints.Of(fold(t, p, nil), stints.Options{})
	for lane := 1; lane <= 3; lane++ {
		s := find(t, f, 1, lane)
		usual := 5*sec + time.Duration(lane)*150*time.Millisecond
		for i, l := range s.Laps[1:] {
			if l != usual {
				t.Errorf("lane %d, lap %d: %v; want only laps of %v", lane, i+2, l, usual)
			}
		}
	}
	if f.LapsSetOff != 3 {
		t.Errorf("%d laps set off, want the 3 with the call in them", f.LapsSetOff)
	}
}

func TestAnEarlyStartNeverMakesABestLap(t *testing.T) {
	p := plan("Ann", "Ben", "Cid")
	p.Opened.Card = race.DefaultCard()
	p.Opened.Card.Length, p.Opened.Card.Jump = time.Minute, "ignore"
	events := p.Events()
	n := race.NewNight()
	seq := uint64(0)
	for _, e := range events {
		if w, ok := e.(race.Went); ok { // Ann's car rolled over the line a second before go
			seq++
			if err := n.Apply(seq, e); err != nil {
				t.Fatal(err)
			}
			e = race.Passed{Pass: race.Pass{Source: "made", Segment: 1, Sensor: 1, Lane: 1, At: w.At - sec}}
		}
		seq++
		if err := n.Apply(seq, e); err != nil {
			t.Fatal(err)
		}
	}
	f := stints.Of(n, stints.Options{})
	s := find(t, f, 1, 1)
	if slices.Min(s.Laps) != 5150*time.Millisecond || s.Laps[0] != slices.Max(s.Laps[1:]) {
		t.Errorf("%v: want no lap under 5.15 s, and the slowest in the place of the start", s.Laps)
	}
}

func TestAHeatThatIsNotAccepted(t *testing.T) {
	p := plan("Ann", "Ben", "Cid")
	p.Open = true
	f := stints.Of(fold(t, p, nil), stints.Options{})
	if len(f.Stints) != 6 || len(f.Left) != 3 || f.Left[0].Why != stints.NotAccepted {
		t.Errorf("%d stints, left %+v", len(f.Stints), f.Left)
	}
}

func TestByCarAndByClass(t *testing.T) {
	p := plan("Ann", "Ben", "Cid")
	p.Drivers[2].Car, p.Drivers[2].Class = "Ann's car", "vintage"
	p.Drivers[1].Car = ""
	n := fold(t, p, nil)
	f := stints.Of(n, stints.Options{ByCar: true})
	if len(f.Stints) != 6 || f.Stints[0].Driver != "Ann's car" || len(f.Left) != 3 || f.Left[0].Why != stints.NoCar || f.Left[0].Driver != "Ben" {
		t.Errorf("by car: %+v", f)
	}
	if f := stints.Of(n, stints.Options{Class: "vintage"}); len(f.Stints) != 3 || f.Stints[0].Driver != "Cid" {
		t.Errorf("by class: %+v", f)
	}
	if got := stints.Officials(n, "open"); len(got) != 2 || got[0].Driver != "Ann" {
		t.Errorf("officials of a class: %+v", got)
	}
}

func TestStandingsAreTheOfficialOnes(t *testing.T) {
	n := fold(t, plan("Ann", "Ben", "Cid", "Dot", "Eve"), nil)
	rows := n.Standings(race.Filter{})
	o := stints.Officials(n, "")
	if len(o) != 5 {
		t.Fatalf("%d officials", len(o))
	}
	drivers := 0
	for _, g := range stints.Finishing(n, "") {
		drivers += len(g)
	}
	if drivers != 5 {
		t.Errorf("%d drivers in the finishing order", drivers)
	}
	for i, r := range rows {
		if o[i].Driver != r.Name || o[i].Place != r.Place || o[i].Laps != float64(r.Laps)+float64(r.Part)/100 {
			t.Errorf("%+v is not %+v", o[i], r)
		}
	}
}

func TestADigitalNightHasNoLanes(t *testing.T) {
	p := plan("Ann", "Ben", "Cid")
	p.Opened.Digital, p.Opened.Cars, p.Opened.ShortestMM, p.Opened.LongestMM = true, 3, 14000, 15500
	n := fold(t, p, nil)
	for _, s := range stints.Of(n, stints.Options{}).Stints {
		if s.Lane != 0 || s.LaneLengthMM != 0 || len(s.Laps) < 9 {
			t.Errorf("%+v", s)
		}
	}
	if stints.Lengths(n) != nil {
		t.Error("lanes of a digital night have a length")
	}
}

func TestTheEarLearnsTicksAndSprints(t *testing.T) {
	p := plan("Ann", "Ben", "Cid")
	p.Sensor = map[int]evening.Trap{2: {After: 0.5}, 3: {After: 0.52}}
	p.Tick = 2 * time.Millisecond
	ear := &stints.Ear{}
	n := fold(t, p, ear)
	if tick, ok := ear.Tick(); !ok || tick != 2*time.Millisecond {
		t.Errorf("tick %v, want 2 ms", tick)
	}
	found := 0
	for _, s := range ear.Sprints() {
		if s.From == 2 && s.To == 3 {
			found++
			if s.Took < 90*time.Millisecond || s.Took > 150*time.Millisecond || s.Driver != n.DriverIn(s.Heat, s.Seat) {
				t.Errorf("%+v: 2 %% of a lap of 5 to 6 s, and of %d", s, n.DriverIn(s.Heat, s.Seat))
			}
		}
	}
	laps := 0
	for _, s := range stints.Of(n, stints.Options{}).Stints {
		laps += int(s.Score)
	}
	if found != laps {
		t.Errorf("%d cars through the trap, %d laps", found, laps)
	}
	if u, all := ear.Untimed(); u != 0 || all == 0 {
		t.Errorf("%d of %d passes untimed", u, all)
	}
}

func TestTheGrainOfTimesWithoutTicks(t *testing.T) {
	ear := &stints.Ear{}
	n := race.NewNight()
	if _, ok := ear.Tick(); ok {
		t.Error("a tick without passes")
	}
	for i, ms := range []int{100, 125, 155, 200} {
		ear.Hear(n, uint64(i+1), race.Pass{Source: "c", Segment: 1, Lane: 1, At: time.Duration(ms) * time.Millisecond})
	}
	ear.Hear(n, 5, race.Pass{Source: "c", Segment: 1, Lane: 1, At: 201 * time.Millisecond, Untimed: true})
	if tick, ok := ear.Tick(); !ok || tick != 5*time.Millisecond {
		t.Errorf("%v, want 5 ms", tick)
	}
	if u, all := ear.Untimed(); u != 1 || all != 5 || !ear.ByReceipt(5) || ear.ByReceipt(4) {
		t.Errorf("%d of %d", u, all)
	}
}

// Whatever happens in a night, its stints can be analysed, and looking does not change it.
func TestAnyNightGivesStintsThatPass(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		seed := rapid.Uint64().Draw(t, "seed")
		rnd := rand.New(rand.NewPCG(seed, 1))
		p := plan([]string{"Ann", "Ben", "Cid", "Dot", "Eve", "Fay"}[:rapid.IntRange(1, 6).Draw(t, "drivers")]...)
		p.Opened.Card = race.DefaultCard()
		p.Opened.Card.Length = time.Duration(rapid.IntRange(5, 60).Draw(t, "length")) * sec
		p.Opened.Card.Grid = rapid.SampledFrom([]string{"before", "past"}).Draw(t, "grid")
		p.Opened.Digital = rapid.Bool().Draw(t, "digital")
		if p.Opened.Digital {
			p.Opened.Cars, p.Opened.ShortestMM, p.Opened.LongestMM = 3, 14000, 16000
		}
		p.Lap = func(int, int, int, int) time.Duration {
			if rnd.IntN(20) == 0 {
				return 0
			}
			return time.Duration(rnd.Int64N(int64(9 * sec)))
		}
		p.After = func(heat int, passes [][]uint64) []race.Event {
			var out []race.Event
			for i, list := range passes {
				if len(list) > 0 && rnd.IntN(3) == 0 {
					out = append(out, race.PassStruck{Heat: heat, Seat: i + 1, Pass: list[rnd.IntN(len(list))]})
				}
				if rnd.IntN(4) == 0 {
					out = append(out, race.Penalised{Heat: heat, Seat: i + 1, Laps: 1 + rnd.IntN(3)})
				}
			}
			return out
		}
		n, err := p.Fold((&stints.Ear{}).Hear)
		if err != nil {
			t.Fatal(err)
		}
		before, _ := json.Marshal(n.Report())
		f := stints.Of(n, stints.Options{Night: 1})
		again := stints.Of(n, stints.Options{Night: 1})
		if !reflect.DeepEqual(f, again) {
			t.Fatal("the same night gives other stints")
		}
		seats := 0
		for _, h := range n.Report().Heats {
			seats += len(h.Results)
		}
		early := 0
		for _, l := range f.Left {
			if l.Why == stints.Early {
				early++
			}
		}
		if len(f.Stints)+len(f.Left)-early != seats {
			t.Fatalf("%d stints and %d left out (%d of them early), %d results", len(f.Stints), len(f.Left), early, seats)
		}
		for _, s := range f.Stints {
			if err := s.Check(); err != nil {
				t.Fatal(err)
			}
		}
		if after, _ := json.Marshal(n.Report()); string(after) != string(before) {
			t.Fatal("looking changed the night")
		}
	})
}

func BenchmarkStintsOfANight(b *testing.B) {
	names := make([]string, 40)
	for i := range names {
		names[i] = string(rune('A'+i%26)) + string(rune('a'+i/26))
	}
	n, err := plan(names...).Fold(nil)
	if err != nil {
		b.Fatal(err)
	}
	b.ReportAllocs()
	for b.Loop() {
		stints.Of(n, stints.Options{})
	}
}

func TestCleanLapsHoldTheOfficialBestLap(t *testing.T) {
	p := plan("Ann", "Ben", "Cid", "Dot")
	p.After = func(heat int, _ [][]uint64) []race.Event {
		if heat == 1 {
			return []race.Event{race.StintDropped{Heat: 1, Seat: 1}}
		}
		return nil
	}
	n := fold(t, p, nil)
	laps := stints.CleanLaps(n, stints.Options{})
	best := map[string]time.Duration{}
	for _, l := range laps {
		if b := best[l.Driver]; b == 0 || l.Time < b {
			best[l.Driver] = l.Time
		}
		if l.Driver == "Ann" && l.Heat == 1 {
			t.Error("a lap of a stint that does not count")
		}
		if l.Pass == 0 || l.Number == 0 {
			t.Errorf("%+v", l)
		}
	}
	for _, r := range n.Standings(race.Filter{}) {
		if best[r.Name] != r.Best {
			t.Errorf("%s: best of the clean laps %v, official %v", r.Name, best[r.Name], r.Best)
		}
	}
}

package score

import (
	"errors"
	"fmt"
	"reflect"
	"slices"
	"testing"
	"time"

	"pgregory.net/rapid"
)

func ms(n ...int) []time.Duration {
	out := make([]time.Duration, len(n))
	for i, v := range n {
		out[i] = time.Duration(v) * time.Millisecond
	}
	return out
}

// line shows a sheet as one string, so that a table row reads like a result.
func line(rows []Row) string {
	s := ""
	for _, r := range rows {
		s += r.Place.String() + r.Driver
		if r.Decided != nil {
			s += "(" + r.Decided.String() + ")"
		}
		s += " "
	}
	return s
}

func one(driver string, s Stint) Entry { return Entry{Driver: driver, Stints: []Stint{s}} }

func TestTieChain(t *testing.T) {
	hundred := func(chain ...Tie) Rule { return Rule{Resolution: 100, Chain: chain} }
	cases := []struct {
		name    string
		rule    Rule
		entries []Entry
		want    string
	}{
		{"second-best lap 4930 against 5050 decides", hundred(TimedChain()...), []Entry{
			one("A", Stint{Laps: 40, Part: 10, BestLaps: ms(4901, 5050)}),
			one("B", Stint{Laps: 40, Part: 10, BestLaps: ms(4901, 4930)}),
		}, "1B 2A(second lap) "},
		{"identical to the end: both second, the next is fourth", hundred(TimedChain()...), []Entry{
			one("D", Stint{Laps: 39, BestLaps: ms(4800)}),
			one("C", Stint{Laps: 40, Part: 10, BestLaps: ms(4901, 4930)}),
			one("B", Stint{Laps: 40, Part: 10, BestLaps: ms(4901, 4930)}),
			one("A", Stint{Laps: 41, BestLaps: ms(5000)}),
		}, "1A 2B(total) 2C 4D(total) "},
		{"best stint before best lap", hundred(TimedChain()...), []Entry{
			{Driver: "A", Stints: []Stint{{Laps: 20, BestLaps: ms(4000)}, {Laps: 20}}},
			{Driver: "B", Stints: []Stint{{Laps: 19}, {Laps: 21, BestLaps: ms(5000)}}},
		}, "1B 2A(best stint) "},
		{"lap race: same laps, earlier last pass", Rule{Resolution: 1, Chain: LapRaceChain()}, []Entry{
			one("A", Stint{Laps: 30, LastPass: 181 * time.Second}),
			one("B", Stint{Laps: 30, LastPass: 180*time.Second + 999*time.Millisecond}),
			one("C", Stint{Laps: 29, LastPass: 179 * time.Second}),
			one("D", Stint{Laps: 0}),
		}, "1B 2A(last pass) 3C(total) 4D(total) "},
		{"whole laps first, part lap second", hundred(ByLaps, ByPart), []Entry{
			one("A", Stint{Laps: 30, Part: 20}), one("B", Stint{Laps: 30, Part: 21}), one("C", Stint{Laps: 31, Part: 0}),
		}, "1C 2B(laps) 3A(part lap) "},
		{"qualifying: best, second, third lap; no lap is last", hundred(QualifyingChain()...), []Entry{
			one("A", Stint{BestLaps: ms(4901, 4930, 5000)}),
			one("B", Stint{BestLaps: ms(4901, 4930, 4999)}),
			one("C", Stint{BestLaps: ms(4901)}),
			one("D", Stint{}),
			one("E", Stint{BestLaps: ms(4900, 9000)}),
		}, "1E 2B(best lap) 3A(next laps) 4C(next laps) 5D(best lap) "},
		{"next stints to the end", hundred(ByTotal, ByBestStint, ByNextStints), []Entry{
			{Driver: "A", Stints: []Stint{{Laps: 20}, {Laps: 10}, {Laps: 15}}},
			{Driver: "B", Stints: []Stint{{Laps: 20}, {Laps: 9}, {Laps: 16}}},
		}, "1B 2A(next stints) "},
		{"a jump start can make a score negative", hundred(ByTotal), []Entry{
			one("A", Stint{Laps: 0, Part: 52, Cost: 100}), one("B", Stint{Status: DidNotStart}),
		}, "1B 2A(total) "},
		{"disqualified stint scores nothing, stopped keeps its laps, void is not there", hundred(ByTotal, ByBestLap), []Entry{
			{Driver: "A", Stints: []Stint{{Laps: 20, Status: Stopped}, {Laps: 9, Status: Void, BestLaps: ms(1)}}},
			{Driver: "B", Stints: []Stint{{Laps: 25, Status: Disqualified, BestLaps: ms(1)}, {Laps: 20, BestLaps: ms(5000)}}},
		}, "1B 2A(best lap) "},
		{"absent and disqualified are listed without a place", hundred(ByTotal), []Entry{
			{Driver: "A", Stints: []Stint{{Laps: 50}}, Status: Disqualified},
			{Driver: "B", Status: Absent}, {Driver: "C", Status: DidNotStart},
			one("D", Stint{Laps: 1}),
		}, "1D C B A "},
		{"dense style", Rule{Resolution: 1, Chain: []Tie{ByTotal}, Style: Dense}, []Entry{
			one("A", Stint{Laps: 1}), one("B", Stint{Laps: 1}), one("C", Stint{Laps: 0}),
		}, "1A 1B 2C(total) "},
		{"heats of different length by rate: 30 laps in 180 s beat 33 in 200 s", hundred(ByRate), []Entry{
			one("A", Stint{Laps: 33, Length: 200 * time.Second}), one("B", Stint{Laps: 30, Length: 180 * time.Second}),
		}, "1B 2A(rate) "},
	}
	for _, c := range cases {
		for range 2 { // and once more in the opposite order
			rows, err := Rank(c.entries, c.rule)
			if err != nil {
				t.Errorf("%s: %v", c.name, err)
			} else if got := line(rows); got != c.want {
				t.Errorf("%s:\n got %s\nwant %s", c.name, got, c.want)
			}
			slices.Reverse(c.entries)
		}
	}
}

func TestLotIsFairAndRepeatable(t *testing.T) {
	entries := []Entry{one("A", Stint{Laps: 1}), one("B", Stint{Laps: 1}), one("C", Stint{Laps: 1})}
	won := map[string]int{}
	const draws = 3000
	for seed := range uint64(draws) {
		rule := Rule{Resolution: 100, Chain: []Tie{ByTotal, ByLot}, Lot: &seed}
		rows, err := Rank(entries, rule)
		if err != nil {
			t.Fatal(err)
		}
		if rows[1].Decided == nil || *rows[1].Decided != ByLot || rows[1].Shared {
			t.Fatalf("seed %d: %v is not decided by lot", seed, rows)
		}
		again, _ := Rank([]Entry{entries[2], entries[0], entries[1]}, rule)
		if line(again) != line(rows) {
			t.Fatalf("seed %d: %s and %s", seed, line(rows), line(again))
		}
		won[rows[0].Driver]++
	}
	// Binomial, p = 1/3: standard deviation 25.8; five of them each way.
	for _, d := range []string{"A", "B", "C"} {
		if won[d] < draws/3-129 || won[d] > draws/3+129 {
			t.Errorf("driver %s won %d of %d lots", d, won[d], draws)
		}
	}
}

func TestRankRefuses(t *testing.T) {
	card := Rule{Resolution: 100, Chain: TimedChain()}
	cases := []struct {
		name    string
		rule    Rule
		entries []Entry
	}{
		{"a driver twice", card, []Entry{{Driver: "A"}, {Driver: "A"}}},
		{"part lap of a whole lap", card, []Entry{one("A", Stint{Part: 100})}},
		{"laps out of order", card, []Entry{one("A", Stint{BestLaps: ms(5, 4)})}},
		{"a lap of no time", card, []Entry{one("A", Stint{BestLaps: ms(0)})}},
		{"a negative penalty", card, []Entry{one("A", Stint{Cost: -1})}},
		{"absurd laps", card, []Entry{one("A", Stint{Laps: 1 << 60})}},
		{"a void night", card, []Entry{{Driver: "A", Status: Void}}},
		{"an absent stint", card, []Entry{one("A", Stint{Status: Absent})}},
		{"no chain", Rule{Resolution: 100}, nil},
		{"no resolution", Rule{Chain: TimedChain()}, nil},
		{"a lot without a seed", Rule{Resolution: 100, Chain: []Tie{ByTotal, ByLot}}, nil},
		{"heats of different length", card, []Entry{one("A", Stint{Length: 180 * time.Second}), one("B", Stint{Length: 100 * time.Second})}},
		{"one heat shortened, others as on the card", card, []Entry{one("A", Stint{}), one("B", Stint{Length: 100 * time.Second})}},
		{"rate without heat length", Rule{Resolution: 100, Chain: []Tie{ByRate}}, []Entry{one("A", Stint{Laps: 3})}},
	}
	for _, c := range cases {
		if _, err := Rank(c.entries, c.rule); !errors.Is(err, ErrBadInput) {
			t.Errorf("%s: got %v, want ErrBadInput", c.name, err)
		}
	}
}

func drawEntries(t *rapid.T) []Entry {
	n := rapid.IntRange(0, 8).Draw(t, "drivers")
	out := make([]Entry, n)
	for i := range out {
		out[i].Driver = fmt.Sprintf("d%d", i)
		out[i].Status = rapid.SampledFrom([]Status{Finished, Finished, Finished, Stopped, Absent, Disqualified}).Draw(t, "night")
		for range rapid.IntRange(0, 3).Draw(t, "stints") {
			best := rapid.SliceOfN(rapid.IntRange(1, 3), 0, 3).Draw(t, "best")
			slices.Sort(best)
			out[i].Stints = append(out[i].Stints, Stint{
				Laps: rapid.IntRange(-1, 2).Draw(t, "laps"), Part: rapid.IntRange(0, 1).Draw(t, "part"),
				Cost: Parts(rapid.IntRange(0, 1).Draw(t, "cost")), BestLaps: ms(best...),
				LastPass: time.Duration(rapid.IntRange(0, 2).Draw(t, "last")),
				Status:   Status(rapid.IntRange(int(Finished), int(Disqualified)).Draw(t, "status")),
			})
		}
	}
	return out
}

func TestOrderOfEntriesAndNamesChangeNothing(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		entries := drawEntries(t)
		chain := rapid.Permutation([]Tie{ByTotal, ByLaps, ByPart, ByLastPass, ByBestStint, ByNextStints, ByBestLap, BySecondLap, ByNextLaps}).Draw(t, "chain")
		rule := Rule{Resolution: 2, Chain: chain[:rapid.IntRange(1, len(chain)).Draw(t, "steps")]}
		rows, err := Rank(entries, rule)
		if err != nil {
			t.Fatal(err)
		}
		shuffled := rapid.Permutation(entries).Draw(t, "order")
		again, err := Rank(shuffled, rule)
		if err != nil || !reflect.DeepEqual(rows, again) {
			t.Fatalf("another order of entry: %v\n%v\n%v", err, rows, again)
		}
		// Rename so that the names sort the other way round; places must follow the driver.
		place := map[string]Place{}
		for _, r := range rows {
			place[r.Driver] = r.Place
		}
		renamed := slices.Clone(entries)
		for i := range renamed {
			renamed[i].Driver = fmt.Sprintf("%c", 'z'-rune(i))
		}
		again, err = Rank(renamed, rule)
		if err != nil {
			t.Fatal(err)
		}
		for _, r := range again {
			old := fmt.Sprintf("d%d", 'z'-rune(r.Driver[0]))
			if r.Place != place[old] {
				t.Fatalf("driver %s had place %v, renamed to %s has %v", old, place[old], r.Driver, r.Place)
			}
		}
		sizes := GroupSizes(rows)
		n := 0
		for _, s := range sizes {
			n += s
		}
		for i, r := range rows {
			if (r.Place != 0) != (i < n) {
				t.Fatalf("group sizes %v do not cover the placed rows of %v", sizes, rows)
			}
		}
	})
}

func FuzzRankNeverPanics(f *testing.F) {
	f.Add("A", 40, 10, int64(0), int64(4901), 0, 100)
	f.Add("", -1, 99, int64(100), int64(-1), 7, 0)
	f.Fuzz(func(t *testing.T, driver string, laps, part int, cost, lap int64, status, resolution int) {
		e := []Entry{
			one(driver, Stint{Laps: laps, Part: part, Cost: Parts(cost), BestLaps: []time.Duration{time.Duration(lap)}, Status: Status(status)}),
			one(driver+"'", Stint{Laps: 1}),
		}
		rows, err := Rank(e, Rule{Resolution: resolution, Chain: TimedChain()})
		if err != nil {
			if !errors.Is(err, ErrBadInput) {
				t.Fatalf("error of an undeclared kind: %v", err)
			}
			return
		}
		if len(rows) != 2 {
			t.Fatalf("%d rows for 2 drivers", len(rows))
		}
	})
}

func BenchmarkRankSixtyDriversOnEightLanes(b *testing.B) {
	entries := make([]Entry, 60)
	for i := range entries {
		entries[i].Driver = fmt.Sprintf("driver %02d", i)
		for l := range 8 {
			entries[i].Stints = append(entries[i].Stints, Stint{Lane: l + 1, Laps: 30 + (i*7+l*3)%5, Part: (i * 31) % 100, BestLaps: ms(4900+i, 5000+i)})
		}
	}
	rule := Rule{Resolution: 100, Chain: TimedChain()}
	b.ReportAllocs()
	for b.Loop() {
		if _, err := Rank(entries, rule); err != nil {
			b.Fatal(err)
		}
	}
}

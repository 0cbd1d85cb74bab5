package rotation

import (
	"bytes"
	"context"
	"encoding/json"
	"reflect"
	"strings"
	"testing"
)

func TestSameSeedSameDraw(t *testing.T) {
	slow(t)
	for _, p := range []Problem{
		{Drivers: 11, Lanes: 4, Posts: 2, Seed: 42},
		{Kind: ShortKind, Drivers: 9, Lanes: 4, Heats: 6, Costs: []float64{.1, 0, .2, .3}, Seed: 1},
		{Drivers: 8, Lanes: 4, Wishes: Wishes{Share: []Share{{1, 2, false}}}},
	} {
		a, err := Make(context.Background(), p, nil)
		if err != nil {
			t.Fatal(err)
		}
		calls := 0
		b, err := Make(context.Background(), p, func(Progress) { calls++ })
		if err != nil || !reflect.DeepEqual(a, b) {
			t.Errorf("%+v: two runs differ (%v)", p, err)
		}
		if calls == 0 {
			t.Errorf("%+v: no progress was reported", p)
		}
		p.Seed += 100
		c, err := Make(context.Background(), p, nil)
		if err != nil || reflect.DeepEqual(a.Heats, c.Heats) {
			t.Errorf("%+v: another seed gives the same heats (%v)", p, err)
		}
	}
}

// The best draw so far can be taken at any time, and after cancelling it is
// what comes back.
func TestAnyTimeDraw(t *testing.T) {
	for _, p := range []Problem{{Drivers: 14, Lanes: 5, Posts: 2}, {Drivers: 5, Lanes: 3, Rounds: 2}, {Kind: ShortKind, Drivers: 7, Lanes: 4, LanesEach: 3}} {
		stages := 0
		for at := 1; at < 8; at++ {
			ctx, cancel := context.WithCancel(context.Background())
			seen := 0
			d, err := Make(ctx, p, func(x Progress) {
				seen++
				best := x.Best()
				if err := best.sound(); err != nil {
					t.Fatal(err)
				}
				if p.Kind == Balanced {
					isComplete(t, best, p)
				}
				if x.Stage == "" {
					t.Error("a stage has no name")
				}
				if seen == at {
					cancel()
				}
			})
			cancel()
			if err != nil {
				t.Fatal(err)
			}
			if err := d.sound(); err != nil {
				t.Fatal(err)
			}
			if seen < at {
				break
			}
			if !d.Cut {
				t.Errorf("%+v: cancelled at report %d, but the draw is not marked as cut", p, at)
			}
			if seen > at {
				t.Errorf("%+v: %d reports after cancelling", p, seen-at)
			}
			stages++
		}
		if stages < 2 {
			t.Errorf("%+v: only %d reports", p, stages)
		}
	}
}

// The order of importance is the order of the result: putting a criterion
// first makes it no worse.
func TestOrderOfImportanceCounts(t *testing.T) {
	slow(t)
	figure := func(d Draw, c Criterion) int64 {
		f := d.Figures
		switch c {
		case Opponents:
			return f.PairSq
		case Waiting:
			return f.Overlong*1000000 + int64(f.Wait)*10000 + f.Idle
		case Evening:
			return f.MeanSq
		}
		return f.MoveSq + f.TakeSq
	}
	p := Problem{Drivers: 10, Lanes: 4}
	first := map[Criterion]int64{}
	for _, c := range []Criterion{Opponents, Waiting, Evening, Moves} {
		p.Order = []Criterion{c}
		d, err := Make(context.Background(), p, nil)
		if err != nil {
			t.Fatal(err)
		}
		if d.Claims[0].Criterion != c {
			t.Errorf("%v comes first, but the proof begins with %v", c, d.Claims[0].Criterion)
		}
		first[c] = figure(d, c)
		for other, v := range first {
			if now := figure(d, other); other != c && now < v {
				t.Errorf("%v is %d when it comes first, but %d when %v does", other, v, now, c)
			}
		}
	}
}

func TestDrawsSurviveJSON(t *testing.T) {
	d, err := Make(context.Background(), Problem{Drivers: 3, Lanes: 4, Posts: 1, Costs: []float64{0, .1, .2, .3}, Seed: 1 << 63}, nil)
	if err != nil {
		t.Fatal(err)
	}
	text, err := json.Marshal(d)
	if err != nil {
		t.Fatal(err)
	}
	if !bytes.Contains(text, []byte("null")) || !bytes.HasPrefix(text, []byte(`{"drivers":3,"lanes":4,`)) {
		t.Errorf("unexpected JSON: %s", text)
	}
	var back Draw
	if err := json.Unmarshal(text, &back); err != nil {
		t.Fatal(err)
	}
	if !reflect.DeepEqual(d, back) {
		t.Errorf("read back:\n%+v\nwritten:\n%+v", back, d)
	}
}

func TestCSVHasOneLineForEachHeat(t *testing.T) {
	d, err := Rolling(Problem{Drivers: 3, Lanes: 2, Posts: 1})
	if err != nil {
		t.Fatal(err)
	}
	var b strings.Builder
	for _, row := range d.CSV([]string{"Ann", "Bo"}) {
		b.WriteString(strings.Join(row, ",") + "\n")
	}
	if want := "heat,lane 1,lane 2,post 1\n1,Ann,Bo,3\n2,3,Ann,Bo\n3,Bo,3,Ann\n"; b.String() != want {
		t.Errorf("got\n%swant\n%s", b.String(), want)
	}
}

func TestExplainAddsUp(t *testing.T) {
	d, err := Make(context.Background(), Problem{Drivers: 9, Lanes: 4, Posts: 2}, nil)
	if err != nil {
		t.Fatal(err)
	}
	duty, wait := 0, 0
	for _, x := range d.Explain() {
		sum := len(x.Stints)
		for _, g := range x.Gaps {
			sum += g
		}
		if sum != len(d.Heats) {
			t.Errorf("driver %d: heats and gaps add up to %d of %d", x.Driver, sum, len(d.Heats))
		}
		for _, s := range x.Stints {
			if d.Heats[s.Heat-1][s.Lane-1] != x.Driver {
				t.Errorf("driver %d is not on lane %d in heat %d", x.Driver, s.Lane, s.Heat)
			}
		}
		duty += len(x.Duty)
		wait = max(wait, x.Wait)
	}
	if duty != 2*len(d.Heats) || wait != d.Figures.Wait {
		t.Errorf("%d duties, longest wait %d; the figures say %d and %d", duty, wait, 2*len(d.Heats), d.Figures.Wait)
	}
	base, err := Baseline(Problem{Drivers: 9, Lanes: 4, Posts: 2})
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range Compare(d, base) {
		if !c.HasRolling {
			t.Errorf("%s has no figure of the rolling rotation", c.Figure)
		}
	}
}

func TestParsing(t *testing.T) {
	if got, err := ParseOrder("d, waiting"); err != nil || !reflect.DeepEqual(got, []Criterion{Moves, Waiting, Opponents, Evening, Marshals}) {
		t.Errorf("order: %v %v", got, err)
	}
	for _, bad := range []string{"speed", "a,a", "opponents,a"} {
		if _, err := ParseOrder(bad); err == nil {
			t.Errorf("order %q was taken", bad)
		}
	}
	for _, k := range []Kind{Balanced, RollingOn, ShortKind} {
		if got, err := ParseKind(k.String()); err != nil || got != k {
			t.Errorf("kind %v: %v %v", k, got, err)
		}
	}
	if _, err := ParseKind("redraw"); err == nil {
		t.Error("a re-draw is no kind of draw to ask for")
	}
}

func FuzzDrawJSON(f *testing.F) {
	d, err := Rolling(Problem{Drivers: 3, Lanes: 2, Posts: 1})
	if err != nil {
		f.Fatal(err)
	}
	text, _ := json.Marshal(d)
	f.Add(text)
	f.Add([]byte(`{"drivers":2,"lanes":1,"kind":"short","heats":[[1],[null]]}`))
	f.Add([]byte(`{"drivers":-1}`))
	f.Fuzz(func(t *testing.T, text []byte) {
		var d Draw
		if d.UnmarshalJSON(text) != nil {
			return
		}
		again, err := json.Marshal(d)
		if err != nil {
			t.Fatal(err)
		}
		var e Draw
		if err := json.Unmarshal(again, &e); err != nil {
			t.Fatalf("what was written is refused: %v\n%s", err, again)
		}
		third, _ := json.Marshal(e)
		if !bytes.Equal(again, third) {
			t.Fatalf("written twice:\n%s\n%s", again, third)
		}
		e.Explain()
		e.CSV(nil)
	})
}

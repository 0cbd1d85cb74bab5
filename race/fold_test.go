package race

import (
	"bytes"
	"encoding/json"
	"errors"
	"reflect"
	"testing"
	"time"
)

// evening is a small night for tests: lanes of 15.543 m, drivers Ann, Ben, Cid, Dot on lanes 1 to 4 of one heat.
type evening struct {
	t   *testing.T
	n   *Night
	seq uint64
	log []Event
}

func newEvening(t *testing.T, change func(*Opened)) *evening {
	card := DefaultCard()
	card.Length = time.Minute
	o := Opened{Stamp: Stamp{1}, Night: "n1", Club: "Mill Lane", Layout: LayoutInfo{Name: "oval"}, Scale: 32, Card: card, Seed: 1}
	for range 4 {
		o.Layout.Lanes = append(o.Layout.Lanes, LaneInfo{LengthMM: 15543})
	}
	if change != nil {
		change(&o)
	}
	v := &evening{t: t, n: NewNight()}
	v.do(o)
	for i, name := range []string{"Ann", "Ben", "Cid", "Dot"} {
		v.do(DriverAdded{Driver: i + 1, Name: name})
	}
	v.do(Drawn{Draw: "test", Heats: []PlannedHeat{{Drivers: []int{1, 2, 3, 4}}, {Drivers: []int{4, 3, 2, 1}}}})
	return v
}

func (v *evening) do(events ...Event) {
	v.t.Helper()
	for _, e := range events {
		v.seq++
		if err := v.n.Apply(v.seq, e); err != nil {
			v.t.Fatalf("event %d %T: %v", v.seq, e, err)
		}
		v.log = append(v.log, e)
	}
}

func (v *evening) refuse(e Event, reason error) {
	v.t.Helper()
	before, _ := json.Marshal(v.n.Snapshot(time.Unix(9, 0)))
	err := v.n.Apply(v.seq+1, e)
	var ae *ApplyError
	if !errors.As(err, &ae) || !errors.Is(err, reason) {
		v.t.Fatalf("%T: got error %v, want one that wraps %v", e, err, reason)
	}
	after, _ := json.Marshal(v.n.Snapshot(time.Unix(9, 0)))
	if !bytes.Equal(before, after) {
		v.t.Fatalf("%T was refused and yet changed the night", e)
	}
}

func (v *evening) start() {
	v.t.Helper()
	v.do(HeatStaged{Heat: v.n.NextHeat()}, LampsStarted{Lamps: 5}, Went{Source: "c", Segment: 1, At: 100 * time.Second})
}

// pass is a pass at a heat time.
func (v *evening) pass(lane int, at time.Duration) {
	v.t.Helper()
	v.do(Passed{Pass: Pass{Source: "c", Segment: 1, Sensor: 1, Lane: lane, At: 100*time.Second + at, Serial: v.seq + 1}})
}

func (v *evening) mark(at time.Duration) (int, time.Duration) { return 1, 100*time.Second + at }

const sec = time.Second

func TestUndoIsExact(t *testing.T) {
	v := newEvening(t, nil)
	v.start()
	for i := range 6 {
		v.pass(1, time.Duration(5+5*i)*sec)
		v.pass(2, time.Duration(6+5*i)*sec)
	}
	struck := v.n.at.run.seats[0].passes[2].seq
	shot := func() string {
		b, _ := json.Marshal(v.n.HeatResults(1))
		l, _ := json.Marshal(v.n.Laps(1, 1))
		return string(b) + string(l)
	}
	before := shot()
	rulings := []Event{
		LapsGiven{Heat: 1, Seat: 1, Laps: 2}, PassStruck{Heat: 1, Seat: 1, Pass: struck}, PartSet{Heat: 1, Seat: 1, Part: 52}, Penalised{Heat: 1, Seat: 2, Laps: 1, Hundredths: 50},
		PassMoved{Heat: 1, Seat: 2, To: 1, Pass: v.n.at.run.seats[1].passes[3].seq}, StintDropped{Heat: 1, Seat: 2},
	}
	states := []string{before}
	first := v.seq + 1
	for _, r := range rulings {
		v.do(r)
		states = append(states, shot())
	}
	for i := len(rulings) - 1; i >= 0; i-- {
		v.do(TakenBack{Of: first + uint64(i)})
		if got := shot(); got != states[i] {
			t.Fatalf("taking back %T: results differ from before it\n%s\n%s", rulings[i], got, states[i])
		}
	}
	for i := range rulings {
		v.do(DoneAgain{Of: first + uint64(i)})
		if got := shot(); got != states[i+1] {
			t.Fatalf("doing %T again: results differ", rulings[i])
		}
	}
}

func TestSameJournalSameNight(t *testing.T) {
	v := newEvening(t, nil)
	v.start()
	for i := range 10 {
		v.pass(1+i%4, time.Duration(2+i)*sec)
	}
	seg, at := v.mark(20 * sec)
	v.do(Held{Segment: seg, At: at, Why: "crash"}, ResumeStarted{})
	seg, at = v.mark(30 * sec)
	v.do(Resumed{Segment: seg, At: at}, LapsGiven{Heat: 1, Seat: 2, Laps: 1})
	again := NewNight()
	for i, e := range v.log {
		k, data := Encode(e)
		back, err := Decode(k, data)
		if err != nil {
			t.Fatal(err)
		}
		if !reflect.DeepEqual(back, e) {
			t.Fatalf("%T does not survive the journal:\n%+v\n%+v", e, e, back)
		}
		if err := again.Apply(uint64(i+1), back); err != nil {
			t.Fatal(err)
		}
	}
	a, _ := json.Marshal(v.n.Snapshot(time.Unix(5, 0)))
	b, _ := json.Marshal(again.Snapshot(time.Unix(5, 0)))
	if !bytes.Equal(a, b) {
		t.Fatalf("replayed night differs\n%s\n%s", a, b)
	}
}

func TestRefusals(t *testing.T) {
	v := newEvening(t, nil)
	v.refuse(Opened{}, ErrOutOfTurn)
	v.refuse(Went{}, ErrOutOfTurn)
	v.refuse(Accepted{Heat: 1}, ErrOutOfTurn)
	v.refuse(HeatStaged{Heat: 9}, ErrUnknown)
	v.refuse(DriverAdded{Driver: 5, Name: "Ann"}, ErrRule)
	v.refuse(DriverAdded{Driver: 7, Name: "Eve"}, ErrRule)
	v.refuse(LaneClosed{Lane: 5}, ErrUnknown)
	v.refuse(LapsGiven{Heat: 1, Seat: 1, Laps: 1}, ErrOutOfTurn)
	v.refuse(TakenBack{Of: 1}, ErrOutOfTurn)
	v.refuse(DoneAgain{Of: 1}, ErrOutOfTurn)
	v.refuse(CardSet{}, ErrRule)
	v.start()
	v.refuse(CardSet{Card: DefaultCard()}, ErrOutOfTurn)
	v.refuse(PassStruck{Heat: 1, Seat: 1, Pass: 77}, ErrUnknown)
	v.refuse(PartSet{Heat: 1, Seat: 1, Part: 100}, ErrRule)
	v.refuse(Answered{ID: 4}, ErrUnknown)
	v.refuse(Held{Segment: 4}, ErrRule)
	v.refuse(NightClosed{}, ErrOutOfTurn)
	v.do(endOfHeat(v)...)
	v.do(Accepted{Heat: 1}, NightClosed{})
	v.refuse(Commented{Text: "late"}, ErrOutOfTurn)
}

// endOfHeat ends the heat in hand.
func endOfHeat(v *evening) []Event {
	seg, at := v.mark(70 * sec)
	return []Event{Finished{Segment: seg, At: at}}
}

func BenchmarkFold(b *testing.B) {
	t := &testing.T{}
	v := newEvening(t, func(o *Opened) { o.Card.Length = 24 * time.Hour })
	v.start()
	p := Passed{Pass: Pass{Source: "c", Segment: 1, Sensor: 1, Raw: "$LWP,1,2,3*00"}}
	at := 100 * time.Second
	b.ReportAllocs()
	for b.Loop() {
		v.seq++
		at += time.Second + 250*time.Millisecond
		p.Lane, p.At = 1+int(v.seq%4), at
		if err := v.n.ApplyPassed(v.seq, &p); err != nil {
			b.Fatal(err)
		}
	}
	b.ReportMetric(float64(b.N)/b.Elapsed().Seconds(), "events/s")
}

func BenchmarkReadPassed(b *testing.B) {
	line := AppendPassed(nil, &Passed{Stamp{1764316800000000000}, Pass{"counter", 1, 1, 3, 0, 123456789000, 123456789, 4711, 99, false, false, 1764316800000000000, "$LWP,4711,1,3,123456789*5A"}})
	var p Passed
	b.ReportAllocs()
	for b.Loop() {
		if !ReadPassed(line, &p) {
			b.Fatal("not read")
		}
	}
}

func BenchmarkSnapshot(b *testing.B) {
	v := newEvening(&testing.T{}, nil)
	v.start()
	for i := range 100 {
		v.pass(1+i%4, time.Duration(i)*600*time.Millisecond)
	}
	b.ReportAllocs()
	for b.Loop() {
		v.n.Snapshot(time.Unix(1, 0))
	}
}

func TestPassToldTwiceCountsOnce(t *testing.T) {
	v := newEvening(t, nil)
	v.start()
	v.pass(1, sec)
	p := Passed{Pass: Pass{Source: "c", Segment: 1, Sensor: 1, Lane: 1, At: 108 * sec, Serial: 900}}
	v.do(p)
	p.Again = true
	v.do(p)
	if got := v.n.board()[0].Laps; got != 1 {
		t.Errorf("%d laps, want 1", got)
	}
	// A counter that begins to count anew without telling is another matter.
	p = Passed{Pass: Pass{Source: "c", Segment: 1, Sensor: 1, Lane: 1, At: 114 * sec, Serial: 1}}
	v.do(p)
	if got := v.n.board()[0].Laps; got != 2 {
		t.Errorf("%d laps, want 2", got)
	}
}

func TestLatePassCountsInItsHeat(t *testing.T) {
	v := newEvening(t, nil)
	v.start()
	v.pass(1, sec)
	v.do(endOfHeat(v)...)
	v.do(Accepted{Heat: 1})
	v.pass(1, 30*sec)
	v.pass(2, 80*sec) // after the end of it: of no heat
	rows := v.n.HeatResults(1)
	if rows[0].Driver != 1 || rows[0].Laps != 1 || rows[1].Laps != 0 {
		t.Errorf("results %+v", rows)
	}
	if s := v.n.Snapshot(time.Unix(1, 0)); s.Standings[0].Laps != 1 {
		t.Errorf("standings %+v", s.Standings)
	}
}

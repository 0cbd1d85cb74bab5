package race

import (
	"bytes"
	"encoding/json"
	"errors"
	"math/rand/v2"
	"testing"
	"time"
)

// FuzzDecode feeds the decoder of every kind with anything: no panic, errors that say what they are, and what is accepted encodes to
// something that decodes to the same.
func FuzzDecode(f *testing.F) {
	v := newEvening(&testing.T{}, nil)
	v.start()
	v.pass(1, sec)
	v.do(LapsGiven{Heat: 1, Seat: 1, Laps: 1, Why: "missed"}, Commented{Text: "a \"quoted\" word \\ and ünïcode"})
	for _, e := range v.log {
		k, data := Encode(e)
		f.Add(uint16(k), data)
	}
	f.Add(uint16(KindPassed), []byte(`{"wall":1,"raw":"\u0041"}`))
	f.Add(uint16(KindPassed), []byte(`{"wall":-9223372036854775808,"source":"c","segment":1,"sensor":1,"lane":1,"car":0,"at_ns":0,"ticks":18446744073709551615,"number":0,"boot":0,"untimed":true,"again":false,"heard":0,"raw":"\"\\\n"}`))
	f.Add(uint16(9999), []byte(`{}`))
	f.Fuzz(func(t *testing.T, k uint16, data []byte) {
		e, err := Decode(Kind(k), data)
		if err != nil {
			if !errors.Is(err, ErrEvent) {
				t.Fatalf("error %v does not wrap ErrEvent", err)
			}
			return
		}
		k2, again := Encode(e)
		if uint16(k2) != k {
			t.Fatalf("kind %d became %d", k, k2)
		}
		e2, err := Decode(k2, again)
		if err != nil {
			t.Fatalf("what was accepted does not decode again: %v\n%s", err, again)
		}
		if _, third := Encode(e2); !bytes.Equal(again, third) {
			t.Fatalf("does not settle:\n%s\n%s", again, third)
		}
		if !json.Valid(AppendLine(nil, 1, k2, again)) {
			t.Fatalf("event line is not JSON: %s", AppendLine(nil, 1, k2, again))
		}
		// Whatever it is, a night takes it or refuses it whole.
		n := NewNight()
		_ = n.Apply(1, e)
		n.Snapshot(time.Unix(0, 0))
	})
}

// anyEvent makes an event out of random numbers, more often one that makes sense.
func anyEvent(rnd *rand.Rand, n *Night) Event {
	lane := 1 + rnd.IntN(5)
	heat := 1 + rnd.IntN(4)
	if at, _ := n.AtLine(); at != 0 && rnd.IntN(3) > 0 {
		heat = at
	}
	if rnd.IntN(2) == 0 {
		if h := n.NextHeat(); h != 0 && n.phase == Idle {
			heat = h
		}
	}
	seg := 1 + rnd.IntN(20)/18
	at := time.Duration(rnd.IntN(90_000))*time.Millisecond + 100*time.Second
	pass := uint64(rnd.IntN(int(n.seq) + 2))
	if rnd.IntN(2) == 0 {
		if p := n.LastPassOn(heat, lane); p != 0 {
			pass = p
		}
	}
	undo, _ := n.UndoTop()
	redo, _ := n.RedoTop()
	var ask uint64
	if len(n.questions) > 0 {
		ask = n.questions[rnd.IntN(len(n.questions))].ID
	}
	s := Stamp{Wall(n.seq) * 1e9}
	switch rnd.IntN(48) {
	case 0:
		return DriverAdded{s, n.NextDriver(), string(rune('A' + rnd.IntN(26))), "", "", "", "", "", 0, 0}
	case 1:
		return DriverLeft{s, lane}
	case 2:
		return DriverBack{s, lane}
	case 3:
		return CarShared{s, lane, rnd.IntN(5)}
	case 4:
		return CarAssigned{s, lane, rnd.IntN(9)}
	case 5:
		c := DefaultCard()
		c.Length = time.Duration(rnd.IntN(90)) * time.Second
		c.AtEnd = []string{"cut", "lap"}[rnd.IntN(2)]
		c.Grid = []string{"before", "past"}[rnd.IntN(2)]
		return CardSet{s, c}
	case 6:
		d := Drawn{Stamp: s, Draw: "x", Seed: 1}
		for range rnd.IntN(4) {
			var p PlannedHeat
			for range rnd.IntN(6) {
				p.Drivers = append(p.Drivers, rnd.IntN(6))
			}
			if rnd.IntN(3) == 0 {
				p.Main, p.StepUp = "B", rnd.IntN(3)
			}
			d.Heats = append(d.Heats, p)
		}
		return d
	case 7:
		return LaneClosed{s, lane, "x"}
	case 8:
		return LaneOpened{s, lane}
	case 9, 10:
		return HeatStaged{s, heat}
	case 11, 12:
		return LampsStarted{s, 5, time.Second, 0}
	case 13:
		return StartBroken{s, "x"}
	case 14, 15:
		return Went{s, "c", seg, 100 * time.Second, true}
	case 16:
		return Held{s, seg, at, true, "", ""}
	case 17:
		return ResumeStarted{s, 3, 0}
	case 18:
		return Resumed{s, seg, at, true}
	case 19:
		return TimeUp{s, seg, at}
	case 20:
		return Finished{s, seg, at, rnd.IntN(2) == 0}
	case 21:
		return Accepted{s, heat, false}
	case 22:
		return Voided{s, heat, "x"}
	case 23:
		return SegmentBroke{s, "c", seg, seg + 1, at, at, "x"}
	case 24:
		return PracticeStarted{s}
	case 25:
		return PracticeStopped{s}
	case 26:
		return LapsGiven{s, heat, lane, rnd.IntN(3) - 1, "", ""}
	case 27:
		return PassStruck{s, heat, lane, pass, "", ""}
	case 28:
		return PassMoved{s, heat, lane, 1 + rnd.IntN(5), pass, "", ""}
	case 29:
		return PartSet{s, heat, lane, rnd.IntN(110), "", ""}
	case 30:
		return Penalised{s, heat, lane, rnd.IntN(2), rnd.IntN(100), "", ""}
	case 31:
		return StintDropped{s, heat, lane, "", ""}
	case 32:
		return Asked{s, QuestionID(heat, 1, lane, rnd.IntN(3)), heat, lane, "phantom", "x", at, pass, Proposal{[]string{"strike", "give", "move", "penalise", "drop", "?"}[rnd.IntN(6)], 1, 1 + rnd.IntN(5)}}
	case 33:
		return Answered{s, ask, rnd.IntN(2) == 0, ""}
	case 34, 35:
		return TakenBack{s, undo}
	case 36:
		return DoneAgain{s, redo}
	case 37:
		return Commented{s, lane, "x"}
	case 38:
		return PortNoted{s, "c", "lost", ""}
	default:
		return Passed{s, Pass{Source: "c", Segment: seg, Sensor: 1, Lane: lane, Car: lane, At: at, Serial: n.seq}}
	}
}

// whole checks what must hold after every event.
func whole(t *testing.T, n *Night) {
	t.Helper()
	s := n.Snapshot(time.Unix(9, 0))
	if (n.at == nil) != (s.Heat == 0) {
		t.Fatalf("phase %s with heat %d at the line", n.phase, s.Heat)
	}
	switch n.phase {
	case Staged, Lamps, Green, TrackCall, Resuming, Finishing, Finish:
		if n.at == nil {
			t.Fatalf("phase %s without a heat", n.phase)
		}
	default:
		if n.at != nil || n.live != nil {
			t.Fatalf("phase %s with a heat at the line", n.phase)
		}
	}
	for _, h := range n.heats {
		if h.run == nil {
			continue
		}
		for i := range h.run.seats {
			st := &h.run.seats[i]
			was := append([]lap(nil), st.t.laps...)
			h.run.recount(st)
			if len(was) != len(st.t.laps) {
				t.Fatalf("heat %d seat %d: %d laps, counted anew %d", h.number, i+1, len(was), len(st.t.laps))
			}
			for j := range was {
				if was[j] != st.t.laps[j] {
					t.Fatalf("heat %d seat %d lap %d: %+v, counted anew %+v", h.number, i+1, j+1, was[j], st.t.laps[j])
				}
			}
		}
	}
}

func runAny(t *testing.T, seed uint64, digital bool, steps int) {
	rnd := rand.New(rand.NewPCG(seed, 7))
	v := newEvening(t, func(o *Opened) {
		if digital {
			o.Digital, o.Cars, o.ShortestMM, o.LongestMM = true, 5, 9000, 9500
		}
	})
	for range steps {
		e := anyEvent(rnd, v.n)
		before, _ := json.Marshal(v.n.Snapshot(time.Unix(9, 0)))
		report, _ := json.Marshal(v.n.Report())
		err := v.n.Apply(v.seq+1, e)
		if err == nil {
			v.seq++
			v.log = append(v.log, e)
			whole(t, v.n)
			continue
		}
		var ae *ApplyError
		if !errors.As(err, &ae) || !errors.Is(err, ErrOutOfTurn) && !errors.Is(err, ErrUnknown) && !errors.Is(err, ErrRule) {
			t.Fatalf("seed %d: %T: error %v is none of the three", seed, e, err)
		}
		after, _ := json.Marshal(v.n.Snapshot(time.Unix(9, 0)))
		report2, _ := json.Marshal(v.n.Report())
		if !bytes.Equal(before, after) || !bytes.Equal(report, report2) {
			t.Fatalf("seed %d: %T was refused (%v) and yet changed the night\n%s\n%s", seed, e, err, before, after)
		}
	}
	again := NewNight()
	for i, e := range v.log {
		if err := again.Apply(uint64(i+1), e); err != nil {
			t.Fatalf("seed %d: replay: %v", seed, err)
		}
	}
	a, _ := json.Marshal(v.n.Report())
	b, _ := json.Marshal(again.Report())
	if !bytes.Equal(a, b) {
		t.Fatalf("seed %d: replay gives another report", seed)
	}
}

func TestAnySequenceOfEvents(t *testing.T) {
	for seed := range uint64(60) {
		runAny(t, seed, seed%4 == 3, 150)
	}
}

func FuzzApply(f *testing.F) {
	for seed := range uint64(5) {
		f.Add(seed, seed%2 == 0)
	}
	f.Fuzz(func(t *testing.T, seed uint64, digital bool) { runAny(t, seed, digital, 120) })
}

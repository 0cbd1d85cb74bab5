package control

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"strings"
	"testing"
	"time"

	"lanewright/race"
	"lanewright/timing/bench"
	"lanewright/timing/listen"
	"lanewright/timing/port"
	"lanewright/timing/tape"
)

// patience bounds waiting in tests that run in real time; it says nothing about how long anything takes.
const patience = time.Minute

// directed is a night with the bench counter in real time, much quickened, and somebody who directs it.
type directed struct {
	t   *testing.T
	ctx context.Context
	c   *Control
}

func (d *directed) wait(p race.Phase) *race.Snapshot {
	d.t.Helper()
	for {
		if s := d.c.Newest(); s != nil && s.Phase == p {
			return s
		}
		if d.ctx.Err() != nil {
			d.t.Fatalf("waiting for %s, the night is at %+v", p, d.c.Newest().Phase)
		}
		time.Sleep(time.Millisecond)
	}
}

func (d *directed) laps(lane, n int) {
	d.t.Helper()
	for d.c.Newest().Running[lane-1].Laps < n {
		if d.ctx.Err() != nil {
			d.t.Fatalf("lane %d never has %d laps", lane, n)
		}
		time.Sleep(time.Millisecond)
	}
}

// settle waits until the counter has spoken of a time well after now, so that all passes up to now are known.
func (d *directed) settle() {
	seen := func() (at time.Duration) {
		_ = d.c.Look(d.ctx, func(*race.Night) { at = d.c.desk.seen.latest })
		return at
	}
	for end := seen() + 5*time.Second; seen() < end && d.ctx.Err() == nil; {
		time.Sleep(time.Millisecond)
	}
}

func (d *directed) do(cmd race.Command) {
	d.t.Helper()
	if r := <-d.c.Do(cmd); r.Err != nil {
		d.t.Fatalf("%T: %v", cmd, r.Err)
	}
}

// direct runs a night by the given hand, and returns its report and its tape.
func direct(t *testing.T, change func(*race.Opened), hand func(*directed)) (race.Report, []tape.Entry) {
	const speed = 100
	ctx, cancel := context.WithTimeout(t.Context(), patience)
	defer cancel()
	var buf buffer
	rec := tape.NewWriter(&buf, time.Now())
	host, far := bench.Pipe()
	counter := bench.New(bench.Config{Lanes: 4, Speed: speed, Boot: 5, Laps: bench.Model(bench.Profile{}, 3), Coast: 400 * time.Millisecond, Seed: 1, Faults: bench.Faults{Phantom: 0.05, Miss: 0.03}})
	go func() { _ = counter.Run(ctx, far) }()
	src, err := listen.Listen(ctx, listen.Config{Name: "c", Speed: speed, Record: rec, Port: port.Config{Dial: func() (port.Conn, error) { return host, nil }}})
	if err != nil {
		t.Fatal(err)
	}
	c, err := New(Options{Journal: &memory{}, Counter: src, Record: rec, Begin: beginning(func(o *race.Opened) {
		o.Speed = speed
		change(o)
	}), Speed: speed})
	if err != nil {
		t.Fatal(err)
	}
	go c.Pump(src.Messages())
	run, stop := context.WithCancel(ctx)
	ended := make(chan error, 1)
	go func() { ended <- c.Run(run) }()
	d := &directed{t, ctx, c}
	d.wait(race.SignOn)
	hand(d)
	d.settle()
	rep, err := c.Report(ctx)
	if err != nil {
		t.Fatal(err)
	}
	stop()
	if err := <-ended; err != nil {
		t.Error(err)
	}
	cancel()
	_ = src.Close()
	if err := rec.Close(); err != nil {
		t.Fatal(err)
	}
	entries, err := tape.Read(&buf.Buffer)
	if err != nil {
		t.Fatal(err)
	}
	return rep, entries
}

// difference shows the first line in which two texts differ.
func difference(a, b []byte) string {
	la, lb := bytes.Split(a, []byte("\n")), bytes.Split(b, []byte("\n"))
	for i := range min(len(la), len(lb)) {
		if !bytes.Equal(la[i], lb[i]) {
			return fmt.Sprintf("line %d: %s, and not %s", i+1, la[i], lb[i])
		}
	}
	return fmt.Sprintf("%d lines, and not %d", len(la), len(lb))
}

func TestTapeOfADirectedNightGivesItsResults(t *testing.T) {
	rep, entries := direct(t, func(o *race.Opened) { o.Card.Length = 3 * time.Minute }, func(d *directed) {
		d.do(race.AddDriver{Name: "Eve"})
		d.do(race.Enter{}) // draw
		d.wait(race.Idle)
		d.do(race.Enter{}) // stage
		d.do(race.Enter{}) // start
		d.wait(race.Green)
		d.laps(1, 3)
		d.do(race.CallTrack{Why: "crash at the bridge"})
		d.wait(race.TrackCall)
		d.do(race.GiveLaps{Lane: 2, Laps: 1, Why: "missed", By: "Ann"})
		d.do(race.Enter{}) // resume
		d.wait(race.Green)
		d.laps(1, 6)
		d.do(race.StrikePass{Lane: 1})
		var pass uint64
		_ = d.c.Look(d.ctx, func(n *race.Night) { pass = n.LastPassOn(1, 3) })
		d.do(race.MovePass{Lane: 3, To: 4, Pass: pass})
		d.do(race.Undo{})
		d.do(race.Redo{})
		d.do(race.Comment{Text: "the hall is cold"})
		d.wait(race.Finish)
		d.do(race.SetPart{Lane: 1, Num: 8123})
		for _, q := range d.c.Newest().Questions {
			d.do(race.Answer{Question: q.ID, Yes: q.ID%2 == 0})
		}
		d.do(race.Enter{}) // accept
		d.do(race.DropDriver{Driver: 2})
		d.do(race.Enter{}) // draw anew
		d.wait(race.Idle)
		d.do(race.Enter{})
		d.do(race.Enter{})
		d.wait(race.Green)
		d.laps(2, 2)
		d.do(race.FinishHeat{})
		d.do(race.Undo{}) // by mistake: back to a track call
		d.do(race.Enter{})
		d.wait(race.Green)
		d.laps(2, 4)
		d.do(race.FinishHeat{})
		d.do(race.VoidHeat{Heat: 1, Why: "wrong car"})
		d.do(race.Accept{})
	})
	played, err := Replay(t.Context(), entries, ReplayOptions{})
	if err != nil {
		t.Fatal(err)
	}
	if len(played.Refused) > 0 {
		t.Errorf("refused: %v", played.Refused)
	}
	a, _ := json.MarshalIndent(rep, "", " ")
	b, _ := json.MarshalIndent(played.Night.Report(), "", " ")
	if !bytes.Equal(a, b) {
		t.Errorf("the tape gives another report: %s", difference(b, a))
	}
	// And the journal that the replay makes folds to the same.
	n := race.NewNight()
	if _, err := Fold(n, func(fn func(Record) error) error {
		for _, r := range played.Records {
			if err := fn(r); err != nil {
				return err
			}
		}
		return nil
	}); err != nil {
		t.Fatal(err)
	}
	if c, _ := json.MarshalIndent(n.Report(), "", " "); !bytes.Equal(a, c) {
		t.Errorf("the journal of the replay gives another report")
	}
}

func TestReplayRefusesWhatItCannotPlay(t *testing.T) {
	for name, text := range map[string]string{
		"an action that is none":     `{"t":1,"do":"jump"}`,
		"an event that is none":      `{"t":1,"do":"event","args":{"kind":9999,"event":{}}}`,
		"a state that is none":       `{"t":1,"src":"c","port":"sleepy"}`,
		"arguments of another shape": `{"t":1,"do":"give","args":{"Laps":"many"}}`,
	} {
		entries, err := tape.Read(strings.NewReader(`{"t":0,"tape":1,"start":"2026-03-14T19:30:00Z"}` + "\n" + text + "\n"))
		if err != nil {
			t.Fatal(err)
		}
		_, err = Replay(t.Context(), entries, ReplayOptions{Begin: beginning(nil)})
		if err == nil || !strings.Contains(err.Error(), "tape entry 2") {
			t.Errorf("%s: got %v", name, err)
		} else if strings.Contains(name, "event") && !errors.Is(err, race.ErrEvent) {
			t.Errorf("%s: %v does not wrap ErrEvent", name, err)
		}
	}
}

func TestReplayGoesOnAfterARefusal(t *testing.T) {
	entries, err := tape.Read(strings.NewReader(`{"t":0,"tape":1,"start":"2026-03-14T19:30:00Z"}
{"t":1,"do":"accept"}
{"t":2,"do":"comment","args":{"Text":"hello"}}
`))
	if err != nil {
		t.Fatal(err)
	}
	p, err := Replay(t.Context(), entries, ReplayOptions{Begin: beginning(nil)})
	if err != nil || len(p.Refused) != 1 || !strings.Contains(p.Refused[0].Error(), "tape entry 2") {
		t.Fatalf("refused %v, error %v", p.Refused, err)
	}
	if notes := p.Night.Snapshot(time.Unix(0, 0)).JustNow; len(notes) == 0 || notes[len(notes)-1].Text != "hello" {
		t.Errorf("notes %v", notes)
	}
}

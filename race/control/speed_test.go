package control

import (
	"bytes"
	"context"
	"encoding/json"
	"testing"
	"time"

	"lanewright/race"
	"lanewright/timing/bench"
	"lanewright/timing/listen"
	"lanewright/timing/port"
	"lanewright/timing/tape"
)

// playNight runs an unattended night with the bench counter over an in-process line and returns its report.
func playNight(t *testing.T, speed float64, change func(*race.Opened)) (race.Report, []tape.Entry) {
	t.Helper()
	var buf buffer
	rec := tape.NewWriter(&buf, time.Now())
	ctx, cancel := context.WithTimeout(t.Context(), time.Minute)
	defer cancel()
	host, far := bench.Pipe()
	counter := bench.New(bench.Config{Lanes: 4, Speed: speed, Boot: 5, Laps: bench.Model(bench.Profile{}, 3), Coast: 400 * time.Millisecond, Seed: 1})
	go func() { _ = counter.Run(ctx, far) }()
	src, err := listen.Listen(ctx, listen.Config{Name: "c", Speed: speed, Record: rec, Port: port.Config{Dial: func() (port.Conn, error) { return host, nil }}})
	if err != nil {
		t.Fatal(err)
	}
	c, err := New(Options{Journal: &memory{}, Counter: src, Record: rec, Begin: beginning(func(o *race.Opened) {
		o.Card.Length, o.Card.Pause = 45*time.Second, 10*time.Second
		o.Speed = speed
		if change != nil {
			change(o)
		}
	}), Unattended: true, Speed: speed})
	if err != nil {
		t.Fatal(err)
	}
	go c.Pump(src.Messages())
	ended := make(chan error, 1)
	run, stop := context.WithCancel(ctx)
	go func() { ended <- c.Run(run) }()
	select {
	case <-c.Over():
	case <-ctx.Done():
		s := c.Newest()
		t.Fatalf("the night does not end: %s, heat %d, %+v", s.Phase, s.Heat, s.JustNow)
	}
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

type buffer struct{ bytes.Buffer }

func (*buffer) Sync() error  { return nil }
func (*buffer) Close() error { return nil }

func TestSimulatedNightIsTheSameAtAnySpeed(t *testing.T) {
	for name, change := range map[string]func(*race.Opened){
		"cut":                func(o *race.Opened) {},
		"finish the lap":     func(o *race.Opened) { o.Card.AtEnd = "lap" },
		"laps":               func(o *race.Opened) { o.Card.Kind, o.Card.Laps, o.Card.AtEnd = "laps", 6, "lap" },
		"laps, cut, no look": func(o *race.Opened) { o.Card.Kind, o.Card.Laps, o.Card.AtEnd, o.Card.Coast = "laps", 6, "cut", 0 },
	} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			var first string
			for _, speed := range []float64{300, 1500} {
				rep, entries := playNight(t, speed, change)
				b, err := json.MarshalIndent(rep, "", " ")
				if err != nil {
					t.Fatal(err)
				}
				if first == "" {
					first = string(b)
				} else if first != string(b) {
					t.Errorf("the night at speed %v differs: %s", speed, difference(b, []byte(first)))
				}
				played, err := Replay(t.Context(), entries, ReplayOptions{})
				if err != nil {
					t.Fatal(err)
				}
				if again, _ := json.MarshalIndent(played.Night.Report(), "", " "); string(again) != string(b) {
					t.Errorf("the tape of the night at speed %v gives another report: %s", speed, difference(again, b))
				}
				for _, h := range rep.Heats {
					if len(h.Results) != 4 || h.Results[0].Laps < 3 {
						t.Errorf("heat %d: %+v", h.Heat, h.Results)
					}
				}
			}
		})
	}
}

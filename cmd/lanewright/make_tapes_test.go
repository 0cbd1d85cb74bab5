package main

import (
	"bytes"
	"context"
	"flag"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"sync"
	"testing"
	"testing/synctest"
	"time"

	"lanewright/race"
	"lanewright/timing/bench"
	"lanewright/timing/port"
	"lanewright/timing/wire"
)

var updateTapes = flag.Bool("update-tapes", false, "race the nights in testdata/tapes anew and write their tapes and results")

const tapesDir = "../../testdata/tapes"

// tapedNight is a night raced in fake time by a script, for testdata/tapes. laps gives the time of each lap in milliseconds; lap 0 is the way
// from the grid to the line, 0 is a car that has stopped.
type tapedNight struct {
	name    string
	what    string
	card    func(*race.Card)
	lanes   int
	drivers []string
	cars    int // of a digital night
	draw    race.MakeDraw
	laps    func(heat, lane, lap int) int
	faults  bench.Faults
	dial    func(*tapedHand) func() (port.Conn, error) // nil: the bench counter on a sound line
	format  string                                     // line description in testdata/captures
	script  func(*tapedHand)
}

// tapedHand directs such a night.
type tapedHand struct {
	t       *testing.T
	n       *tapedNight
	s       *session
	counter *bench.Counter
	line    *tapedLine
}

func (h *tapedHand) do(c race.Command) {
	h.t.Helper()
	if r := <-h.s.control.Do(c); r.Err != nil {
		h.t.Fatalf("%s: %T: %v", h.n.name, c, r.Err)
	}
}

func (h *tapedHand) enter() { h.do(race.Enter{}) }

// wait waits until the screen shows a phase.
func (h *tapedHand) wait(p race.Phase) *race.Snapshot {
	h.t.Helper()
	for range 20000 {
		if s := h.s.control.Newest(); s != nil && s.Phase == p {
			return s
		}
		time.Sleep(50 * time.Millisecond)
	}
	h.t.Fatalf("%s: waiting for %s, the night is at %s", h.n.name, p, h.s.control.Newest().Phase)
	return nil
}

// green starts the next heat and waits for go.
func (h *tapedHand) green() {
	h.wait(race.Idle)
	h.enter()
	h.enter()
	h.wait(race.Green)
}

// heats drives all heats to their end and accepts them.
func (h *tapedHand) heats(n int) {
	for range n {
		h.green()
		h.wait(race.Finish)
		h.enter()
	}
}

// tapedLine is a line to the bench counter that can be pulled, and whose counter can be exchanged for one that has been switched off and on.
type tapedLine struct {
	mu      sync.Mutex
	counter *bench.Counter
	conn    port.Conn
	out     bool
}

func (l *tapedLine) dial() (port.Conn, error) {
	l.mu.Lock()
	defer l.mu.Unlock()
	if l.out {
		return nil, os.ErrNotExist
	}
	c, err := l.counter.Dial()
	l.conn = c
	return c, err
}

func (l *tapedLine) pull(d time.Duration) {
	l.mu.Lock()
	l.out = true
	l.conn.Close()
	l.mu.Unlock()
	time.Sleep(d)
	l.mu.Lock()
	l.out = false
	l.mu.Unlock()
}

func pulled(h *tapedHand) func() (port.Conn, error) {
	h.line = &tapedLine{counter: h.counter}
	return h.line.dial
}

// carLine turns the lanes of the bench counter into cars.
type carLine struct {
	port.Conn
	dec  wire.Decoder
	rest []byte
}

func cars(h *tapedHand) func() (port.Conn, error) {
	return func() (port.Conn, error) {
		c, err := h.counter.Dial()
		return &carLine{Conn: c}, err
	}
}

func (c *carLine) Read(b []byte) (int, error) {
	if len(c.rest) == 0 {
		buf := make([]byte, len(b))
		n, err := c.Conn.Read(buf)
		if n == 0 || err != nil {
			return n, err
		}
		var s wire.Sentence
		for said := buf[:n]; len(said) > 0; {
			k, ok := c.dec.Decode(said, &s)
			said = said[k:]
			if !ok {
				continue
			}
			if s.Kind == wire.Pass {
				s.Lane, s.Car = 0, s.Lane
				c.rest = wire.Append(c.rest, &s)
			} else {
				c.rest = append(append(c.rest, s.Raw...), '\r', '\n')
			}
		}
	}
	n := copy(b, c.rest)
	c.rest = c.rest[n:]
	return n, nil
}

// gates is a counter that says a line of text for each pass and takes no orders: the times on the clock it shows begin 60 s before the night.
type gates struct {
	port.Conn
	far io.ReadWriteCloser
}

func (g *gates) pass(ms, lane int, bits bool) {
	if bits {
		_, _ = g.far.Write([]byte{0x0F &^ (1 << (4 - lane))})
		time.Sleep(3 * time.Millisecond)
		_, _ = g.far.Write([]byte{0x0F})
		return
	}
	fmt.Fprintf(g.far, "LANE %d  %d:%06.3f\r\n", lane, ms/60000, float64(ms%60000)/1000)
}

// steady drives the same laps on each lane, a little apart.
func steady(grid int, lane ...int) func(heat, l, lap int) int {
	return func(_, l, lap int) int {
		switch {
		case l > len(lane):
			return 0
		case lap == 0:
			return grid + 100*l
		}
		return lane[l-1]
	}
}

var tapedNights = []tapedNight{
	{
		name: "plain", what: "three drivers on two lanes, three heats of 30 s",
		lanes: 2, drivers: []string{"Ann Archer", "Ben Barrow", "Cid Cooper"}, draw: race.MakeDraw{Kind: "rolling", Rounds: 1},
		laps:   steady(500, 4000, 4500),
		script: func(h *tapedHand) { h.enter(); h.heats(3) },
	},
	{
		name: "track-calls", what: "a car that coasts over the line after a call, one that is pushed over it later, a call on the way back to green, a call at the lamps",
		lanes: 2, drivers: []string{"Ann Archer", "Ben Barrow"}, draw: race.MakeDraw{Kind: "rolling", Rounds: 1},
		laps: steady(500, 4000, 4500),
		script: func(h *tapedHand) {
			h.enter()
			h.wait(race.Idle)
			h.enter()
			h.enter()
			time.Sleep(time.Second)
			h.do(race.CallTrack{Why: "somebody is not ready"})
			h.wait(race.Staged)
			h.enter()
			h.wait(race.Green)
			time.Sleep(8500 * time.Millisecond)
			h.do(race.CallTrack{Why: "crash at the bridge"})
			h.wait(race.TrackCall)
			time.Sleep(5 * time.Second)
			h.enter()
			time.Sleep(400 * time.Millisecond)
			h.do(race.CallTrack{Why: "not yet"})
			h.wait(race.TrackCall)
			time.Sleep(2 * time.Second)
			h.enter()
			h.wait(race.Green)
			h.wait(race.Finish)
			h.do(race.SetPart{Lane: 1, Num: 1, Den: 4, By: "Dot"})
			h.enter()
			h.heats(1)
		},
	},
	{
		name: "doubts", what: "bounces, phantoms and missed passes; every question answered, yes and no in turn, and one answer taken back",
		lanes: 2, drivers: []string{"Ann Archer", "Ben Barrow"}, draw: race.MakeDraw{Kind: "rolling", Rounds: 1},
		laps:   steady(500, 4000, 4500),
		faults: bench.Faults{Bounce: 0.15, Phantom: 0.12, Miss: 0.08},
		script: func(h *tapedHand) {
			h.enter()
			for range 2 {
				h.green()
				s := h.wait(race.Finish)
				for i, q := range s.Questions {
					h.do(race.Answer{Question: q.ID, Yes: i%2 == 0, By: "Dot"})
				}
				if len(s.Questions) > 0 {
					h.do(race.Undo{})
					h.do(race.Redo{})
				}
				h.do(race.GiveLaps{Lane: 2, Laps: 1, Why: "seen by the marshal", By: "Dot"})
				h.enter()
			}
		},
	},
	{
		name: "unplugged", what: "the cable is out for 7 s and for 300 ms in the first heat, and between the heats; the counter says the passes again",
		lanes: 2, drivers: []string{"Ann Archer", "Ben Barrow"}, draw: race.MakeDraw{Kind: "rolling", Rounds: 1},
		laps: steady(500, 4000, 4500), dial: pulled,
		script: func(h *tapedHand) {
			h.enter()
			h.green()
			time.Sleep(6 * time.Second)
			h.line.pull(7 * time.Second)
			time.Sleep(4 * time.Second)
			h.line.pull(300 * time.Millisecond)
			h.wait(race.Finish)
			h.line.pull(3 * time.Second)
			h.enter()
			h.heats(1)
		},
	},
	{
		name: "restarted-counter", what: "the counter is switched off and on in the middle of a heat: a new clock segment, the lap across it is not timed",
		lanes: 2, drivers: []string{"Ann Archer", "Ben Barrow"}, draw: race.MakeDraw{Kind: "rolling", Rounds: 1},
		laps: steady(500, 4000, 4500), dial: pulled,
		script: func(h *tapedHand) {
			h.enter()
			h.green()
			time.Sleep(12 * time.Second)
			h.line.mu.Lock()
			c := h.n.bench()
			c.Boot, c.Start = 72, 5_000_000
			h.line.counter = bench.New(c)
			h.line.mu.Unlock()
			h.line.pull(500 * time.Millisecond)
			h.wait(race.TrackCall)
			h.enter()
			h.wait(race.Green)
			h.wait(race.Finish)
			h.enter()
			h.heats(1)
		},
	},
	{
		name: "lap-heat", what: "first to six laps from a grid past the line, the other finishes his lap",
		card: func(c *race.Card) {
			c.Kind, c.Laps, c.Length, c.AtEnd, c.Grid, c.PartOf = "laps", 6, 0, "lap", "past", 0
		},
		lanes: 2, drivers: []string{"Ann Archer", "Ben Barrow"}, draw: race.MakeDraw{Kind: "rolling", Rounds: 1},
		laps:   func(_, l, _ int) int { return []int{4000, 4500}[l-1] },
		script: func(h *tapedHand) { h.enter(); h.heats(2) },
	},
	{
		name: "finish-the-lap", what: "30 s and then everybody finishes the lap he is on; one car has stopped",
		card:  func(c *race.Card) { c.AtEnd, c.PartOf = "lap", 0 },
		lanes: 3, drivers: []string{"Ann Archer", "Ben Barrow", "Cid Cooper"}, draw: race.MakeDraw{Kind: "rolling", Rounds: 1},
		laps: func(heat, l, lap int) int {
			switch {
			case heat == 2 && l == 3 && lap == 4:
				return 0
			case lap == 0:
				return 500 + 100*l
			}
			return []int{4000, 4500, 4700}[l-1]
		},
		script: func(h *tapedHand) {
			h.enter()
			h.heats(1)
			h.green()
			h.wait(race.Finishing)
			time.Sleep(8 * time.Second)
			h.enter() // nobody waits a minute for a car that stands
			h.wait(race.Finish)
			h.enter()
			h.heats(1)
		},
	},
	{
		name: "grid-past", what: "cars past the line at the start: the first pass completes lap 1; part laps by millimetres and by call",
		card:  func(c *race.Card) { c.Grid = "past" },
		lanes: 2, drivers: []string{"Ann Archer", "Ben Barrow"}, draw: race.MakeDraw{Kind: "rolling", Rounds: 1},
		laps: func(_, l, _ int) int { return []int{4000, 4700}[l-1] },
		script: func(h *tapedHand) {
			h.enter()
			for range 2 {
				h.green()
				h.wait(race.Finish)
				h.do(race.SetPart{Lane: 1, Num: 7772, By: "Dot"})
				h.do(race.SetPart{Lane: 2, Call: 3, By: "Dot"})
				h.enter()
			}
		},
	},
	{
		name: "digital", what: "four cars told by number on shared lanes; a driver leaves, and the draw is made anew",
		lanes: 2, cars: 4, drivers: []string{"Ann Archer", "Ben Barrow", "Cid Cooper", "Dot Draper", "Eve Ember"}, draw: race.MakeDraw{Kind: "balanced", Rounds: 1},
		laps: steady(500, 4000, 4500, 4200, 4700), dial: cars,
		script: func(h *tapedHand) {
			h.enter()
			h.heats(1)
			h.wait(race.Idle)
			h.do(race.DropDriver{Driver: 2})
			h.enter()
			h.heats(1)
		},
	},
	{
		name: "described", what: "a counter with lines of text, a clock and no orders: go and end by this computer's clock",
		card:  func(c *race.Card) { c.Power = false },
		lanes: 2, drivers: []string{"Ann Archer", "Ben Barrow"}, draw: race.MakeDraw{Kind: "rolling", Rounds: 1},
		format: "shed-text.toml",
		script: func(h *tapedHand) { h.enter(); h.byGates(); h.byGates() },
	},
	{
		name: "arrival", what: "a counter of gates without any clock: times of receipt, hundredths at most",
		card:  func(c *race.Card) { c.Power = false },
		lanes: 2, drivers: []string{"Ann Archer", "Ben Barrow"}, draw: race.MakeDraw{Kind: "rolling", Rounds: 1},
		format: "garage-bits.toml",
		script: func(h *tapedHand) { h.enter(); h.byGates(); h.byGates() },
	},
	{
		name: "two-runs", what: "the program is ended in the middle of a heat and started again 5 s later; passes of meanwhile are said again",
		lanes: 2, drivers: []string{"Ann Archer", "Ben Barrow"}, draw: race.MakeDraw{Kind: "rolling", Rounds: 1},
		laps: steady(500, 4000, 4500),
		script: func(h *tapedHand) {
			h.enter()
			h.green()
			time.Sleep(9 * time.Second)
			h.again(5 * time.Second)
			h.wait(race.Finish)
			h.enter()
			h.heats(1)
		},
	},
}

// bench is the counter of the night.
func (n *tapedNight) bench() bench.Config {
	return bench.Config{Lanes: max(n.lanes, n.cars), Boot: 71, Coast: 800 * time.Millisecond, Seed: 5, Faults: n.faults,
		Laps: func(heat, lane, lap int) time.Duration {
			return time.Duration(n.laps(heat, lane, lap)) * time.Millisecond
		}}
}

// begin is what the night begins with.
func (n *tapedNight) begin() []race.Event {
	card := race.DefaultCard()
	card.Length, card.Countdown, card.HoldMax, card.ResumeIn, card.Power = 30*time.Second, 2*time.Second, 0, time.Second, true
	if n.card != nil {
		n.card(&card)
	}
	o := race.Opened{Night: n.name, Club: "Mill Lane Slot Racers", Title: n.what, Layout: race.LayoutInfo{Name: "millpond oval"}, Scale: 32, Card: card, Seed: 3, Counter: "counter"}
	for l := range n.lanes {
		mm := 15543 + 600*float64(l)
		o.Layout.Lanes = append(o.Layout.Lanes, race.LaneInfo{LengthMM: mm, CallsMM: []float64{0, mm / 4, mm / 2, 3 * mm / 4}})
	}
	if n.cars > 0 {
		o.Digital, o.Cars, o.ShortestMM, o.LongestMM = true, n.cars, 15543, 16143
	}
	events := []race.Event{o}
	for i, name := range n.drivers {
		events = append(events, race.DriverAdded{Driver: i + 1, Name: name})
	}
	return events
}

// open runs the program.
func (h *tapedHand) open(dir string) {
	set := setting{storePath: filepath.Join(dir, "club.lw"), night: h.n.name, begin: h.n.begin(), first: h.n.draw, counter: "counter",
		tapePath: filepath.Join(dir, h.n.name+".tape")}
	switch {
	case h.n.format != "":
		d, err := readDescription(filepath.Join("../../testdata/captures", h.n.format))
		if err != nil {
			h.t.Fatal(err)
		}
		set.format = d
		set.port = &port.Config{Name: "gates", Dial: h.gates()}
	case h.n.dial != nil:
		set.port = &port.Config{Name: "bench", Dial: h.n.dial(h)}
	default:
		set.port = &port.Config{Name: "bench", Dial: h.counter.Dial}
	}
	s, err := openSession(context.Background(), set)
	if err != nil {
		h.t.Fatal(err)
	}
	h.s = s
	h.wait(h.phase())
}

func (h *tapedHand) phase() race.Phase {
	for h.s.control.Newest() == nil {
		time.Sleep(time.Millisecond)
	}
	return h.s.control.Newest().Phase
}

// again ends the program and starts it anew.
func (h *tapedHand) again(d time.Duration) {
	path := filepath.Dir(h.s.storePath)
	if err := h.s.close(); err != nil {
		h.t.Fatal(err)
	}
	time.Sleep(d)
	h.open(path)
}

var theGates gates

func (h *tapedHand) gates() func() (port.Conn, error) {
	return func() (port.Conn, error) {
		host, far := bench.Pipe()
		theGates = gates{host, far}
		return host, nil
	}
}

// byGates drives a heat that nobody but the gates times: lane 1 every 4 s, lane 2 every 4.5 s.
func (h *tapedHand) byGates() {
	h.green()
	bits := h.n.format == "garage-bits.toml"
	if bits {
		_, _ = theGates.far.Write([]byte{0x0F}) // nothing is in the gates
	}
	for ms := 600; ms < 30_000; ms += 50 {
		time.Sleep(50 * time.Millisecond)
		now := int(time.Since(tapesBegin).Milliseconds()) + 60_000
		if (ms-600)%4000 == 0 {
			theGates.pass(now, 1, bits)
		}
		if (ms-700)%4500 == 0 {
			theGates.pass(now+3, 2, bits)
		}
	}
	h.wait(race.Finish)
	h.enter()
}

// tapesBegin is when all these nights begin.
var tapesBegin = time.Date(2026, 3, 14, 19, 30, 0, 0, time.UTC)

// TestMakeTapes races the nights anew with -update-tapes and writes their tapes, and beside them the results of the live nights: what a
// replay must print.
func TestMakeTapes(t *testing.T) {
	if !*updateTapes {
		t.Skip("only with -update-tapes")
	}
	for i := range tapedNights {
		n := &tapedNights[i]
		t.Run(n.name, func(t *testing.T) {
			dir := t.TempDir()
			synctest.Test(t, func(t *testing.T) {
				time.Sleep(time.Until(tapesBegin))
				h := &tapedHand{t: t, n: n, counter: bench.New(n.bench())}
				h.open(dir)
				time.Sleep(2 * time.Second)
				n.script(h)
				time.Sleep(5 * time.Second)
				report, err := h.s.control.Report(context.Background())
				if err != nil {
					t.Fatal(err)
				}
				if err := h.s.close(); err != nil {
					t.Fatal(err)
				}
				var out bytes.Buffer
				if err := printJSON(&out, resultsOf(report)); err != nil {
					t.Fatal(err)
				}
				text, err := os.ReadFile(filepath.Join(dir, n.name+".tape"))
				if err != nil {
					t.Fatal(err)
				}
				for path, b := range map[string][]byte{".tape": text, ".json": out.Bytes()} {
					if err := os.WriteFile(filepath.Join(tapesDir, n.name+path), b, 0o644); err != nil {
						t.Fatal(err)
					}
				}
			})
		})
	}
}

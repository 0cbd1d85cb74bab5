package tui

import (
	"context"
	"errors"
	"fmt"
	"time"

	tea "charm.land/bubbletea/v2"

	"lanewright/race"
)

// An invented club on an invented evening: what the tests and the pictures of the README show.

var evening = time.Date(2031, time.March, 6, 20, 14, 7, 0, time.UTC)

var clubNames = []string{"Zoë Winter", "Bram Okafor", "Ines Łapicka", "Juro Takeda", "Marla Quist", "Ömer Aydın", "陳大文", "Tilda Brandt-Sørensen van der Meulen", "Pip", "Юрий Вольский", "Noa Ferrand", "Wim Achterberg"}

func ms(n int) time.Duration { return time.Duration(n) * time.Millisecond }

// clubNight returns a night of the club with so many lanes, in a phase.
func clubNight(lanes int, phase race.Phase) *race.Snapshot {
	s := &race.Snapshot{Seq: 812, Taken: evening, Night: "n1", Title: "Thursday, round 3", Club: "Harbour Lane Club", Layout: "Long Harbour", Scale: 32, Phase: phase,
		Card: race.Card{Kind: "timed", Length: 3 * time.Minute, LapMin: 2 * time.Second, Coast: ms(500), Grid: "before", AtEnd: "cut", PartOf: 100, Jump: "ask", Countdown: 5 * time.Second, PlaceStyle: "standard", PointsShared: "equal", Posts: 4, Power: true},
		Heat: 4, Heats: 12, Counter: race.CounterState{Source: 1, Name: "bench", State: "talking", Passes: 412}, Undo: "lap given to lane 3",
		Clock: race.Clock{Ticking: phase == race.Green || phase == race.Finishing, AsOf: evening, Elapsed: 97 * time.Second, Length: 3 * time.Minute}}
	s.Next, s.NextKey = map[race.Phase][2]string{
		race.SignOn: {"make the rotation", "draw"}, race.Idle: {"call heat 4 to the line", "stage"}, race.Staged: {"start heat 4", "start"},
		race.TrackCall: {"go on with heat 4", "resume"}, race.Finish: {"accept heat 4", "accept"},
	}[phase][0], map[race.Phase]string{race.SignOn: "draw", race.Idle: "stage", race.Staged: "start", race.TrackCall: "resume", race.Finish: "accept"}[phase]
	if phase == race.Lamps {
		s.Clock.Elapsed, s.Clock.Lamps, s.Clock.LampsOf, s.Clock.Until = 0, 3, 5, evening.Add(2*time.Second)
	}
	for i := 1; i <= lanes; i++ {
		s.Lanes = append(s.Lanes, race.LaneState{Lane: i, Name: fmt.Sprint("Lane ", i), LengthMM: 14212.3 + 188.5*float64(i), Lit: evening.Add(-time.Duration(i) * 1500 * time.Millisecond)})
	}
	for i, n := range clubNames {
		s.Entries = append(s.Entries, race.EntryRow{Driver: i + 1, Name: n, Short: string([]rune(n)[:2]), Class: []string{"club", "open"}[i%2], Car: []string{"Heron", "Kestrel", "Plover"}[i%3], HeatsRun: 1 + i%2, HeatsToo: 3 - i%2, Away: i == 8})
		s.Standings = append(s.Standings, race.ResultRow{Place: i + 1, Driver: i + 1, Name: n, Class: []string{"club", "open"}[i%2], Laps: 66 - i, Part: (i * 37) % 100, PartOf: 100, Best: ms(4980 + 41*i), Heats: 2, Gap: []string{"-", "+1 lap"}[min(i, 1)], ByLane: []int{33 - i, -1, 33, -1}})
	}
	s.Standings[3].Place, s.Standings[3].Shared, s.Standings[2].Shared, s.Standings[3].Reason = 3, true, true, "level in laps, part and best lap"
	between := phase == race.SignOn || phase == race.Idle || phase == race.Over || phase == race.Practice
	if between {
		s.Heat, s.Clock.Elapsed = 0, 0
	}
	for h := 1; h <= 12; h++ {
		row := race.HeatRow{Heat: h, State: "ahead"}
		if h < 4 || phase == race.Over {
			row.State = "run"
		}
		if h == 4 && !between {
			row.State = "at the line"
		}
		for l := range lanes {
			d := (h*3 + l*5) % len(clubNames)
			row.Drivers, row.Names = append(row.Drivers, d+1), append(row.Names, clubNames[d])
		}
		for p := range 4 {
			row.Marshals = append(row.Marshals, clubNames[(h*3+p*5+2)%len(clubNames)])
		}
		s.Ahead = append(s.Ahead, row)
	}
	s.Draw = race.DrawInfo{Kind: "balanced", Seed: 7, Proof: "everybody on every lane once", Lines: []string{"meetings of two drivers: 1 to 2", "longest wait: 3 heats", "marshal duties: 3 to 4"}}
	if phase != race.SignOn && phase != race.Idle && phase != race.Over {
		for i := 1; i <= lanes; i++ {
			d := (12 + (i-1)*5) % len(clubNames)
			row := race.LaneRow{Lane: i, Driver: d + 1, Name: clubNames[d], Car: []string{"Heron", "Kestrel", "Plover"}[i%3], Part: -1, PartOf: 100, Digits: 3, Timed: true}
			if phase != race.Staged && phase != race.Lamps {
				row.Laps, row.Place, row.Last, row.Best, row.Median = 19-i%5, i, ms(5301+13*i), ms(5003+31*i), ms(5200+20*i)
				row.Behind, row.Gap, row.GapKnown, row.KmhScale = max(0, i-2), ms(482*(i-1)), i == 2, 311.4-float64(i)
				row.Passes, row.LastPass = row.Laps+1, evening.Add(-time.Duration(i)*ms(350))
				for k := range row.Laps {
					row.Recent = append(row.Recent, ms(5100+30*i+(k*k*37+i*101)%400))
				}
			}
			s.Running = append(s.Running, row)
		}
		if lanes >= 3 && phase != race.Staged && phase != race.Lamps {
			s.Running[2].Open = 1
			s.Questions = []race.Question{
				{ID: 700, Heat: 4, Lane: 2, Driver: s.Running[1].Name, Kind: "too quick", Text: "a lap of 1.204 s is too quick", Proposal: "strike out the pass", At: 40 * time.Second},
				{ID: 731, Heat: 4, Lane: 3, Driver: s.Running[2].Name, Kind: "missed", Text: "10.8 s without a pass: two laps in one?", Proposal: "give lane 3 a lap", At: 90 * time.Second},
			}
		}
	}
	s.Rulings = []race.RulingRow{{ID: 600, Heat: 3, Lane: 1, Driver: "Pip", Text: "lap given", By: "race director", Why: "put back past the line", Wall: evening.Add(-9 * time.Minute)},
		{ID: 640, Heat: 3, Lane: 2, Driver: "Noa Ferrand", Text: "pass struck out", Undone: true, Wall: evening.Add(-8 * time.Minute)},
		{ID: 803, Heat: 4, Lane: 3, Driver: "Marla Quist", Text: "lap given", Wall: evening.Add(-9 * time.Second)}}
	for i, t := range []string{"heat 4: lamps", "heat 4: go", "lane 2: a lap of 1.204 s is too quick", "lane 4: 5.127, best of the heat", "track call", "going on", "lap given to lane 3"} {
		s.JustNow = append(s.JustNow, race.NoteRow{Seq: uint64(800 + i), Wall: evening.Add(time.Duration(i*13-90) * time.Second), Text: t, Bad: i == 2})
	}
	for i := range 4 {
		s.Last = append(s.Last, race.ResultRow{Place: i + 1, Driver: i + 1, Name: clubNames[i], Class: "club", Laps: 33 - i, Part: 42 - i, PartOf: 100, Best: ms(5003 + 31*i), Gap: []string{"-", "+0.97", "+1.98", "+2.99"}[i], Reason: []string{"", "", "last pass earlier", ""}[i]})
		s.Bests = append(s.Bests, race.BestRow{Driver: i + 1, Name: clubNames[i], Lane: i + 1, Best: ms(4980 + 41*i), Laps: 40 - i, Kmh: 331.2})
	}
	return s
}

// digitalNight returns a night on which cars share the lanes.
func digitalNight(cars int, phase race.Phase) *race.Snapshot {
	s := clubNight(cars, phase)
	s.Digital = true
	for _, l := range s.Running {
		s.Cars = append(s.Cars, race.CarRow{Car: l.Lane, LaneRow: l, LengthFrom: 14212, LengthTo: 14730})
	}
	s.Running, s.Lanes = nil, s.Lanes[:2]
	return s
}

// steward takes commands: it remembers them, and plays the simplest night that the screens can be tested on.
type steward struct {
	feed *Feed
	s    *race.Snapshot
	got  []race.Command
	full bool
	deaf bool // never answers
}

func (c *steward) Do(cmd race.Command) <-chan race.Reply {
	if c.full {
		return nil
	}
	c.got = append(c.got, cmd)
	ch := make(chan race.Reply, 1)
	if c.deaf {
		return ch
	}
	reply := race.Reply{Done: fmt.Sprintf("done: %T", cmd), At: evening}
	n := *c.s
	n.Seq++
	switch cmd := cmd.(type) {
	case race.Enter:
		next := map[race.Phase]race.Phase{race.SignOn: race.Idle, race.Idle: race.Staged, race.Staged: race.Green, race.TrackCall: race.Green, race.Finish: race.Staged}[n.Phase]
		if next == "" {
			reply = race.Reply{Err: errors.New("nothing to do now")}
			break
		}
		n = *clubNight(len(n.Lanes), next)
		n.Entries = c.s.Entries
	case race.CallTrack:
		if n.Phase.Live() {
			n.Phase, n.Next, n.NextKey, n.Clock.Ticking = race.TrackCall, "go on with heat 4", "resume", false
		}
	case race.AddDriver:
		n.Entries = append(append([]race.EntryRow{}, n.Entries...), race.EntryRow{Driver: len(n.Entries) + 1, Name: cmd.Name, Class: cmd.Class, Car: cmd.Car})
	case race.GiveLaps:
		n.Undo = "laps given"
	case race.Answer:
		n.Questions = nil
		for _, q := range c.s.Questions {
			if q.ID != cmd.Question {
				n.Questions = append(n.Questions, q)
			}
		}
	case race.SetCard:
		n.Card = cmd.Card
	}
	c.s = &n
	c.feed.Publish(&n)
	ch <- reply
	return ch
}

// rig is the screens with the club behind them.
type rig struct {
	*Root
	steward *steward
	clock   time.Time
	wait    time.Duration // for the work of a command
}

func newRig(s *race.Snapshot, more ...func(*Options)) *rig {
	g := &rig{clock: evening, wait: time.Minute}
	feed := NewFeed()
	feed.Publish(s)
	g.steward = &steward{feed: feed, s: s}
	o := Options{Feed: feed, Commander: g.steward, Register: clubRegister{}, Picture: clubPicture, Unfold: clubLaps{}, Sheets: clubSheets{}, Tables: clubTables, Now: func() time.Time { return g.clock }, Zone: time.UTC}
	for _, f := range more {
		f(&o)
	}
	g.Root = New(o)
	g.run(g.Root.load(signOn))
	return g
}

// run carries out the work of a command as the program would, without waiting for what waits for time to pass.
func (g *rig) run(cmd tea.Cmd) {
	if cmd == nil {
		return
	}
	done := make(chan tea.Msg, 1)
	go func() { done <- cmd() }()
	select {
	case msg := <-done:
		if batch, ok := msg.(tea.BatchMsg); ok {
			for _, c := range batch {
				g.run(c)
			}
			return
		}
		if msg != nil {
			g.send(msg)
		}
	case <-time.After(g.wait): // work that goes on: the test does not wait for it
	}
}

// send gives the root a message and does what it asks for, ticks left out.
func (g *rig) send(msg tea.Msg) {
	g.ticking = true // the tests move their clock by hand
	_, cmd := g.Update(msg)
	g.View()
	if _, time := msg.(tick); time {
		return // it asks for the next tick, for ever
	}
	g.run(cmd)
}

func (g *rig) size(w, h int) *rig { g.send(tea.WindowSizeMsg{Width: w, Height: h}); return g }

// press presses keys, written as for people, with a space between them.
func (g *rig) press(keys ...string) *rig {
	for _, k := range keys {
		g.clock = g.clock.Add(150 * time.Millisecond)
		g.send(keyOf(k))
	}
	return g
}

// typeIn types a text letter by letter.
func (g *rig) typeIn(text string) *rig {
	for _, r := range text {
		g.send(tea.KeyPressMsg{Code: r, Text: string(r)})
	}
	return g
}

func keyOf(k string) tea.KeyPressMsg {
	named := map[string]tea.KeyPressMsg{
		"enter": {Code: tea.KeyEnter}, "esc": {Code: tea.KeyEscape}, "tab": {Code: tea.KeyTab}, "shift+tab": {Code: tea.KeyTab, Mod: tea.ModShift},
		"up": {Code: tea.KeyUp}, "down": {Code: tea.KeyDown}, "left": {Code: tea.KeyLeft}, "right": {Code: tea.KeyRight}, "backspace": {Code: tea.KeyBackspace},
		"pgup": {Code: tea.KeyPgUp}, "pgdown": {Code: tea.KeyPgDown}, "home": {Code: tea.KeyHome}, "end": {Code: tea.KeyEnd}, "space": {Code: tea.KeySpace, Text: " "},
		"ctrl+s": {Code: 's', Mod: tea.ModCtrl}, "ctrl+c": {Code: 'c', Mod: tea.ModCtrl}, "ctrl+z": {Code: 'z', Mod: tea.ModCtrl}, "ctrl+y": {Code: 'y', Mod: tea.ModCtrl}, "ctrl+l": {Code: 'l', Mod: tea.ModCtrl},
	}
	if m, ok := named[k]; ok {
		return m
	}
	r := []rune(k)[0]
	return tea.KeyPressMsg{Code: r, Text: k}
}

type clubRegister struct{}

func (clubRegister) Known() ([]Known, error) {
	var out []Known
	for i, n := range append(append([]string{}, clubNames...), "Anja Berg", "Carl Dietz", "Dora Eklund", "Felix Gray", "Greta Holm", "Hugo Iversen", "Kim Lund", "Lena Moor", "Otto Prinz", "Ria Sand", "Ulf Voss", "Ada Blum", "Bela Cseh", "Björn Ek") {
		out = append(out, Known{ID: fmt.Sprint("r", i), Name: n, Class: "club", Car: "Heron", Night: i % 5})
	}
	return out, nil
}

func (c clubRegister) LastNight() ([]Known, error) {
	all, err := c.Known()
	return all[:8], err
}

func clubPicture(w, h int) []string {
	out := make([]string, h)
	for i := range out {
		line := make([]byte, w)
		for x := range line {
			line[x] = ' '
			if i == 0 || i == h-1 || x == 0 || x == w-1 {
				line[x] = '#'
			}
		}
		out[i] = string(line)
	}
	return out
}

type clubLaps struct{}

func (clubLaps) Heat(heat int) ([]race.ResultRow, error) {
	if heat > 3 {
		return nil, fmt.Errorf("heat %d has not been driven yet", heat)
	}
	return clubNight(4, race.Idle).Last, nil
}

func (clubLaps) Laps(heat, driver int) ([]Lap, error) {
	var out []Lap
	for i := range 33 {
		l := Lap{Heat: max(heat, 1), Lane: driver, Number: i, Time: ms(5100 + i*7), At: ms(5200 * i)}
		if i == 0 {
			l.Time, l.Note = 0, "starts lap 1"
		}
		out = append(out, l)
	}
	return out, nil
}

func (clubLaps) Classes() (map[string][]race.ResultRow, error) {
	s := clubNight(4, race.Idle)
	return map[string][]race.ResultRow{"open": s.Standings[:3], "club": s.Standings[3:]}, nil
}

func clubTables() ([]Table, error) {
	return []Table{{Name: "season", Head: []string{"place", "driver", "points", "nights", "dropped"}, Right: []bool{false, false, true, true, true},
		Rows: [][]string{{"P1", "Zoë Winter", "28", "3", "1"}, {"P2", "陳大文", "24", "3", ""}}}}, nil
}

type clubSheets struct{}

func (clubSheets) Sheets() []Sheet {
	return []Sheet{{"night", "results of the night, PDF"}, {"csv", "laps of the night, CSV"}}
}
func (clubSheets) Make(id string) (string, error) { return "sheets/" + id + ".pdf", nil }

// clubPreviewer finds two rotations and then waits to be stopped.
type clubPreviewer struct{ endless bool }

func (p clubPreviewer) Preview(ctx context.Context, want race.MakeDraw, progress func(DrawPreview)) (DrawPreview, error) {
	s := clubNight(4, race.Idle)
	best := DrawPreview{Draw: want, Heats: s.Ahead, Lines: []string{"meetings of two drivers: 1 to 2"}, Done: 40, Of: 100}
	best.Draw.Seed = 99
	progress(best)
	if p.endless {
		<-ctx.Done()
		return best, nil
	}
	best.Proved = true
	return best, nil
}

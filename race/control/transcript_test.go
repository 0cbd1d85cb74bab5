package control

import (
	"context"
	"flag"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"

	"lanewright/race"
	"lanewright/timing"
)

var update = flag.Bool("update", false, "rewrite the expected printouts of the transcripts")

// The transcripts in ../testdata are short evenings that a club can read and check: lines of what happens, a line of dashes, and what is
// printed then. They run through the desk, which decides everything that the live loop decides.
//
// Times are seconds since go, as a clock on the wall would show them: track calls run on in them.
func TestTranscripts(t *testing.T) {
	paths, err := filepath.Glob("../testdata/*.txt")
	if err != nil || len(paths) == 0 {
		t.Fatalf("no transcripts: %v", err)
	}
	for _, path := range paths {
		t.Run(strings.TrimSuffix(filepath.Base(path), ".txt"), func(t *testing.T) {
			data, err := os.ReadFile(path)
			if err != nil {
				t.Fatal(err)
			}
			got := play(t, string(data))
			if got == string(data) {
				return
			}
			if *update {
				if err := os.WriteFile(path, []byte(got), 0o644); err != nil {
					t.Fatal(err)
				}
				return
			}
			t.Errorf("%s: printed\n%s\nwant\n%s", path, got, data)
		})
	}
}

// play runs a transcript and returns it with what was really printed.
func play(t *testing.T, text string) string {
	var out strings.Builder
	v := newScript()
	printing := false
	var printed strings.Builder
	for _, line := range strings.SplitAfter(text, "\n") {
		words := strings.Fields(line)
		switch {
		case printing && len(words) > 0:
			continue // the old printout
		case printing:
			printing = false
			out.WriteString(line)
		case line == "----\n":
			out.WriteString(line)
			out.WriteString(printed.String())
			printed.Reset()
			printing = true
		default:
			out.WriteString(line)
			if len(words) == 0 || strings.HasPrefix(words[0], "#") {
				continue
			}
			printed.WriteString(v.line(t, words))
		}
	}
	if printed.Len() > 0 {
		t.Errorf("printed without a line of dashes: %s", printed.String())
	}
	v.replays(t)
	return out.String()
}

// script is an evening in virtual time with a counter that answers at once.
type script struct {
	d      *desk
	card   race.Card
	o      race.Opened
	now    time.Time
	goAt   time.Time // of the heat being driven
	opened bool
	heats  []race.PlannedHeat
	serial uint64
	id     uint64
	queue  []timing.Message
	log    []made
}

var scriptStart = time.Unix(1_700_000_000, 0)

func newScript() *script {
	v := &script{now: scriptStart, goAt: scriptStart}
	v.card = race.DefaultCard()
	v.card.Length, v.card.Countdown, v.card.HoldMax, v.card.ResumeIn, v.card.Power, v.card.Posts = time.Minute, 0, 0, 0, true, 0
	v.o = race.Opened{Night: "n", Layout: race.LayoutInfo{Name: "oval"}, Scale: 32, Seed: 1, Counter: "c"}
	v.d = &desk{night: race.NewNight(), counter: v, source: "c", speed: 1, power: &powerState{}, draw: v.draw}
	v.d.later = func(job func(context.Context) func(time.Time)) { job(context.Background())(v.now) }
	return v
}

// draw makes the heats that the script names, or else the rest of the evening in plain order.
func (v *script) draw(_ context.Context, r DrawRequest) (race.Drawn, error) {
	d := race.Drawn{Draw: "script", Heats: v.heats}
	switch {
	case r.Kind == "mains":
		return Rotation(context.Background(), r)
	case len(v.heats) == 0:
		d.Heats = rest(r)
	}
	v.heats = nil
	return d, nil
}

func (v *script) at(t time.Time) time.Duration { return t.Sub(scriptStart) + 1000*time.Second }

func (v *script) Power(lanes uint32) (uint64, error) {
	v.id++
	v.queue = append(v.queue, timing.PowerAck{Source: "c", ID: v.id, Lanes: lanes, At: v.at(v.now), Segment: 1, Heard: v.now})
	return v.id, nil
}
func (v *script) PowerAt(uint32, time.Duration) (uint64, error) { v.id++; return v.id, nil }
func (v *script) Lamps(lit int, g timing.Go) (uint64, error) {
	v.id++
	v.queue = append(v.queue, timing.LampAck{Source: "c", ID: v.id, Lit: lit, Go: g, At: v.at(v.now), Segment: 1, Heard: v.now})
	return v.id, nil
}
func (v *script) CounterTime(host time.Time) (time.Duration, int, bool) { return v.at(host), 1, true }

// answer lets the counter say what it has to say.
func (v *script) answer() {
	for len(v.queue) > 0 {
		m := v.queue[0]
		v.queue = v.queue[1:]
		v.d.hear(v.now, m)
	}
	v.log = append(v.log, v.d.take()...)
	if w, ok := v.d.night.WentAt(); ok {
		v.goAt = w
	}
}

// until moves time on, doing what falls due, with a heartbeat at the end.
func (v *script) until(to time.Time) {
	for {
		due := v.d.next()
		if due.IsZero() || due.After(to) {
			break
		}
		if due.After(v.now) {
			v.now = due
		}
		v.d.wake(v.now)
		v.answer()
	}
	if to.After(v.now) {
		v.now = to
	}
	v.d.hear(v.now, timing.Beat{Source: "c", At: v.at(v.now), Segment: 1, Heard: v.now})
	v.answer()
}

func (v *script) do(cmd race.Command) string {
	if !v.opened {
		v.open()
	}
	var reply race.Reply
	r, later := v.d.do(v.now, cmd, func(r race.Reply) { reply = r })
	if !later {
		reply = r
	}
	v.answer()
	if reply.Err != nil {
		return "refused: " + reply.Err.Error() + "\n"
	}
	return ""
}

func (v *script) open() {
	v.opened = true
	v.o.Card = v.card
	if len(v.o.Layout.Lanes) == 0 {
		v.lanes(2, 15543, nil)
	}
	if err := v.d.emit(v.o); err != nil {
		panic(err)
	}
}

func (v *script) lanes(n int, mm float64, calls []float64) {
	v.o.Layout.Lanes = nil
	for range n {
		v.o.Layout.Lanes = append(v.o.Layout.Lanes, race.LaneInfo{LengthMM: mm, CallsMM: calls})
	}
}

// args are the key=value words of a line; the others are joined to "".
type args map[string]string

func parse(words []string) args {
	a := args{}
	var rest []string
	for _, w := range words {
		if k, val, ok := strings.Cut(w, "="); ok {
			a[k] = val
		} else {
			rest = append(rest, w)
		}
	}
	a[""] = strings.Join(rest, " ")
	return a
}

func (a args) int(key string) int { n, _ := strconv.Atoi(a[key]); return n }
func (a args) span(t *testing.T, key string) time.Duration {
	d, err := time.ParseDuration(a[key])
	if err != nil {
		t.Fatalf("%s=%s: %v", key, a[key], err)
	}
	return d
}

// line does one line and returns what it prints.
func (v *script) line(t *testing.T, words []string) string {
	a := parse(words[1:])
	if at, ok := a["at"]; ok {
		d, err := time.ParseDuration(at)
		if err != nil {
			t.Fatal(err)
		}
		v.until(v.goAt.Add(d))
	}
	why := strings.ReplaceAll(a["why"], "_", " ")
	switch words[0] {
	case "night":
		v.setUp(t, a)
		return ""
	case "drivers":
		var out string
		for _, name := range words[1:] {
			name, class, _ := strings.Cut(name, "/")
			out += v.do(race.AddDriver{Name: name, Class: class})
		}
		return out
	case "heats":
		for _, h := range strings.Split(a[""], "|") {
			var p race.PlannedHeat
			for _, name := range strings.Fields(h) {
				p.Drivers = append(p.Drivers, v.driver(name))
			}
			v.heats = append(v.heats, p)
		}
		return v.do(race.MakeDraw{Kind: "script", Rounds: 1})
	case "mains":
		return v.do(race.MakeDraw{Kind: "mains"})
	case "draw":
		return v.do(race.MakeDraw{Kind: "script", Rounds: 1})
	case "stage":
		return v.do(race.Stage{Heat: a.int("heat")})
	case "lamps":
		if v.d.night.Phase() == race.Idle {
			if out := v.do(race.Stage{}); out != "" {
				return out
			}
		}
		out := v.do(race.Start{})
		v.goAt = v.now.Add(v.card.Countdown)
		return out
	case "start":
		if v.d.night.Phase() == race.Idle {
			if out := v.do(race.Stage{}); out != "" {
				return out
			}
		}
		if out := v.do(race.Start{}); out != "" {
			return out
		}
		v.until(v.now.Add(v.card.Countdown + v.card.HoldMax))
		return ""
	case "pass":
		v.serial++
		v.d.hear(v.now, timing.Pass{Source: "c", Sensor: 1, Lane: a.int("lane"), Car: a.int("car"), At: v.at(v.now), Segment: 1, Timed: true, Serial: v.serial, Heard: v.now})
		v.answer()
		return ""
	case "late": // a pass whose bytes come later than those of others: t is when it happened
		v.serial++
		v.d.hear(v.now, timing.Pass{Source: "c", Sensor: 1, Lane: a.int("lane"), At: v.at(v.goAt.Add(a.span(t, "t"))), Segment: 1, Timed: true, Serial: v.serial, Heard: v.now, Again: true})
		v.answer()
		return ""
	case "wait":
		return ""
	case "enter":
		return v.do(race.Enter{})
	case "call":
		return v.do(race.CallTrack{Why: why})
	case "resume":
		out := v.do(race.Resume{})
		v.until(v.now.Add(v.card.ResumeIn))
		return out
	case "finish":
		return v.do(race.FinishHeat{})
	case "accept":
		return v.do(race.Accept{})
	case "void":
		return v.do(race.VoidHeat{Heat: a.int("heat"), Why: why})
	case "give":
		laps := 1
		if _, ok := a["laps"]; ok {
			laps = a.int("laps")
		}
		return v.do(race.GiveLaps{Heat: a.int("heat"), Lane: a.int("lane"), Laps: laps, Why: why, By: a["by"]})
	case "strike":
		return v.do(race.StrikePass{Heat: a.int("heat"), Lane: a.int("lane"), Why: why})
	case "move":
		return v.do(race.MovePass{Heat: a.int("heat"), Lane: a.int("lane"), To: a.int("to"), Why: why})
	case "part":
		return v.do(race.SetPart{Heat: a.int("heat"), Lane: a.int("lane"), Num: a.int("num") + a.int("mm"), Den: a.int("den"), Call: a.int("call")})
	case "penalise":
		return v.do(race.Penalise{Heat: a.int("heat"), Lane: a.int("lane"), Laps: a.int("laps"), Hundredths: a.int("hundredths"), Why: why})
	case "drop-stint":
		return v.do(race.DropStint{Heat: a.int("heat"), Lane: a.int("lane"), Why: why})
	case "yes", "no":
		open := v.d.night.Snapshot(v.now).Questions
		if len(open) == 0 {
			return "nothing is asked\n"
		}
		return v.do(race.Answer{Question: open[0].ID, Yes: words[0] == "yes"})
	case "undo":
		return v.do(race.Undo{})
	case "redo":
		return v.do(race.Redo{})
	case "close-lane":
		return v.do(race.CloseLane{Lane: a.int("lane"), Why: why})
	case "open-lane":
		return v.do(race.OpenLane{Lane: a.int("lane")})
	case "leave":
		return v.do(race.DropDriver{Driver: v.driver(a[""])})
	case "back":
		return v.do(race.ReturnDriver{Driver: v.driver(a[""])})
	case "practice":
		return v.do(race.StartPractice{})
	case "practice-over":
		return v.do(race.StopPractice{})
	case "close-night":
		return v.do(race.CloseNight{})
	}
	return v.show(t, words[0], a)
}

func (v *script) setUp(t *testing.T, a args) {
	c := &v.card
	lanes, mm := 2, 15543.0
	var calls []float64
	for key, val := range a {
		switch key {
		case "":
		case "lanes":
			lanes = a.int("lanes")
		case "mm":
			mm = float64(a.int("mm"))
		case "calls":
			for _, w := range strings.Split(val, ",") {
				f, _ := strconv.ParseFloat(w, 64)
				calls = append(calls, f)
			}
		case "cars":
			v.o.Digital, v.o.Cars, v.o.ShortestMM, v.o.LongestMM = true, a.int("cars"), 15000, 16000
		case "kind":
			c.Kind = val
		case "length":
			c.Length = a.span(t, key)
		case "laps":
			c.Laps = a.int(key)
		case "lap_min":
			c.LapMin = a.span(t, key)
		case "dead":
			c.Dead = a.span(t, key)
		case "coast":
			c.Coast = a.span(t, key)
		case "grid":
			c.Grid = val
		case "at_end":
			c.AtEnd = val
		case "part_of":
			c.PartOf = a.int(key)
		case "jump":
			c.Jump = val
		case "countdown":
			c.Countdown = a.span(t, key)
		case "resume_in":
			c.ResumeIn = a.span(t, key)
		case "ties":
			c.Ties = strings.Split(val, ",")
		case "points":
			for _, w := range strings.Split(val, ",") {
				p, _ := strconv.Atoi(w)
				c.Points = append(c.Points, p)
			}
		case "points_shared":
			c.PointsShared = val
		case "style":
			c.PlaceStyle = val
		case "step_up":
			c.StepUp = a.int(key)
		case "power":
			c.Power = val == "yes"
		default:
			t.Fatalf("night: unknown key %s", key)
		}
	}
	v.lanes(lanes, mm, calls)
}

func (v *script) driver(name string) int {
	for _, p := range v.d.night.Drivers() {
		if p.Name == name {
			return p.Number
		}
	}
	return 0
}

// show prints what a line asks for.
func (v *script) show(t *testing.T, what string, a args) string {
	s := v.d.night.Snapshot(v.now)
	var out strings.Builder
	rows := s.Running
	word := "lane"
	if s.Digital {
		rows, word = nil, "car"
		for _, c := range s.Cars {
			rows = append(rows, c.LaneRow)
		}
	}
	switch what {
	case "laps":
		for _, r := range rows {
			name := r.Name
			if name == "" {
				name = "nobody"
			}
			fmt.Fprintf(&out, "%s %d %s: %d\n", word, r.Lane, name, r.Laps)
		}
	case "times":
		for _, l := range v.d.night.Laps(v.d.heat(a.int("heat")), a.int("lane")) {
			fmt.Fprintf(&out, "at %s: %s", seconds(l.At), l.Verdict)
			if l.Lap > 0 {
				fmt.Fprintf(&out, ", lap %d", l.Lap)
				if l.Time > 0 {
					fmt.Fprintf(&out, " in %s", seconds(l.Time))
				} else {
					out.WriteString(" not timed")
				}
				if l.Best {
					out.WriteString(", best")
				}
			}
			if l.Moved {
				out.WriteString(", moved here")
			}
			out.WriteString("\n")
		}
	case "result":
		for _, r := range v.d.night.HeatResults(v.d.heat(a.int("heat"))) {
			out.WriteString(resultLine(r))
		}
	case "standings":
		for _, r := range v.d.night.Standings(race.Filter{Class: a["class"]}) {
			out.WriteString(resultLine(r))
		}
	case "questions":
		for _, q := range s.Questions {
			fmt.Fprintf(&out, "%s? %s; yes: %s\n", q.Kind, q.Text, q.Proposal)
		}
		if len(s.Questions) == 0 {
			out.WriteString("no question\n")
		}
	case "rulings":
		for _, r := range s.Rulings {
			fmt.Fprintf(&out, "heat %d: %s", r.Heat, r.Text)
			if r.Undone {
				out.WriteString(" (taken back)")
			}
			out.WriteString("\n")
		}
	case "phase":
		fmt.Fprintf(&out, "%s\n", s.Phase)
	case "clock":
		fmt.Fprintf(&out, "%s\n", seconds(v.d.picture(v.now).Clock.Elapsed))
	case "next":
		fmt.Fprintf(&out, "%s\n", s.Next)
	case "ahead":
		for _, h := range s.Ahead {
			fmt.Fprintf(&out, "heat %d %s:", h.Heat, h.State)
			for _, n := range h.Names {
				if n == "" {
					n = "-"
				}
				out.WriteString(" " + n)
			}
			out.WriteString("\n")
		}
	case "bests":
		for _, b := range s.Bests {
			fmt.Fprintf(&out, "%s: %s in %d laps\n", b.Name, seconds(b.Best), b.Laps)
		}
	default:
		t.Fatalf("unknown line: %s", what)
	}
	return out.String()
}

func resultLine(r race.ResultRow) string {
	var b strings.Builder
	place := fmt.Sprintf("%d", r.Place)
	if r.Place == 0 {
		place = "-"
	}
	fmt.Fprintf(&b, "%s %s %d", place, r.Name, r.Laps)
	if r.PartOf > 0 {
		fmt.Fprintf(&b, " %d/%d", r.Part, r.PartOf)
	}
	if r.Last > 0 {
		fmt.Fprintf(&b, " last %s", seconds(r.Last))
	}
	if r.Points != "" {
		fmt.Fprintf(&b, " %s points", r.Points)
	}
	if r.Reason != "" {
		fmt.Fprintf(&b, " (%s)", r.Reason)
	}
	b.WriteString("\n")
	return b.String()
}

// replays fails unless the journal of the evening gives the same night.
func (v *script) replays(t *testing.T) {
	n := race.NewNight()
	for _, m := range v.log {
		e, err := race.Decode(m.kind, m.data)
		if err != nil {
			t.Fatal(err)
		}
		if err := n.Apply(m.seq, e); err != nil {
			t.Fatalf("the journal does not fold: %v", err)
		}
	}
	undo, _ := v.d.night.UndoTop()
	if again, _ := n.UndoTop(); again != undo {
		t.Errorf("event %d would be taken back, and event %d after a restart", undo, again)
	}
	a, b := fmt.Sprintf("%+v", v.d.night.Report()), fmt.Sprintf("%+v", n.Report())
	if a != b {
		t.Errorf("the journal gives another report:\n%s\n%s", a, b)
	}
	if !slices.IsSortedFunc(v.log, func(a, b made) int { return int(a.seq) - int(b.seq) }) {
		t.Error("events are out of order")
	}
}

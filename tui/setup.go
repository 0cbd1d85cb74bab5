package tui

import (
	"strconv"
	"strings"
	"time"

	tea "charm.land/bubbletea/v2"

	"lanewright/race"
	"lanewright/tui/cell"
)

// setUpScreen settles a night: what stands there is how the last one was. Beside it every lane lights up when a car goes over
// the line, and the best of the free laps show.
type setUpScreen struct {
	r    *Root
	list list
	kind string // of rotation, "" as it is
}

func (s *setUpScreen) enter()       { s.list.at = 0 }
func (s *setUpScreen) choose(n int) { s.list.at = n }

// fields returns the lines: those from outside first, then the rule card.
func (s *setUpScreen) fields() []Field {
	kind := s.kind
	if kind == "" {
		kind = orDash(s.r.snap.Draw.Kind)
	}
	out := append([]Field{}, s.r.loaded.fields...)
	out = append(out, Field{ID: "rotation", Name: "rotation", Value: kind, Choices: []string{"balanced", "rolling", "short"}, Help: "balanced: as fair as can be found; rolling: everybody moves one lane on; short: fewer heats than lanes need"})
	return append(out, cardFields(&s.r.snap.Card)...)
}

// cardFields are the lines of the rule card.
func cardFields(c *race.Card) []Field {
	span := func(d time.Duration) string { return d.String() }
	count := func(n int) string { return itoa(n) }
	out := []Field{{ID: "kind", Name: "heat ends", Value: map[string]string{"timed": "after a time", "laps": "after laps"}[c.Kind], Choices: []string{"after a time", "after laps"}, Help: "a timed heat counts laps; a lap heat ends when the first has driven them"}}
	if c.Kind == "laps" {
		out = append(out, Field{ID: "laps", Name: "laps of a heat", Value: count(c.Laps), Choices: []string{"10", "15", "20", "25", "30", "50", "100"}})
	} else {
		out = append(out, Field{ID: "length", Name: "length of a heat", Value: span(c.Length), Choices: []string{"1m0s", "2m0s", "3m0s", "4m0s", "5m0s", "8m0s", "10m0s"}})
	}
	return append(out,
		Field{ID: "at-end", Name: "at the end", Value: map[string]string{"cut": "power goes off", "lap": "finish the lap"}[c.AtEnd], Choices: []string{"power goes off", "finish the lap"}},
		Field{ID: "part", Name: "part laps", Value: partName(c.PartOf), Choices: []string{"whole laps only", "tenths", "hundredths"}, Help: "read from where the cars stopped"},
		Field{ID: "grid", Name: "cars start", Value: map[string]string{"before": "before the line", "past": "past the line"}[c.Grid], Choices: []string{"before the line", "past the line"}, Help: "before: the first pass only starts lap 1; past: it completes lap 1"},
		Field{ID: "jump", Name: "jump start", Value: c.Jump, Choices: []string{"ignore", "ask", "restart", "lap", "void"}, Help: "lap: one lap off"},
		Field{ID: "lap-min", Name: "shortest lap", Value: span(c.LapMin), Choices: []string{"1s", "1.5s", "2s", "2.5s", "3s", "4s", "5s"}, Help: "a shorter one is asked about"},
		Field{ID: "coast", Name: "coasting counts for", Value: span(c.Coast), Choices: []string{"0s", "300ms", "500ms", "800ms", "1s"}, Help: "passes so long after the power is cut still count"},
		Field{ID: "countdown", Name: "lamps run for", Value: span(c.Countdown), Choices: []string{"3s", "5s", "10s"}},
		Field{ID: "hold", Name: "random wait, at most", Value: span(c.HoldMax), Choices: []string{"0s", "1s", "2s", "3s"}, Help: "after the last lamp, so that nobody starts by counting"},
		Field{ID: "resume", Name: "going on takes", Value: span(c.ResumeIn), Choices: []string{"0s", "3s", "5s", "10s"}, Help: "countdown after a track call"},
		Field{ID: "pause", Name: "pause between heats", Value: span(c.Pause), Choices: []string{"0s", "30s", "1m0s", "2m0s", "3m0s"}, Help: "when nobody presses enter; 0s: it waits for enter"},
		Field{ID: "posts", Name: "marshal posts", Value: count(c.Posts), Choices: []string{"0", "2", "3", "4", "5", "6"}},
		Field{ID: "ties", Name: "ties are broken by", Value: orDash(strings.Join(c.Ties, ", ")), Help: "in this order: part, last-pass, best-heat, best-lap, second-lap, lot"},
		Field{ID: "points", Name: "points by place", Value: pointsText(c.Points), Help: "of a night for the season: 10, 8, 6, 5"},
		Field{ID: "drops", Name: "worst nights dropped", Value: count(c.Drops), Choices: []string{"0", "1", "2", "3"}, Help: "of a season"},
		Field{ID: "step-up", Name: "step up in the mains", Value: count(c.StepUp), Choices: []string{"0", "1", "2", "3"}, Help: "how many of each main drive in the next"},
		Field{ID: "places", Name: "places are written", Value: c.PlaceStyle, Choices: []string{"standard", "modified", "dense", "ordinal", "fractional"}, Help: "standard: 1 2 2 4; modified: 1 3 3 4; dense: 1 2 2 3"},
		Field{ID: "shared", Name: "shared points", Value: c.PointsShared, Choices: []string{"equal", "average"}},
		Field{ID: "power", Name: "program switches power", Value: map[bool]string{true: "yes", false: "no"}[c.Power], Choices: []string{"no", "yes"}, Help: "for racing only, never a safety device: pull the plug before you work on the track"},
	)
}

// pointsText writes a table of points.
func pointsText(points []int) string {
	out := make([]string, len(points))
	for i, p := range points {
		out[i] = itoa(p)
	}
	return orDash(strings.Join(out, ", "))
}

// listed splits what was typed into a list.
func listed(v string) []string {
	return strings.FieldsFunc(v, func(r rune) bool { return r == ',' || r == ' ' || r == ';' || r == '-' && v == "-" })
}

func partName(of int) string {
	switch of {
	case 0, 1:
		return "whole laps only"
	case 10:
		return "tenths"
	case 100:
		return "hundredths"
	}
	return "in 1/" + itoa(of)
}

// setCard returns the rule card with one line changed, and false if the value cannot be read.
func setCard(c race.Card, id, v string) (race.Card, bool) {
	d, derr := time.ParseDuration(strings.ReplaceAll(v, " ", ""))
	n, nerr := strconv.Atoi(v)
	span := map[string]*time.Duration{"length": &c.Length, "lap-min": &c.LapMin, "coast": &c.Coast, "countdown": &c.Countdown, "hold": &c.HoldMax, "resume": &c.ResumeIn, "pause": &c.Pause}[id]
	count := map[string]*int{"laps": &c.Laps, "posts": &c.Posts, "drops": &c.Drops, "step-up": &c.StepUp}[id]
	switch id {
	case "ties":
		c.Ties = listed(strings.ToLower(v))
		return c, true // what the words are worth is checked where the card is taken
	case "points":
		c.Points = nil
		for _, w := range listed(v) {
			p, err := strconv.Atoi(w)
			if err != nil || p < 0 || len(c.Points) >= 100 {
				return c, false
			}
			c.Points = append(c.Points, p)
		}
		return c, true
	}
	word := map[string]*string{"jump": &c.Jump, "places": &c.PlaceStyle, "shared": &c.PointsShared}[id]
	switch {
	case span != nil:
		*span = d
		return c, derr == nil && d >= 0 && d <= 24*time.Hour
	case count != nil:
		*count = n
		return c, nerr == nil && n >= 0 && n <= 10000
	case word != nil:
		*word = v
		return c, true
	}
	pairs := map[string]map[string]func(){
		"kind": {"after a time": func() { c.Kind, c.Laps = "timed", 0; c.Length = nonZero(c.Length, 3*time.Minute) },
			"after laps": func() { c.Kind, c.Length = "laps", 0; c.Laps = max(c.Laps, 20) }},
		"at-end": {"power goes off": func() { c.AtEnd = "cut" }, "finish the lap": func() { c.AtEnd = "lap" }},
		"part":   {"whole laps only": func() { c.PartOf = 0 }, "tenths": func() { c.PartOf = 10 }, "hundredths": func() { c.PartOf = 100 }},
		"grid":   {"before the line": func() { c.Grid = "before" }, "past the line": func() { c.Grid = "past" }},
		"power":  {"no": func() { c.Power = false }, "yes": func() { c.Power = true }},
	}
	f := pairs[id][v]
	if f == nil {
		return c, false
	}
	f()
	return c, true
}

func nonZero(d, other time.Duration) time.Duration {
	if d != 0 {
		return d
	}
	return other
}

// chosen returns the chosen line.
func (s *setUpScreen) chosen() *Field {
	f := s.fields()
	if len(f) == 0 {
		return nil
	}
	return &f[max(0, min(s.list.at, len(f)-1))]
}

// canType says whether the chosen line may be typed.
func (s *setUpScreen) canType() bool {
	f := s.chosen()
	if f == nil {
		return false
	}
	switch f.ID {
	case "length", "laps", "lap-min", "coast", "countdown", "hold", "resume", "pause", "posts", "layout", "counter", "scale":
		return true
	}
	return len(f.Choices) == 0
}

// longestValue is how many columns a value may have: some are names of files.
const longestValue = 200

// edit begins to type the chosen line; what is typed first takes the place of the value.
func (s *setUpScreen) edit() {
	f := s.chosen()
	s.r.typeFor(typing{field: field{label: f.Name, most: longestValue}, what: "value", id: f.ID})
	if s.r.typing.text == "" {
		s.r.typing.text, s.r.typing.ripe = f.Value, true
	}
}

// put settles a line.
func (s *setUpScreen) put(id, value string) tea.Cmd {
	r := s.r
	if id == "rotation" {
		s.kind = value
		return nil
	}
	for _, f := range r.loaded.fields {
		if f.ID == id {
			set := r.opt.SetUp
			return tea.Sequence(safely("the set-up", func() tea.Msg {
				done, err := set.Set(id, value)
				return arrived{func(r *Root) {
					if err != nil {
						r.say(err.Error(), true)
						return
					}
					r.say(done, false)
				}}
			}), r.loadFields())
		}
	}
	c, ok := setCard(r.snap.Card, id, value)
	if !ok {
		r.say("cannot read "+strconv.Quote(value)+": a span is written 3m0s, 90s or 500ms, a count as a number", true)
		return nil
	}
	return r.do(race.SetCard{Card: c})
}

// move chooses a line, or another value of it.
func (s *setUpScreen) move(key string) {
	f := s.chosen()
	by := map[string]int{"left": -1, "right": 1}[key]
	if by == 0 || f == nil {
		s.list.move(key)
		return
	}
	if len(f.Choices) == 0 {
		s.r.say("e types another value for "+cell.Clean(f.Name), false)
		return
	}
	at := -1
	for i, c := range f.Choices {
		if c == f.Value {
			at = i
		}
	}
	n := len(f.Choices)
	if at < 0 && by < 0 {
		at = 0
	}
	s.r.pending = append(s.r.pending, s.put(f.ID, f.Choices[((at+by)%n+n)%n]))
}

func (s *setUpScreen) draw(g *cell.Grid, b cell.Box) {
	side := cell.Box{}
	if b.W >= 76 {
		b, side = cell.Box{X: b.X, Y: b.Y, W: b.W - 34, H: b.H}, cell.Box{X: b.X + b.W - 32, Y: b.Y, W: 32, H: b.H}
	} else if n := len(s.r.snap.Lanes) + 1; b.H > 2*n {
		b, side = b.Bottom(n)
	}
	s.drawFields(g, b)
	if side.H > 0 {
		s.drawCheck(g, side)
	}
}

func (s *setUpScreen) drawFields(g *cell.Grid, b cell.Box) {
	fields := s.fields()
	b = heading(g, b, "How the night is driven   ← → change a line")
	b, foot := b.Bottom(min(1, b.H/3))
	s.list.fit(len(fields), b.H)
	for i := 0; i < b.H && s.list.top+i < len(fields); i++ {
		at := s.list.top + i
		f := fields[at]
		st, mark := cell.Normal, " "
		if at == s.list.at {
			st, mark = cell.Pick, "▸"
		}
		g.Fill(b.Row(i), st)
		g.Put(b.X, b.Y+i, 1, st, mark)
		g.Put(b.X+2, b.Y+i, 22, st, cell.Clean(f.Name))
		value := orDash(cell.Clean(f.Value))
		if at == s.list.at && len(f.Choices) > 0 {
			value = "← " + value + " →"
		}
		g.Put(b.X+25, b.Y+i, b.W-25, st, value)
		g.Zone(b.Row(i), "row:"+itoa(at))
	}
	if foot.H > 0 && s.list.at < len(fields) {
		g.Put(foot.X, foot.Y, foot.W, cell.Dim, cell.Clean(fields[s.list.at].Help))
	}
}

// litFor is how long a lane stays lit after a pass in the lane check: long enough to look up from the track.
const litFor = 3 * time.Second

// drawCheck draws the lane check and the best of the free laps.
func (s *setUpScreen) drawCheck(g *cell.Grid, b cell.Box) {
	r := s.r
	b = heading(g, b, "Lane check: push a car")
	for _, l := range r.snap.Lanes {
		if b.H == 0 {
			return
		}
		n := r.drawChip(g, b.X, b.Y, l.Lane)
		st, text := cell.Dim, "not heard yet"
		switch since := r.now().Sub(l.Lit); {
		case l.Closed:
			text = "closed"
		case !l.Lit.IsZero() && since < litFor:
			st, text = cell.Block, " PASS "
		case !l.Lit.IsZero():
			st, text = cell.Fine, "✓ heard at "+r.moment(l.Lit)
		}
		g.Put(b.X+n+1, b.Y, b.W-n-1, st, text)
		_, b = b.Top(1)
	}
	if c := r.snap.Counter; b.H > 1 && c.State != "" {
		g.Put(b.X, b.Y, b.W, cell.Dim, counterName(c)+": "+cell.Clean(c.State))
		_, b = b.Top(1)
	}
	if len(r.snap.Bests) > 0 && b.H > 3 {
		_, b = b.Top(1)
		r.screens[desk].(*deskScreen).drawBests(g, b)
	}
}

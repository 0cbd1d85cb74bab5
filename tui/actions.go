package tui

import (
	"time"

	tea "charm.land/bubbletea/v2"

	"lanewright/race"
	"lanewright/tui/action"
	"lanewright/tui/lane"
)

// places in the order of the keys that go there.
var places = []struct {
	key  string
	to   place
	name string
}{
	{"d", desk, "the heat, the questions, what comes next"},
	{"b", board, "large figures for the other side of the hall"},
	{"s", signOn, "who drives tonight"},
	{"r", rotation, "the heats ahead, who is on which lane, who marshals"},
	{"u", rulings, "what was ruled, and the questions"},
	{"t", tape, "everything that happened, as it happened"},
	{"p", plan, "the layout and how long its lanes are"},
	{"h", sheets, "results, standings, best laps, papers"},
	{"f", speeds, "was it fair, what lanes cost, drivers against layouts"},
	{"n", setUp, "rules of the night, lane check, free laps"},
}

// addActions fills the registry. The order is that of importance in the help bar and the list of keys.
func (r *Root) addActions() {
	r.addSafe()
	r.addTyping()
	r.addLane()
	r.addQuestions()
	r.addPlaceActions()
	r.addAnywhere()
	r.addGo()
	r.addMoves()
}

// then makes a deed of a function that only changes the screen.
func then(f func()) func() tea.Cmd { return func() tea.Cmd { f(); return nil } }

func (r *Root) live() bool { return r.snap.Phase.Live() }

// callTrack calls the track if a heat is live by the newest that is known.
func (r *Root) callTrack() tea.Cmd {
	r.look()
	if !r.live() {
		return nil
	}
	r.sure = nil
	return r.do(race.CallTrack{})
}

func (r *Root) addSafe() {
	r.acts.Add(
		action.Action{ID: "track-call", Name: "track call: power off, clock held, cars put back", Short: "track call", Keys: []string{"space"}, In: cSafe, On: r.live, Do: r.callTrack},
		action.Action{ID: "track-call-typing", Name: "track call, also while typing", Short: "track call", Keys: []string{"ctrl+s"}, In: cAlways, On: r.live, Do: r.callTrack,
			Label: func() string {
				if r.typing == nil {
					return ""
				}
				return "track call"
			}},
		action.Action{ID: "shown-do", Name: "do what is shown", Short: "do it", Keys: []string{"enter"}, In: cSure, Do: func() tea.Cmd { s := r.sure; r.sure = nil; return s.do() }, Quiet: true},
		action.Action{ID: "use-draw", Name: "good enough: use this rotation", Short: "good enough, use it", Keys: []string{"enter"}, In: cRedraw, On: func() bool { return r.redraw.best != nil }, Do: r.useRedraw},
		action.Action{ID: "next", Name: "the next step of the night", Keys: []string{"enter"}, In: cAny, On: func() bool { return r.snap.Next != "" }, Do: r.next,
			Label: func() string { return r.snap.Next }},
		action.Action{ID: "quit-now", Name: "quit: press twice within two seconds; the night resumes where it was", Keys: []string{"ctrl+c"}, In: cAlways, Do: r.quit},
	)
}

// next does the step named under next.
func (r *Root) next() tea.Cmd {
	if r.snap.NextKey == "draw" {
		if kind := r.screens[setUp].(*setUpScreen).kind; kind != "" {
			return r.do(race.MakeDraw{Kind: kind, Rounds: 1})
		}
	}
	return r.do(race.Enter{})
}

func (r *Root) quit() tea.Cmd {
	if !r.quitAt.IsZero() {
		return tea.Quit
	}
	r.quitAt = r.now()
	r.say("ctrl+c again quits; the night resumes where it was", false)
	return nil
}

func (r *Root) addTyping() {
	r.acts.Add(
		action.Action{ID: "text-done", Name: "use the text", Short: "done", Keys: []string{"enter"}, In: cText, Also: []action.Context{cPalette}, Do: r.enterText, Quiet: true},
		action.Action{ID: "name-done", Name: "sign on; without a text the next step of the night", Keys: []string{"enter"}, In: cSignText, Do: r.enterText, Quiet: true,
			Label: func() string { return r.screens[signOn].(*signOnScreen).offer() }},
		action.Action{ID: "text-leave", Name: "leave the text; it is kept", Short: "leave", Keys: []string{"esc"}, In: cText, Also: []action.Context{cPalette, cSignText}, Do: then(r.stopTyping), Quiet: true},
		action.Action{ID: "text-move", Name: "choose among what fits", Keys: []string{"up"}, In: cPalette, Also: []action.Context{cSignText}, Do: then(func() { r.move("up") }), Quiet: true},
		action.Action{ID: "text-move-down", Name: "choose among what fits", Short: "choose", Keys: []string{"down"}, In: cPalette, Also: []action.Context{cSignText}, Do: then(func() { r.move("down") }), Quiet: true},
		action.Action{ID: "name-tab", Name: "next part: name, class, car, list", Short: "class, car", Keys: []string{"tab"}, In: cSignText, Do: then(func() { r.move("tab") }), Quiet: true},
		action.Action{ID: "name-tab-back", Name: "part before: name, class, car, list", Keys: []string{"shift+tab"}, In: cSignText, Do: then(func() { r.move("shift+tab") }), Quiet: true},
		action.Action{ID: "same-again", Name: "sign on the same drivers as last time", Short: "same as last time", Keys: []string{"ctrl+l"}, In: cSignText, Also: []action.Context{action.Context(signOn)},
			On: func() bool { return len(r.loaded.lastNight) > 0 }, Do: func() tea.Cmd { return r.screens[signOn].(*signOnScreen).same() }},
	)
}

// chosen calls f with the chosen lane and keeps it chosen for as long again.
func (r *Root) chosen(f func(lane int) tea.Cmd) func() tea.Cmd {
	return func() tea.Cmd {
		r.laneTil = r.now().Add(laneFor)
		return f(r.lane)
	}
}

// heatMeant returns the heat that a ruling is about where that is not the one on the screen, which is 0: the heat whose results
// are in front, or the last one driven while the next has not started.
func (r *Root) heatMeant() int {
	s := r.screens[sheets].(*sheetsScreen)
	switch {
	case r.live() || r.practice():
		return 0
	case r.place == sheets && s.part().kind == partHeat:
		return s.heatShown()
	case r.snap.Phase == race.Finish:
		return 0
	}
	for i := len(r.snap.Ahead) - 1; i >= 0; i-- {
		if r.snap.Ahead[i].State == "run" {
			return r.snap.Ahead[i].Heat
		}
	}
	return 0
}

// driverMeant returns who drove on the chosen lane in the heat that is meant, "" if nobody did.
func (r *Root) driverMeant() string {
	h := r.heatMeant()
	if h == 0 {
		if l := r.row(r.lane); l != nil && l.Driver != 0 && r.snap.Phase != race.Staged {
			return l.Name
		}
		return ""
	}
	for i := range r.snap.Ahead {
		if a := &r.snap.Ahead[i]; a.Heat == h && r.lane >= 1 && r.lane <= len(a.Names) {
			return a.Names[r.lane-1]
		}
	}
	return ""
}

// drove says whether somebody drove on the chosen lane in the heat that is meant.
func (r *Root) drove() bool { return r.driverMeant() != "" }

// reason returns why the next ruling is made, and forgets it.
func (r *Root) reason() string {
	why := r.why
	r.why = ""
	return why
}

// rule makes a deed of a ruling about the chosen lane.
func (r *Root) rule(make func(heat, lane int) race.Command) func() tea.Cmd {
	return r.chosen(func(n int) tea.Cmd { return r.do(make(r.heatMeant(), n)) })
}

func (r *Root) addLane() {
	drove := r.drove
	ask := func(what asked) func() tea.Cmd {
		return r.chosen(func(n int) tea.Cmd {
			r.ask = asking{what: what, lane: n, heat: r.heatMeant(), until: r.now().Add(2 * laneFor)}
			return nil
		})
	}
	give := func(laps int) func() tea.Cmd {
		return r.rule(func(h, n int) race.Command {
			return race.GiveLaps{Heat: h, Lane: n, Laps: laps, By: r.by, Why: r.reason()}
		})
	}
	r.acts.Add(
		action.Action{ID: "lap-given", Name: "lap given to the lane", Short: "lap given", Keys: []string{"+", "="}, In: cLane, On: drove, Do: give(1)},
		action.Action{ID: "lap-taken", Name: "lap taken from the lane", Short: "lap taken", Keys: []string{"-"}, In: cLane, On: drove, Do: give(-1)},
		action.Action{ID: "strike", Name: "strike out the lane's last pass", Short: "strike pass", Keys: []string{"k"}, In: cLane, On: drove,
			Do: r.rule(func(h, n int) race.Command { return race.StrikePass{Heat: h, Lane: n, By: r.by, Why: r.reason()} })},
		action.Action{ID: "penalty", Name: "penalty: laps off the lane's result", Short: "penalty", Keys: []string{"p"}, In: cLane, On: drove, Do: ask(penaltyLaps)},
		action.Action{ID: "close-lane", Name: "close the lane for the night, or open it again", Keys: []string{"o"}, In: cLane, On: func() bool { return !r.snap.Digital }, Do: r.rule(func(_, n int) race.Command { return r.turnLane(n) }),
			Label: func() string {
				if r.closed(r.lane) {
					return "open lane"
				}
				return "close lane"
			}},
		action.Action{ID: "part", Name: "part laps: where the cars stopped", Short: "part lap", Keys: []string{"f"}, In: cLane, On: drove, Do: r.chosen(func(n int) tea.Cmd { r.typePart(n, r.heatMeant()); return nil })},
		action.Action{ID: "move-pass", Name: "move the lane's last pass to another lane", Short: "to lane", Keys: []string{"t"}, In: cLane, On: func() bool { return !r.snap.Digital && drove() }, Do: ask(toLane)},
		action.Action{ID: "comment", Name: "write a comment about the lane into the journal", Short: "comment", Keys: []string{"c"}, In: cLane,
			Do: r.chosen(func(n int) tea.Cmd {
				r.typeFor(typing{field: field{label: "comment, lane " + itoa(n)}, what: "comment", lane: n})
				return nil
			})},
		action.Action{ID: "stint-out", Name: "do not count the lane's laps in this heat", Short: "not counted", Keys: []string{"x"}, In: cLane, On: drove, Do: r.chosen(func(n int) tea.Cmd {
			h := r.heatMeant()
			r.shown("lane "+itoa(n)+": none of its laps in this heat count", func() tea.Cmd { return r.do(race.DropStint{Heat: h, Lane: n, By: r.by, Why: r.reason()}) })
			return nil
		})},
		action.Action{ID: "reason", Name: "type why: goes with the next ruling", Short: "why", Keys: []string{";"}, In: cLane, Do: then(func() {
			r.typeFor(typing{field: field{label: "why, for the next ruling"}, what: "why"})
		}), Label: func() string {
			if r.why != "" {
				return "why: " + r.why
			}
			return "why"
		}},
		action.Action{ID: "amount-part", Name: "hundredths of a lap: a point and two digits", Short: "hundredths of a lap", Keys: []string{".", ","}, In: cAsk, On: func() bool { return r.ask.what == penaltyLaps && !r.ask.fractions },
			Do: then(func() { r.ask.fractions = true }), Quiet: true},
	)
	for n := range 10 {
		r.acts.Add(action.Action{ID: "amount-" + itoa(n), Name: "answer " + itoa(n), Keys: []string{itoa(n)}, In: cAsk, On: func() bool { return n > 0 || r.ask.fractions }, Do: func() tea.Cmd { return r.amount(n) }, Quiet: true})
	}
	for n := 1; n <= lane.Most; n++ {
		r.acts.Add(action.Action{ID: "lane-" + itoa(n), Name: "choose lane " + itoa(n) + " for five seconds", Keys: []string{itoa(n)}, In: cAny,
			On: func() bool { return r.row(n) != nil || n <= len(r.snap.Lanes) }, Do: then(func() { r.chooseLane(n) })})
	}
}

// chooseLane chooses a lane, or lets it go if it is chosen.
func (r *Root) chooseLane(n int) {
	if r.lane == n {
		r.lane = 0
		return
	}
	r.lane, r.laneTil = n, r.now().Add(laneFor)
}

func (r *Root) closed(n int) bool {
	for _, l := range r.snap.Lanes {
		if l.Lane == n {
			return l.Closed
		}
	}
	l := r.row(n)
	return l != nil && l.Closed
}

func (r *Root) turnLane(n int) race.Command {
	if r.closed(n) {
		return race.OpenLane{Lane: n}
	}
	return race.CloseLane{Lane: n}
}

// shown shows what enter would do.
func (r *Root) shown(text string, do func() tea.Cmd) {
	r.sure = &sure{text, do, r.now().Add(2 * laneFor)}
}

// amount takes the digit that was asked for.
func (r *Root) amount(n int) tea.Cmd {
	a := r.ask
	if a.fractions {
		r.ask.hundreds += itoa(n)
		if len(r.ask.hundreds) < 2 {
			return nil
		}
		h := 10*int(r.ask.hundreds[0]-'0') + int(r.ask.hundreds[1]-'0')
		r.ask = asking{}
		return r.do(race.Penalise{Heat: a.heat, Lane: a.lane, Hundredths: h, By: r.by, Why: r.reason()})
	}
	r.ask = asking{}
	switch a.what {
	case penaltyLaps:
		return r.do(race.Penalise{Heat: a.heat, Lane: a.lane, Laps: n, By: r.by, Why: r.reason()})
	case toLane:
		return r.do(race.MovePass{Heat: a.heat, Lane: a.lane, To: n, By: r.by, Why: r.reason()})
	case carNumber:
		return r.do(race.AssignCar{Driver: a.lane, Car: n})
	}
	return nil
}

func (r *Root) addQuestions() {
	answer := func(yes bool) func() tea.Cmd {
		return func() tea.Cmd {
			id := r.quest
			r.quest = r.olderQuestion(id)
			return r.do(race.Answer{Question: id, Yes: yes, By: r.by})
		}
	}
	r.acts.Add(
		action.Action{ID: "yes", Name: "yes: do what the question proposes", Short: "yes", Keys: []string{"y"}, In: cQuestion, Do: answer(true)},
		action.Action{ID: "no", Name: "no: leave it as it is", Short: "no", Keys: []string{"n"}, In: cQuestion, Do: answer(false)},
		action.Action{ID: "questions", Name: "the judge's questions, newest first", Keys: []string{"j"}, In: cAny, On: func() bool { return len(r.snap.Questions) > 0 }, Do: then(r.nextQuestion),
			Label: func() string { return "questions (" + itoa(len(r.snap.Questions)) + ")" }},
	)
}

// nextQuestion brings the newest question to the front, or the next older one if one is there.
func (r *Root) nextQuestion() {
	if r.quest == 0 {
		r.quest = r.snap.Questions[len(r.snap.Questions)-1].ID
		return
	}
	if r.quest = r.olderQuestion(r.quest); r.quest == 0 {
		r.nextQuestion()
	}
}

// olderQuestion returns the question before one, 0 if there is none.
func (r *Root) olderQuestion(id uint64) uint64 {
	var older uint64
	for _, q := range r.snap.Questions {
		if q.ID == id {
			break
		}
		older = q.ID
	}
	return older
}

func (r *Root) addPlaceActions() {
	s := r.screens[signOn].(*signOnScreen)
	on := action.Context(signOn)
	r.acts.Add(
		action.Action{ID: "driver-out", Name: "driver drops out, from the next heat on", Short: "drops out", Keys: []string{"d"}, In: cAny, On: func() bool { return len(r.snap.Entries) > 0 }, Do: s.drop,
			Label: func() string {
				if r.place == signOn {
					return "drops out"
				}
				return ""
			}},
		action.Action{ID: "driver-in", Name: "driver comes back", Short: "comes back", Keys: []string{"D"}, In: on, On: func() bool { e := s.entry(); return e != nil && e.Away }, Do: s.comeBack},
		action.Action{ID: "share", Name: "two drivers share a car: choose one, press, choose the other, press again", Short: "share a car", Keys: []string{"s"}, In: on, On: func() bool { return s.entry() != nil }, Do: s.share},
		action.Action{ID: "car-number", Name: "give the driver a car number", Short: "car number", Keys: []string{"i"}, In: on, On: func() bool { return r.snap.Digital && s.entry() != nil }, Do: s.carNumber},
		action.Action{ID: "redraw", Name: "make the rotation of the heats ahead anew, to look at first", Short: "new rotation", Keys: []string{"R"}, In: action.Context(rotation), On: func() bool { return len(r.snap.Entries) > 1 }, Do: r.startRedraw},
		action.Action{ID: "call-heat", Name: "call the chosen heat to the line", Short: "call this heat", Keys: []string{"h"}, In: action.Context(rotation), On: func() bool { return !r.live() && r.screens[rotation].(*rotationScreen).chosen() != nil },
			Do: func() tea.Cmd { return r.do(race.Stage{Heat: r.screens[rotation].(*rotationScreen).chosen().Heat}) }},
		action.Action{ID: "make-paper", Name: "make the chosen paper or file", Short: "make it", Keys: []string{"b"}, In: action.Context(sheets), On: func() bool { return r.screens[sheets].(*sheetsScreen).paper() != nil }, Do: func() tea.Cmd { return r.screens[sheets].(*sheetsScreen).make() }},
		action.Action{ID: "edit", Name: "type another value for the chosen line", Short: "type a value", Keys: []string{"e"}, In: action.Context(setUp), On: func() bool { return r.screens[setUp].(*setUpScreen).canType() }, Do: then(func() { r.screens[setUp].(*setUpScreen).edit() })},
		action.Action{ID: "board-size", Name: "next view size of the Board", Short: "view size", Keys: []string{"v"}, In: action.Context(board), Do: then(func() { r.size = (r.size + 1) % boardSizes })},
	)
}

func (r *Root) addAnywhere() {
	between := func() bool { return !r.live() }
	r.acts.Add(
		action.Action{ID: "parts", Name: "part laps: where the cars stopped", Short: "part laps", Keys: []string{"f"}, In: cAny, On: func() bool { return r.snap.Phase == race.Finish && r.snap.Card.PartOf > 0 && r.lackingPart(0) != 0 },
			Do: then(func() { r.typePart(r.lackingPart(0), 0) })},
		action.Action{ID: "undo", Name: "take back what was done last", Keys: []string{"u", "ctrl+z"}, In: cAny, On: func() bool { return r.snap.Undo != "" }, Do: func() tea.Cmd { return r.do(race.Undo{}) },
			Label: func() string { return "take back" }},
		action.Action{ID: "undo-typing", Name: "take back what was done last, while typing", Keys: []string{"ctrl+z"}, In: cText, Also: []action.Context{cSignText, cPalette}, On: func() bool { return r.snap.Undo != "" }, Do: func() tea.Cmd { return r.do(race.Undo{}) }, Quiet: true},
		action.Action{ID: "redo", Name: "do again what was taken back", Keys: []string{"U", "ctrl+y"}, In: cAny, On: func() bool { return r.snap.Redo != "" }, Do: func() tea.Cmd { return r.do(race.Redo{}) }},
		action.Action{ID: "go", Name: "go to a screen: g and its letter", Short: "go", Keys: []string{"g"}, In: cAny, Do: then(func() { r.goAt = r.now() }), Quiet: true},
		action.Action{ID: "rotation", Name: "the rotation", Keys: []string{"r"}, In: cAny, On: func() bool { return r.place != rotation }, Do: func() tea.Cmd { return r.goTo(rotation) }, Quiet: true},
		action.Action{ID: "add-driver", Name: "add a driver", Short: "add a driver", Keys: []string{"a"}, In: cAny, Do: func() tea.Cmd { return r.goTo(signOn) }},
		action.Action{ID: "free-laps", Name: "free laps, with best laps: begin or end", Keys: []string{"l"}, In: cAny, On: func() bool {
			return between() && r.snap.Phase != race.Over && r.snap.Phase != race.Finish && r.snap.Phase != ""
		}, Do: func() tea.Cmd {
			if r.snap.Phase == race.Practice {
				return r.do(race.StopPractice{})
			}
			return r.do(race.StartPractice{})
		}, Label: func() string {
			if r.snap.Phase == race.Practice {
				return "end free laps"
			}
			if r.place == setUp {
				return "free laps"
			}
			return ""
		}},
		action.Action{ID: "heat-void", Name: "the heat is void and is driven again", Keys: []string{"X"}, In: cAny, On: func() bool { return r.snap.Heat > 0 && r.snap.Phase != race.Staged && r.snap.Phase != race.Over }, Do: then(func() {
			n := r.snap.Heat
			r.shown("heat "+itoa(n)+" is void: its laps do not count and it is driven again", func() tea.Cmd { return r.do(race.VoidHeat{Heat: n}) })
		})},
		action.Action{ID: "who-rules", Name: "name who rules tonight: it stands beside every ruling", In: cAny, Do: then(func() {
			r.typeFor(typing{field: field{label: "who rules tonight"}, what: "by"})
			r.typing.text = r.by
		})},
		action.Action{ID: "heat-end", Name: "end the heat now", In: cAny, On: func() bool { return r.live() && r.snap.Phase != race.Lamps }, Do: then(func() {
			r.shown("the heat ends now", func() tea.Cmd { return r.do(race.FinishHeat{}) })
		})},
		action.Action{ID: "power-on", Name: "track power on, between heats (no safety device: pull the plug before you work on the track)", In: cAny, On: func() bool { return between() && r.snap.Card.Power }, Do: func() tea.Cmd { return r.do(race.SwitchPower{On: true}) }},
		action.Action{ID: "power-off", Name: "track power off, between heats (no safety device: pull the plug before you work on the track)", In: cAny, On: func() bool { return between() && r.snap.Card.Power }, Do: func() tea.Cmd { return r.do(race.SwitchPower{}) }},
		action.Action{ID: "night-end", Name: "close the night: nothing can be driven afterwards", In: cAny, On: func() bool { return between() && r.snap.NextKey != "close-night" }, Do: then(func() {
			r.shown("the night is closed", func() tea.Cmd { return r.do(race.CloseNight{}) })
		})},
		action.Action{ID: "palette", Name: "search everything that can be done, drivers and screens", Short: "search", Keys: []string{":"}, In: cAny, Do: then(func() {
			r.typeFor(typing{field: field{label: ":"}, what: "palette"})
		}), Quiet: true},
		action.Action{ID: "filter", Name: "filter the list in front", Short: "filter", Keys: []string{"/"}, In: cAny, On: r.filters, Do: then(func() {
			r.typeFor(typing{field: field{label: "show only"}, what: "filter"})
			r.typing.text = r.filter()
		})},
		action.Action{ID: "page", Name: "page for phones and a second screen: on or off", Keys: []string{"w"}, In: cAny, On: func() bool { return r.opt.Page != nil }, Do: r.turnPage},
		action.Action{ID: "sound", Name: "sound on or off", Keys: []string{"m"}, In: cAny, Do: then(func() {
			r.set.Sound = !r.set.Sound
			r.say(map[bool]string{true: "sound on", false: "sound off"}[r.set.Sound], false)
		})},
		action.Action{ID: "motion", Name: "moving parts of the screens on or off", In: cAny, Do: then(func() { r.set.Still = !r.set.Still })},
		action.Action{ID: "colour", Name: "colours on or off", In: cAny, Do: then(func() { r.set.NoColor = !r.set.NoColor; r.repaint() })},
		action.Action{ID: "graph", Name: "curves in dots, in blocks, or none", In: cAny, Do: then(func() {
			r.set.Graph = map[string]string{"": "block", "braille": "block", "block": "none", "none": "braille"}[r.set.Graph]
		})},
		action.Action{ID: "close", Name: "close the nearest thing", Short: "close", Keys: []string{"esc"}, In: cSafe, On: r.anyOpen, Do: then(r.close), Quiet: true, Label: func() string {
			switch {
			case r.somethingOpen():
				return "close"
			case r.place != desk:
				return "back to the Desk"
			}
			return ""
		}},
		action.Action{ID: "leave", Name: "leave this screen", Keys: []string{"q"}, In: cAny, Do: r.leave},
		action.Action{ID: "help", Name: "the keys of this moment; again closes", Short: "keys", Keys: []string{"?"}, In: cAny, Do: then(func() { r.help, r.helpTop = !r.help, 0 }), Quiet: true},
	)
}

// anyOpen says whether esc has something to do.
func (r *Root) anyOpen() bool {
	return r.somethingOpen() || r.said.text != "" || r.place != desk
}

// somethingOpen says whether something lies over the screen or waits for a key.
func (r *Root) somethingOpen() bool {
	return r.sure != nil || r.quest != 0 || r.help || r.lane != 0 || !r.goAt.IsZero() || r.ask.what != nothing || r.qr || r.redraw != nil || r.filter() != ""
}

// close closes the nearest thing.
func (r *Root) close() {
	switch {
	case !r.goAt.IsZero():
		r.goAt = time.Time{}
	case r.ask.what != nothing:
		r.ask = asking{}
	case r.sure != nil:
		r.sure = nil
	case r.quest != 0:
		r.quest = 0
	case r.qr:
		r.qr = false
	case r.help:
		r.help = false
	case r.lane != 0:
		r.lane = 0
	case r.redraw != nil && r.place == rotation:
		r.dropRedraw()
	case r.filter() != "":
		delete(r.kept, "showing "+string(r.place))
		delete(r.kept, "filter 0.0")
	case r.said.text != "":
		r.said = saying{}
	default:
		r.goTo(desk)
	}
}

func (r *Root) leave() tea.Cmd {
	if r.place != desk {
		return r.goTo(desk)
	}
	if r.live() {
		r.say("a heat is live: ctrl+c twice quits, and the night resumes where it was", false)
		return nil
	}
	return tea.Quit
}

func (r *Root) addGo() {
	for _, p := range places {
		r.acts.Add(
			action.Action{ID: "go-" + p.key, Name: string(p.to) + ": " + p.name, Short: string(p.to), Keys: []string{p.key}, In: cGo, Do: func() tea.Cmd { return r.goTo(p.to) }, Quiet: true},
			action.Action{ID: "open-" + p.key, Name: "go to " + string(p.to) + ": " + p.name, In: cAny, On: func() bool { return r.place != p.to }, Do: func() tea.Cmd { return r.goTo(p.to) }},
		)
	}
}

func (r *Root) addMoves() {
	for _, k := range []string{"up", "down", "left", "right", "pgup", "pgdown", "home", "end", "tab", "shift+tab"} {
		a := action.Action{ID: "move-" + k, Name: "move " + k, Keys: []string{k}, In: cAny, Also: []action.Context{cHelp}, Do: then(func() { r.move(k) }), Quiet: true}
		if k == "tab" {
			a.Label = func() string {
				if r.place == sheets || r.place == signOn {
					return "next part"
				}
				return ""
			}
		}
		r.acts.Add(a)
	}
}

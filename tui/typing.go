package tui

import (
	"strconv"
	"strings"

	tea "charm.land/bubbletea/v2"

	"lanewright/race"
	"lanewright/tui/action"
)

// typing is text being typed for a purpose.
type typing struct {
	field
	what string // "palette", "filter", "comment", "part", "name", "value"
	lane int    // lane that it is about
	heat int
	id   string // what of the set-up is typed
}

// context returns the context in which keys work while it is typed.
func (t *typing) context() action.Context {
	switch t.what {
	case "palette":
		return cPalette
	case "name":
		return cSignText
	}
	return cText
}

// keep is the key under which text that was not used is kept.
func (t *typing) keep() string { return t.what + " " + itoa(t.heat) + "." + itoa(t.lane) + t.id }

// typeFor begins to type, with what was typed and not used before.
func (r *Root) typeFor(t typing) {
	r.stopTyping()
	t.text = r.kept[t.keep()]
	r.typing = &t
	r.pick = list{}
	r.typed()
}

// stopTyping closes the text and keeps what was typed.
func (r *Root) stopTyping() {
	if r.typing == nil {
		return
	}
	switch {
	case r.typing.ripe: // nothing was typed
		delete(r.kept, r.typing.keep())
	case r.typing.what != "palette":
		r.kept[r.typing.keep()] = r.typing.text
	}
	r.typing = nil
}

// typed is called when the text has changed.
func (r *Root) typed() {
	r.pick.at = 0
	switch r.typing.what {
	case "filter":
		r.kept["showing "+string(r.place)] = r.typing.text
	case "name":
		r.screens[signOn].(*signOnScreen).typed(r.typing.text)
	}
}

// filter returns what the list in front is filtered by.
func (r *Root) filter() string { return r.kept["showing "+string(r.place)] }

// enterText uses the text.
func (r *Root) enterText() tea.Cmd {
	t := r.typing
	switch t.what {
	case "palette":
		return r.enterPalette()
	case "name":
		return r.screens[signOn].(*signOnScreen).sign()
	}
	r.stopTyping()
	text := strings.TrimSpace(t.text)
	delete(r.kept, t.keep())
	switch t.what {
	case "comment":
		if text != "" {
			return r.do(race.Comment{Lane: t.lane, Text: text})
		}
	case "why":
		r.why = text
		r.laneTil = r.now().Add(laneFor)
	case "by":
		r.by = text
	case "part":
		return r.enterPart(t, text)
	case "value":
		return r.screens[setUp].(*setUpScreen).put(t.id, text)
	}
	return nil
}

// enterPart turns what was typed about a car's last place into a part lap, and asks for the next lane's.
func (r *Root) enterPart(t *typing, text string) tea.Cmd {
	if text == "" {
		return nil
	}
	c, err := readPart(text)
	if err != "" {
		r.kept[t.keep()] = text
		r.say(err, true)
		return nil
	}
	c.Heat, c.Lane, c.By = t.heat, t.lane, r.by
	cmd := r.do(c)
	if next := r.lackingPart(t.lane); next != 0 && r.snap.Phase == race.Finish {
		r.typePart(next, 0)
	}
	return cmd
}

// readPart reads where a car stopped: "12" is call 12, ".4" four tenths, "3/8" a fraction, "2350 mm" from the timing line.
func readPart(text string) (c race.SetPart, err string) {
	const how = "; write 12 for call 12, .4 for four tenths of a lap, 3/8, or 2350 mm"
	s := strings.ReplaceAll(strings.ToLower(strings.TrimSpace(text)), ",", ".")
	num := func(s string) (int, bool) {
		n, e := strconv.Atoi(strings.TrimSpace(s))
		return n, e == nil && n >= 0 && n <= 1e6
	}
	if mm, ok := strings.CutSuffix(s, "mm"); ok {
		if n, ok := num(mm); ok {
			c.Num = n
			return c, ""
		}
		return c, "cannot read the length " + strconv.Quote(text) + how
	}
	if a, b, ok := strings.Cut(s, "/"); ok {
		n, ok1 := num(a)
		d, ok2 := num(b)
		if ok1 && ok2 && d > 0 && n < d {
			c.Num, c.Den = n, d
			return c, ""
		}
		return c, strconv.Quote(text) + " is not a part of a lap" + how
	}
	if whole, dec, ok := strings.Cut(s, "."); ok {
		n, good := num(dec)
		if good && (whole == "" || whole == "0") && len(dec) <= 3 {
			c.Num, c.Den = n, 1
			for range len(dec) {
				c.Den *= 10
			}
			return c, ""
		}
		return c, strconv.Quote(text) + " is not a part of a lap" + how
	}
	if n, ok := num(s); ok && n > 0 {
		c.Call = n
		return c, ""
	}
	return c, "cannot read the place " + strconv.Quote(text) + how
}

// lackingPart returns the next lane after one that drove and has no part lap yet, 0 if all have.
func (r *Root) lackingPart(after int) int {
	for i := range r.snap.Running {
		l := &r.snap.Running[i]
		if l.Lane > after && l.Driver != 0 && !l.Closed && l.Part < 0 {
			return l.Lane
		}
	}
	return 0
}

// typePart begins to type where a lane's car stopped.
func (r *Root) typePart(lane, heat int) {
	r.typeFor(typing{field: field{label: "lane " + itoa(lane) + " stopped at"}, what: "part", lane: lane, heat: heat})
}

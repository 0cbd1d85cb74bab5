package tui

import (
	"strings"

	tea "charm.land/bubbletea/v2"

	"lanewright/race"
	"lanewright/tui/cell"
	"lanewright/tui/figure"
	"lanewright/tui/find"
)

// signOnScreen signs drivers on: two letters find a regular, enter enters him. Class and car are those he usually has, and can
// be typed over.
type signOnScreen struct {
	r      *Root
	list   list // drivers of the night
	fits   []Known
	fit    list
	part   int       // which part is typed: 0 name, 1 class, 2 car
	parts  [3]string // name, class, car while another part is typed
	shares int       // driver who shares a car, waiting for the other
}

func newSignOn(r *Root) *signOnScreen { return &signOnScreen{r: r} }

// enter opens the field for a name.
func (s *signOnScreen) enter() {
	s.part = 0
	s.r.typeFor(typing{field: field{label: "name"}, what: "name"})
}

// entries returns the drivers that show, by the filter.
func (s *signOnScreen) entries() []race.EntryRow {
	all := s.r.snap.Entries
	f := s.r.filter()
	if f == "" {
		return all
	}
	names := make([]string, len(all))
	for i, e := range all {
		names[i] = e.Name + " " + e.Class + " " + e.Group
	}
	var out []race.EntryRow
	for _, i := range find.Among(names, f) {
		out = append(out, all[i])
	}
	return out
}

// entry returns the chosen driver, nil if there is none.
func (s *signOnScreen) entry() *race.EntryRow {
	all := s.entries()
	if len(all) == 0 {
		return nil
	}
	return &all[max(0, min(s.list.at, len(all)-1))]
}

// typed finds the regulars that fit the name being typed.
func (s *signOnScreen) typed(text string) {
	if s.part != 0 {
		return
	}
	s.fit.at = 0
	s.fits = s.fits[:0]
	if strings.TrimSpace(text) == "" {
		return
	}
	in := map[string]bool{}
	for _, e := range s.r.snap.Entries {
		in[find.Fold(e.Name)] = true
	}
	var free []Known
	var names []string
	for _, k := range s.r.loaded.known {
		if !in[find.Fold(k.Name)] {
			free = append(free, k)
			names = append(names, k.Name+" "+k.Short)
		}
	}
	if len(find.Among(names, text)) == 0 { // somebody who is in already may enter again, in another class
		free, names = free[:0], names[:0]
		for _, k := range s.r.loaded.known {
			if find.Score(find.Fold(k.Name), find.Fold(strings.TrimSpace(text))) >= 80 {
				free, names = append(free, k), append(names, k.Name+" "+k.Short)
			}
		}
	}
	best := 0
	for _, i := range find.Among(names, text) {
		s.fits = append(s.fits, free[i])
	}
	// of those that fit equally well, who comes most often comes first
	score := func(k Known) int { return find.Score(find.Fold(k.Name+" "+k.Short), find.Fold(text)) }
	for i := 1; i < len(s.fits); i++ {
		for j := i; j > best && score(s.fits[j]) == score(s.fits[j-1]) && s.fits[j].Night > s.fits[j-1].Night; j-- {
			s.fits[j], s.fits[j-1] = s.fits[j-1], s.fits[j]
		}
	}
}

// chosenFit returns the regular that enter would sign on, nil if the name is a guest's.
func (s *signOnScreen) chosenFit() *Known {
	if len(s.fits) == 0 {
		return nil
	}
	k := &s.fits[max(0, min(s.fit.at, len(s.fits)-1))]
	if t := s.r.typing; t != nil && s.part == 0 && s.fit.at == 0 && find.Score(find.Fold(k.Name+" "+k.Short), find.Fold(strings.TrimSpace(t.text))) < 50 {
		return nil // letters that merely occur in this order are no reason to take a guest for somebody
	}
	return k
}

// offer says what enter does while a name is typed.
func (s *signOnScreen) offer() string {
	name := s.name()
	if name == "" {
		if s.r.snap.Next != "" {
			return s.r.snap.Next
		}
		return ""
	}
	if k := s.chosenFit(); k != nil {
		return "sign on " + cell.Clean(k.Name)
	}
	return "sign on " + name + " as a guest"
}

// name returns the name as typed.
func (s *signOnScreen) name() string {
	if s.r.typing != nil && s.part == 0 {
		return strings.TrimSpace(s.r.typing.text)
	}
	return strings.TrimSpace(s.parts[0])
}

// sign signs the chosen regular, or a guest of the typed name, on. With nothing typed it does the next step.
func (s *signOnScreen) sign() tea.Cmd {
	r := s.r
	s.keepPart()
	name := s.name()
	if name == "" {
		if r.snap.Next == "" {
			return nil
		}
		return r.next()
	}
	add := race.AddDriver{Name: name, Class: strings.TrimSpace(s.parts[1]), Car: strings.TrimSpace(s.parts[2])}
	if k := s.chosenFit(); k != nil {
		add.Name, add.Short, add.Register, add.Group = k.Name, k.Short, k.ID, k.Group
		if add.Class == "" {
			add.Class = k.Class
		}
		if add.Car == "" {
			add.Car = k.Car
		}
	}
	s.clear()
	return r.do(add)
}

// clear empties the field for the next driver.
func (s *signOnScreen) clear() {
	s.part, s.parts, s.fits, s.fit = 0, [3]string{}, nil, list{}
	if s.r.typing != nil {
		s.r.typing.label, s.r.typing.text = "name", ""
	}
	delete(s.r.kept, "name 0.0")
}

func (s *signOnScreen) keepPart() {
	if s.r.typing != nil && s.r.typing.what == "name" {
		s.parts[s.part] = s.r.typing.text
	}
}

// same signs on everybody who drove last time and is not there yet.
func (s *signOnScreen) same() tea.Cmd {
	in := map[string]bool{}
	for _, e := range s.r.snap.Entries {
		in[find.Fold(e.Name)] = true
	}
	var cmds []tea.Cmd
	for _, k := range s.r.loaded.lastNight {
		if !in[find.Fold(k.Name)] {
			cmds = append(cmds, s.r.do(race.AddDriver{Name: k.Name, Short: k.Short, Class: k.Class, Car: k.Car, Group: k.Group, Register: k.ID}))
		}
	}
	return tea.Batch(cmds...)
}

// move moves among what fits while typing, among the drivers otherwise; tab goes from part to part.
func (s *signOnScreen) move(key string) {
	r := s.r
	if r.typing == nil {
		switch key {
		case "tab":
			s.typePart(0)
		case "shift+tab":
			s.typePart(2)
		default:
			s.list.move(key)
		}
		return
	}
	switch key {
	case "tab":
		if s.part == 2 || s.name() == "" {
			s.keepPart()
			r.stopTyping()
			return
		}
		s.typePart(s.part + 1)
	case "shift+tab":
		if s.part == 0 {
			s.keepPart()
			r.stopTyping()
			return
		}
		s.typePart(s.part - 1)
	default:
		s.fit.n = len(s.fits)
		s.fit.move(key)
	}
}

// typePart types name, class or car.
func (s *signOnScreen) typePart(n int) {
	s.keepPart()
	if n == 0 || s.r.typing == nil {
		if s.r.typing == nil {
			s.r.typeFor(typing{what: "name"})
		}
	}
	s.part = n
	s.r.typing.label = [3]string{"name", "class", "car"}[n]
	s.r.typing.text = s.parts[n]
	if n == 0 {
		s.typed(s.parts[0])
	}
}

// drop takes the chosen driver out; elsewhere it leads to the list.
func (s *signOnScreen) drop() tea.Cmd {
	r := s.r
	if r.place != signOn {
		cmd := r.goTo(signOn)
		r.stopTyping()
		r.say("choose who drops out with the arrows, then d", false)
		return cmd
	}
	if e := s.entry(); e != nil && !e.Away {
		return r.do(race.DropDriver{Driver: e.Driver})
	}
	return nil
}

func (s *signOnScreen) comeBack() tea.Cmd {
	return s.r.do(race.ReturnDriver{Driver: s.entry().Driver})
}

// share joins two drivers to one car, or ends it.
func (s *signOnScreen) share() tea.Cmd {
	e := s.entry()
	switch {
	case s.shares == 0 && e.CarShare != 0:
		return s.r.do(race.ShareCar{Driver: e.Driver})
	case s.shares == 0:
		s.shares = e.Driver
		s.r.say("choose with whom "+cell.Clean(e.Name)+" shares a car, then s", false)
		return nil
	case s.shares == e.Driver:
		s.shares = 0
		return nil
	}
	with := s.shares
	s.shares = 0
	return s.r.do(race.ShareCar{Driver: with, With: e.Driver})
}

func (s *signOnScreen) carNumber() tea.Cmd {
	s.r.ask = asking{what: carNumber, lane: s.entry().Driver, until: s.r.now().Add(2 * laneFor)}
	return nil
}

// find chooses a driver in the list.
func (s *signOnScreen) find(driver int) {
	for i, e := range s.entries() {
		if e.Driver == driver {
			s.list.at = i
		}
	}
}

// choose chooses a row.
func (s *signOnScreen) choose(n int) {
	s.r.stopTyping()
	s.list.at = n
}

// clickName signs on the regular that was clicked.
func (s *signOnScreen) clickName(n int) tea.Cmd {
	s.fit.at = n
	if s.r.typing == nil || n >= len(s.fits) {
		return nil
	}
	return s.sign()
}

func (s *signOnScreen) draw(g *cell.Grid, b cell.Box) {
	r := s.r
	top, rest := b.Top(1)
	if r.typing != nil && r.typing.what == "name" {
		r.drawTyping(g, top)
	} else {
		g.Put(top.X, top.Y, top.W, cell.Dim, "a types a name; two letters find a regular, enter signs him on")
		g.Zone(top, "act:add-driver")
	}
	if rest.H > 4 {
		top, rest = rest.Top(1)
		s.drawParts(g, top)
	}
	if r.typing != nil && s.name() != "" {
		n := max(1, min(len(s.fits), 6, rest.H/2))
		top, rest = rest.Top(n)
		s.drawFits(g, top)
	}
	s.drawEntries(g, rest)
}

// drawParts shows which class and car he gets.
func (s *signOnScreen) drawParts(g *cell.Grid, b cell.Box) {
	if s.r.typing == nil {
		return
	}
	if s.name() == "" {
		if n := len(s.r.loaded.lastNight); n > 0 {
			g.Put(b.X, b.Y, b.W, cell.Dim, "ctrl+l signs on the "+figure.Count(n, "driver")+" of last time")
		}
		return
	}
	class, car := s.parts[1], s.parts[2]
	if k := s.chosenFit(); k != nil {
		if class == "" {
			class = k.Class
		}
		if car == "" {
			car = k.Car
		}
	}
	g.Put(b.X, b.Y, b.W, cell.Dim, "name "+orDash(s.name())+"   class "+orDash(cell.Clean(class))+"   car "+orDash(cell.Clean(car))+"   tab changes")
}

func (s *signOnScreen) drawFits(g *cell.Grid, b cell.Box) {
	if len(s.fits) == 0 {
		g.Put(b.X+2, b.Y, b.W-2, cell.Dim, "nobody of that name: enter signs on a guest")
		return
	}
	s.fit.fit(len(s.fits), b.H)
	for i := 0; i < b.H && s.fit.top+i < len(s.fits); i++ {
		at := s.fit.top + i
		k := s.fits[at]
		st := cell.Normal
		if at == s.fit.at {
			st = cell.Pick
		}
		g.Fill(b.Row(i), st)
		name := cell.Clean(k.Name)
		for _, e := range s.r.snap.Entries {
			if e.Name == k.Name {
				name += " (again)"
				break
			}
		}
		g.Put(b.X+2, b.Y+i, b.W/2-2, st, name)
		g.Put(b.X+b.W/2, b.Y+i, b.W/4, st, cell.Clean(k.Class))
		g.Put(b.X+b.W*3/4, b.Y+i, b.W/4, st, cell.Clean(k.Car))
		g.Zone(b.Row(i), "name:"+itoa(at))
	}
}

func (s *signOnScreen) drawEntries(g *cell.Grid, b cell.Box) {
	r := s.r
	all := s.entries()
	here := 0
	for _, e := range all {
		if !e.Away {
			here++
		}
	}
	b = heading(g, b, figure.Count(here, "driver")+" tonight"+r.filterNote())
	s.list.fit(len(all), b.H)
	for i := 0; i < b.H && s.list.top+i < len(all); i++ {
		at := s.list.top + i
		e := all[at]
		st := cell.Normal
		if at == s.list.at && r.typing == nil {
			st = cell.Pick
		}
		g.Fill(b.Row(i), st)
		y := b.Y + i
		g.Right(b.X, y, 3, st, itoa(e.Driver))
		note := figure.Count(e.HeatsRun, "heat") + " driven, " + itoa(e.HeatsToo) + " to drive"
		switch {
		case e.Away:
			note = "dropped out"
		case e.CarShare != 0:
			note = "shares a car with " + r.driverName(e.CarShare)
		}
		nameW := max(10, b.W*2/5)
		g.Put(b.X+4, y, nameW-5, st, cell.Clean(e.Name))
		g.Put(b.X+nameW, y, b.W/5-1, st, orDash(cell.Clean(e.Class)))
		g.Put(b.X+nameW+b.W/5, y, b.W-nameW-b.W/5, st, note)
		g.Zone(b.Row(i), "row:"+itoa(at))
	}
	if len(all) == 0 {
		g.Put(b.X, b.Y, b.W, cell.Dim, "nobody yet: type a name")
	}
}

// filterNote says what the list in front is filtered by.
func (r *Root) filterNote() string {
	if f := r.filter(); f != "" {
		return " that fit " + cell.Clean(f)
	}
	return ""
}

// filters says whether the list in front can be filtered.
func (r *Root) filters() bool {
	switch r.place {
	case signOn, rotation, rulings, tape:
		return true
	}
	return false
}

// driverName returns the name of a driver of the night.
func (r *Root) driverName(n int) string {
	for _, e := range r.snap.Entries {
		if e.Driver == n {
			return cell.Clean(e.Name)
		}
	}
	return "-"
}

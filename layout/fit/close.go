// Package fit finds out whether a layout fits: on its tables, beside itself, and at its own end; and what would make it
// fit.
package fit

import (
	"cmp"
	"errors"
	"fmt"
	"math"
	"slices"
	"strings"

	"lanewright/layout"
	"lanewright/layout/lattice"
)

// Edit is one change to a course: a piece added, taken out, or put in another's place, on all the roads in question.
type Edit struct {
	Action string `json:"action"` // "add", "remove", "swap", "set" (another size, on routed tracks)
	Call   int    `json:"call"`   // of the plan: the piece lies in it, or is added at its end (0: before the first call)
	Index  int    `json:"index"`  // of the piece along the first of the roads; of the one before what is added
	Piece  string `json:"piece,omitempty"`
	With   string `json:"with,omitempty"` // what is added or put in its place, as a call
}

// String says what to do.
func (e Edit) String() string {
	switch e.Action {
	case "add":
		return fmt.Sprintf("add %s after piece %d (call %d)", e.With, e.Index, e.Call)
	case "set":
		return fmt.Sprintf("make %s, piece %d (call %d), %s", e.Piece, e.Index, e.Call, e.With)
	case "remove":
		return fmt.Sprintf("take out %s, piece %d (call %d)", e.Piece, e.Index, e.Call)
	}
	return fmt.Sprintf("put %s for %s, piece %d (call %d)", e.With, e.Piece, e.Index, e.Call)
}

// Closing is a set of changes after which the roads close exactly.
type Closing struct {
	Road  int    `json:"road"` // whose pieces change; 0: those of all roads
	Edits []Edit `json:"edits"`
	// Added and Removed count pieces of all roads concerned.
	Added   int `json:"added"`
	Removed int `json:"removed"`
	// NetTurnDeg is what road 1 turns in all afterwards.
	NetTurnDeg float64 `json:"net_turn_deg"`
	// Exact says that the roads close in exact arithmetic. Lengths of a routed track are proposed to a thousandth of a
	// millimetre, so there it may be false; then a gap of about that much is left.
	Exact bool `json:"exact"`
	// Calls is the course with the changes made, nil where a changed call cannot be worded again (one that lists pieces
	// road by road, or holds more than plain pieces). With it Findings are what the changed plan has to say, tables and
	// collisions included, of level error.
	Calls    []string         `json:"calls,omitempty"`
	Findings []layout.Finding `json:"findings,omitempty"`

	sign    string
	trouble bool // there will be Findings
	track   layout.Track
}

// CloseOptions bound a search.
type CloseOptions struct {
	Most     int  // proposals wanted, best first; 0 means 10
	AnyStock bool // do not look at what the club owns
}

// CloseResult is what a search found.
type CloseResult struct {
	Closings []Closing `json:"closings"`
	Tried    int64     `json:"tried"` // states looked at: combinations of changes whose end was computed
	Scope    string    `json:"scope"` // what was looked through, in words
}

// ErrNoSearch reports a track that the search cannot work on.
var ErrNoSearch = errors.New("cannot search for what closes it")

// Close looks for the smallest changes that close a layout exactly, with pieces that the club owns: pieces added, taken
// out or swapped. A straight's direction must be one of the headings that the course has or gets. Looked through are all
// combinations of up to four changes of straights, of one change of a bend with up to three of straights, and of two
// changes of bends with up to two of straights; smallest first, counted in pieces handled.
//
// Where all roads miss their start alike they are changed together; otherwise each road that misses is looked at by
// itself. Whether a combination closes is decided in exact arithmetic ([lattice.Zero]); floating point only picks what
// is worth deciding. Height and lane spacing are not touched: changes are made to flat straights and bends only.
// It reads no clock; a caller that wants a rate divides Tried by its own time.
func Close(t layout.Track, o CloseOptions) (CloseResult, error) {
	if o.Most <= 0 {
		o.Most = 10
	}
	if len(t.Roads) == 0 || len(t.Joins) < len(t.Roads) {
		return CloseResult{}, fmt.Errorf("fit: the track has no roads; mend what the check of the plan reports first: %w", ErrNoSearch)
	}
	if slices.ContainsFunc(t.Roads, func(r layout.Road) bool { return len(r.Pieces) == 0 }) {
		return CloseResult{}, fmt.Errorf("fit: a road has no pieces; mend what the check of the plan reports first: %w", ErrNoSearch)
	}
	for _, j := range t.Joins {
		if j.Into != j.Road {
			return CloseResult{}, fmt.Errorf("fit: road %d runs into road %d; part them first: %w", j.Road, j.Into, ErrNoSearch)
		}
	}
	if !slices.ContainsFunc(t.Joins, func(j layout.Join) bool { return !j.Exact }) {
		return CloseResult{Scope: "nothing: every road closes exactly"}, nil
	}
	if !slices.ContainsFunc(t.Joins, openInPlan) {
		return CloseResult{Scope: "nothing: every road closes in plan; what is open is height, or where the lanes lie on the road"}, nil
	}
	if t.Kit.Routed {
		return closeRouted(t, o)
	}
	if alike(t) {
		all := make([]int, len(t.Roads))
		for i := range all {
			all[i] = i
		}
		return closeRoads(t, all, 0, o)
	}
	var out CloseResult
	for i, j := range t.Joins {
		if !openInPlan(j) {
			continue
		}
		res, err := closeRoads(t, []int{i}, i+1, o)
		if err != nil {
			return out, err
		}
		out.Tried += res.Tried
		out.Closings = append(out.Closings, res.Closings...)
		out.Scope = res.Scope
	}
	return out, nil
}

// openInPlan says whether a road misses its start as seen from above. A join that exact arithmetic could judge has a gap
// of exactly nothing where there is none.
func openInPlan(j layout.Join) bool { return !j.Exact && (j.GapMM != 0 || j.AngleDeg != 0) }

// alike says whether all roads end beside road 1's end as they begin beside its start, so that what closes one closes
// all. The tolerance is that of sums of some hundred lengths.
func alike(t layout.Track) bool {
	first := t.Roads[0].Pieces
	for _, r := range t.Roads[1:] {
		if len(first) == 0 || len(r.Pieces) == 0 {
			return false
		}
		a := first[0].Start.Seen(r.Pieces[0].Start)
		b := first[len(first)-1].End.Seen(r.Pieces[len(r.Pieces)-1].End)
		if math.Abs(a.X-b.X) > 1e-6 || math.Abs(a.Y-b.Y) > 1e-6 || math.Abs(a.Heading-b.Heading) > 1e-9 {
			return false
		}
	}
	return true
}

func closeRoads(t layout.Track, roads []int, number int, o CloseOptions) (CloseResult, error) {
	c := chain{units: unitsOf(t, roads), symbols: alphabet(t, roads)}
	if len(c.units) == 0 {
		return CloseResult{}, fmt.Errorf("fit: the roads have no pieces: %w", ErrNoSearch)
	}
	c.reword()
	c.lay()
	pool := newPool(&c, t, o)
	c.search(pool)
	out := CloseResult{Tried: c.tried,
		Scope: fmt.Sprintf("up to 4 changes of straights, or 1 of a bend and 3 of straights, or 2 of bends and 2 of straights, at %d places with %d pieces",
			len(c.units), len(c.symbols))}
	if c.cut {
		out.Scope += "; the layout is so large that not all of these were tried"
	}
	moves := movesMost
	for _, f := range pool.best() {
		cl := f.closing(&c, number)
		if len(roads) == len(t.Roads) {
			cl.apply(t, &c, f)
			for _, g := range c.elsewhere(f) {
				if cl.Calls != nil && !cl.trouble || moves == 0 {
					break
				}
				moves--
				if other := g.closing(&c, number); other.apply(t, &c, g) && !other.trouble {
					cl = other
				}
			}
		}
		out.Closings = append(out.Closings, cl)
	}
	out.Closings = rank(out.Closings, o.Most)
	return out, nil
}

// rank puts proposals without errors before others, then small ones before large ones, and keeps one of those that do
// the same thing at different places.
func rank(cs []Closing, most int) []Closing {
	slices.SortStableFunc(cs, func(a, b Closing) int { return cmp.Compare(boolToInt(a.trouble), boolToInt(b.trouble)) })
	var out []Closing
	for _, c := range cs {
		if !slices.ContainsFunc(out, func(d Closing) bool { return d.sign == c.sign }) && len(out) < most {
			c.look()
			out = append(out, c)
		}
	}
	return out
}

func boolToInt(b bool) int {
	if b {
		return 1
	}
	return 0
}

// look fills in what the changed plan has to say, beyond what try found.
func (cl *Closing) look() {
	if !cl.trouble {
		return
	}
	for _, f := range append(Collisions(cl.track), OnTables(cl.track).Findings()...) {
		if f.Level == layout.Error {
			cl.Findings = append(cl.Findings, f)
		}
	}
	cl.track = layout.Track{}
}

// chain is a course as units, with where each begins.
type chain struct {
	units   []unit
	symbols []unit
	at      []complex128 // start of each unit on the first road; one more than units
	micro   []int64      // heading there
	tried   int64
	cut     bool // not everything was looked at
}

// reword gives plain units the words of the call that lays them.
func (c *chain) reword() {
	for i := range c.units {
		for _, s := range c.symbols {
			if c.units[i].plain && sameParts(c.units[i], s) {
				c.units[i].text = s.text
				break
			}
		}
	}
}

func (c *chain) lay() {
	c.at, c.micro = make([]complex128, len(c.units)+1), make([]int64, len(c.units)+1)
	for i := range c.units {
		s := &c.units[i].roads[0]
		c.at[i+1] = c.at[i] + turnBy(c.micro[i])*s.way
		c.micro[i+1] = c.micro[i] + s.micro
	}
}

// closes decides in exact arithmetic whether the units, in this order, bring every road back to its start.
func closes(units []*unit) bool {
	if len(units) == 0 {
		return false
	}
	for r := range units[0].roads {
		var terms []lattice.Term
		micro := int64(0)
		for _, u := range units {
			s := &u.roads[r]
			if !s.exact {
				return false
			}
			for _, x := range s.terms {
				terms = append(terms, lattice.Term{Units: x.Units, Micro: x.Micro + micro})
			}
			micro += s.micro
		}
		if wrap(micro) != 0 {
			return false
		}
		if zero, provable := lattice.Zero(terms); !zero || !provable {
			return false
		}
	}
	return true
}

// movesMost bounds how many other places are tried in all for proposals that are in somebody's way where they stand.
const movesMost = 60

// elsewhere lists the same changes with one added straight moved to another joint of its heading.
func (c *chain) elsewhere(f found) []found {
	var out []found
	for k, o := range f.ops {
		if o.kind != add || c.symbols[o.symbol].straight == 0 {
			continue
		}
		others := slices.Delete(slices.Clone(f.ops), k, k+1)
		want := wrap(c.micro[o.at] + c.turnBefore(others, o.at))
		run := false
		for i := 1; i <= len(c.units); i++ {
			fits := wrap(c.micro[i]+c.turnBefore(others, i)) == want
			// Across a plain straight nothing but its number changes.
			if fits && i != o.at && !(run && c.units[i-1].plain && c.units[i-1].straight > 0) {
				g := found{cost: f.cost, sign: f.sign}
				at := 0
				for at < len(others) && others[at].at < i {
					at++
				}
				g.ops = slices.Insert(slices.Clone(others), at, op{i, add, o.symbol})
				out = append(out, g)
			}
			run = fits
		}
	}
	return out
}

// turnBefore is what the ops at places before i turn the course by.
func (c *chain) turnBefore(ops []op, i int) int64 {
	turn := int64(0)
	for at := range i {
		turn += c.turnAt(ops, at)
	}
	return turn
}

// apply words the changed course again and asks the engine what it has to say of it; true when the course could be
// worded and closes.
func (cl *Closing) apply(t layout.Track, c *chain, f found) bool {
	if calls, ok := c.calls(t.Plan, f); ok {
		cl.try(t, calls)
	}
	return cl.Calls != nil
}

// try resolves the changed course.
func (cl *Closing) try(t layout.Track, calls []string) {
	plan := t.Plan
	plan.Calls = nil
	for i, text := range calls {
		call := layout.ParseCall(text)
		call.Line = i + 1
		plan.Calls = append(plan.Calls, call)
	}
	track, findings := layout.Resolve(plan, t.Kit)
	exact := !slices.ContainsFunc(track.Joins, func(j layout.Join) bool { return !j.Exact })
	if !track.Closes || cl.Exact && !exact {
		return // height or spacing is open as well, or the words did not lay the same pieces
	}
	cl.Calls, cl.Exact = calls, exact
	for _, fd := range findings {
		if fd.Level == layout.Error {
			cl.Findings = append(cl.Findings, fd)
		}
	}
	cl.track = track
	cl.trouble = len(cl.Findings) > 0 || slices.ContainsFunc(Collisions(track), func(f layout.Finding) bool { return f.Level == layout.Error }) ||
		hangsOver(track)
}

// calls writes the course anew: calls that nothing changes in as they were, the others unit by unit.
func (c *chain) calls(p layout.Plan, f found) ([]string, bool) {
	var out []string
	ops := f.ops
	for i := 0; i <= len(c.units); {
		// What is added before unit i, which stands between two calls or opens a new one.
		for len(ops) > 0 && ops[0].at == i && ops[0].kind == add {
			out = append(out, c.symbols[ops[0].symbol].text)
			ops = ops[1:]
		}
		if i == len(c.units) {
			break
		}
		call := c.units[i].call
		end := i
		for end < len(c.units) && c.units[end].call == call {
			end++
		}
		if len(ops) == 0 || ops[0].at >= end {
			if call < 1 || call > len(p.Calls) {
				return nil, false
			}
			out = append(out, p.Calls[call-1].Text)
			i = end
			continue
		}
		if call < 1 || call > len(p.Calls) || p.Calls[call-1].Apart || len(p.Calls[call-1].Sides) > 1 {
			return nil, false
		}
		var texts []string
		for ; i < end; i++ {
			text := c.units[i].text
			if !c.units[i].plain {
				return nil, false
			}
			gone := false
			for len(ops) > 0 && ops[0].at == i {
				switch ops[0].kind {
				case add:
					texts = append(texts, c.symbols[ops[0].symbol].text)
				case remove:
					gone = true
				case swap:
					text = c.symbols[ops[0].symbol].text
				}
				ops = ops[1:]
			}
			if !gone {
				texts = append(texts, text)
			}
		}
		if len(texts) > 0 {
			out = append(out, strings.Join(texts, ", "))
		}
	}
	return out, len(ops) == 0
}

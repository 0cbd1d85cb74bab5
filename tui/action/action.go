// Package action holds everything that a person can do on the screens, once: the keys, the help bar, the list of keys, the
// palette, the mouse and the manual page are all read from here, so that none of them can be wrong about another.
package action

import (
	tea "charm.land/bubbletea/v2"

	"lanewright/tui/find"
)

// Context names where an action's keys work: everywhere, on one screen, with a lane chosen, in a question.
type Context string

// Action is one thing that can be done.
type Action struct {
	ID    string // stable, kebab-case
	Name  string // for the palette and the list of keys: "Track call: stop the cars, hold the clock"
	Short string // for the help bar; empty: not in the bar
	Keys  []string
	In    Context
	Also  []Context      // further contexts in which the same keys do the same
	On    func() bool    // whether it can be done now; nil: always
	Do    func() tea.Cmd // does it
	Quiet bool           // not in the palette: moving about, typing
	Label func() string  // Short for this moment; nil: Short
}

// Enabled says whether the action can be done now.
func (a *Action) Enabled() bool { return a.On == nil || a.On() }

// Bar returns the words for the help bar.
func (a *Action) Bar() string {
	if a.Label != nil {
		return a.Label()
	}
	return a.Short
}

// Key returns how its first key is written for people, "" if it has none.
func (a *Action) Key() string {
	if len(a.Keys) == 0 {
		return ""
	}
	return Show(a.Keys[0])
}

// Show returns how a key is written for people.
func Show(key string) string {
	switch key {
	case "pgdown":
		return "pgdn"
	case "left", "right", "up", "down":
		return map[string]string{"left": "←", "right": "→", "up": "↑", "down": "↓"}[key]
	}
	return key
}

type place struct {
	in  Context
	key string
}

// Registry holds the actions in order of importance.
type Registry struct {
	all  []*Action
	byID map[string]*Action
	keys map[place][]*Action
}

// New returns an empty registry.
func New() *Registry {
	return &Registry{byID: map[string]*Action{}, keys: map[place][]*Action{}}
}

// Add adds actions behind those that are there. A second action of the same id replaces nothing and is a mistake of the
// programmer, seen by [Registry.Clashes].
func (r *Registry) Add(actions ...Action) {
	for i := range actions {
		a := &actions[i]
		r.all = append(r.all, a)
		if _, twice := r.byID[a.ID]; !twice {
			r.byID[a.ID] = a
		}
		for _, in := range append([]Context{a.In}, a.Also...) {
			for _, k := range a.Keys {
				p := place{in, k}
				r.keys[p] = append(r.keys[p], a)
			}
		}
	}
}

// Match returns what a key does in the contexts in force, the nearest first; nil if it does nothing now.
func (r *Registry) Match(in []Context, key string) *Action {
	for _, c := range in {
		for _, a := range r.keys[place{c, key}] {
			if a.Enabled() {
				return a
			}
		}
	}
	return nil
}

// ByID returns an action, nil if there is none of that id.
func (r *Registry) ByID(id string) *Action { return r.byID[id] }

// All returns every action in order.
func (r *Registry) All() []*Action { return r.all }

// Now returns the actions that can be done in the contexts in force, nearest context first, without those whose keys a nearer
// one has taken.
func (r *Registry) Now(in []Context) []*Action {
	var out []*Action
	taken := map[*Action]bool{}
	for _, c := range in {
		for _, a := range r.all {
			if taken[a] || !a.in(c) || !a.Enabled() || len(a.Keys) > 0 && !r.reach(in, a) {
				continue
			}
			taken[a] = true
			out = append(out, a)
		}
	}
	return out
}

func (a *Action) in(c Context) bool {
	if a.In == c {
		return true
	}
	for _, x := range a.Also {
		if x == c {
			return true
		}
	}
	return false
}

// reach says whether one of the action's keys gets to it.
func (r *Registry) reach(in []Context, a *Action) bool {
	for _, k := range a.Keys {
		if r.Match(in, k) == a {
			return true
		}
	}
	return false
}

// Find returns the actions that can be done in the contexts and fit the typed letters, best first. last, the id of the action
// chosen last time, comes first when nothing has been typed.
func (r *Registry) Find(in []Context, typed, last string) []*Action {
	var can []*Action
	var names []string
	for _, a := range r.all {
		if a.Quiet {
			continue
		}
		for _, c := range in {
			if a.in(c) && a.Enabled() {
				can, names = append(can, a), append(names, a.Name)
				break
			}
		}
	}
	var out []*Action
	for _, i := range find.Among(names, typed) {
		if can[i].ID == last && typed == "" {
			out = append([]*Action{can[i]}, out...)
			continue
		}
		out = append(out, can[i])
	}
	return out
}

// Line is one key of the manual page.
type Line struct {
	Keys  string // "u, ctrl+z"
	In    string // where
	Name  string // what it does
	Short string
}

// Lines returns every action that has a key, in order, for the manual page.
func (r *Registry) Lines() []Line {
	var out []Line
	for _, a := range r.all {
		keys := ""
		for i, k := range a.Keys {
			if i > 0 {
				keys += ", "
			}
			keys += Show(k)
		}
		if keys != "" {
			out = append(out, Line{Keys: keys, In: string(a.In), Name: a.Name, Short: a.Short})
		}
	}
	return out
}

// Clashes returns what is wrong with the registry: an id used twice, an action without a name, and single keys that mean
// different things in different contexts, save for the contexts named in apart, which are places of their own.
func (r *Registry) Clashes(apart ...Context) []string {
	var out []string
	ids := map[string]bool{}
	meaning := map[string]*Action{}
	for _, a := range r.all {
		if ids[a.ID] {
			out = append(out, "id used twice: "+a.ID)
		}
		ids[a.ID] = true
		if a.Name == "" || a.Do == nil {
			out = append(out, "without a name or a deed: "+a.ID)
		}
		own := false
		for _, c := range apart {
			own = own || a.In == c
		}
		if own {
			continue
		}
		for _, k := range a.Keys {
			if len([]rune(k)) != 1 {
				continue
			}
			if o := meaning[k]; o != nil && o.Name != a.Name {
				out = append(out, "key "+k+" means both "+o.ID+" and "+a.ID)
			}
			meaning[k] = a
		}
	}
	return out
}

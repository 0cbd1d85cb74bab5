package action

import (
	"strings"
	"testing"

	tea "charm.land/bubbletea/v2"
)

func nop() tea.Cmd { return nil }

func sample(live *bool) *Registry {
	r := New()
	r.Add(
		Action{ID: "call", Name: "track call", Keys: []string{"space"}, In: "safe", On: func() bool { return *live }, Do: nop},
		Action{ID: "near", Name: "give a lap", Keys: []string{"+"}, In: "lane", Do: nop},
		Action{ID: "far", Name: "zoom", Keys: []string{"+", "v"}, In: "any", Do: nop},
		Action{ID: "move", Name: "move", Keys: []string{"up"}, In: "any", Do: nop, Quiet: true},
	)
	return r
}

func TestTheNearestContextWins(t *testing.T) {
	live := false
	r := sample(&live)
	if a := r.Match([]Context{"lane", "any"}, "+"); a == nil || a.ID != "near" {
		t.Errorf("got %v", a)
	}
	if a := r.Match([]Context{"any"}, "+"); a == nil || a.ID != "far" {
		t.Errorf("got %v", a)
	}
	if a := r.Match([]Context{"safe"}, "space"); a != nil {
		t.Error("matches though it cannot be done")
	}
	live = true
	if a := r.Match([]Context{"safe"}, "space"); a == nil {
		t.Error("does not match though it can be done")
	}
}

func TestWhatCannotBeReachedDoesNotShow(t *testing.T) {
	live := false
	r := sample(&live)
	r.Add(Action{ID: "hidden", Name: "hidden by near", Keys: []string{"+"}, In: "any", Do: nop})
	var ids []string
	for _, a := range r.Now([]Context{"lane", "any", "safe"}) {
		ids = append(ids, a.ID)
	}
	if got := strings.Join(ids, " "); got != "near far move" {
		t.Errorf("shows %s", got)
	}
}

func TestFind(t *testing.T) {
	live := true
	r := sample(&live)
	in := []Context{"lane", "any", "safe"}
	if got := r.Find(in, "lap", ""); len(got) != 1 || got[0].ID != "near" {
		t.Errorf("got %v", got)
	}
	if got := r.Find(in, "", "far"); len(got) != 3 || got[0].ID != "far" {
		t.Errorf("the last choice does not come first: %v", got)
	}
}

func TestClashesAreSeen(t *testing.T) {
	live := true
	r := sample(&live)
	r.Add(Action{ID: "near", Name: "", In: "lane", Do: nop}, Action{ID: "y", Name: "yes", Keys: []string{"v"}, In: "question", Do: nop})
	got := strings.Join(r.Clashes(), "; ")
	for _, want := range []string{"id used twice: near", "without a name or a deed: near", "key + means both near and far", "key v means both far and y"} {
		if !strings.Contains(got, want) {
			t.Errorf("%q is not among %s", want, got)
		}
	}
	if got := strings.Join(r.Clashes("question"), "; "); strings.Contains(got, "key v") {
		t.Errorf("a context of its own clashes: %s", got)
	}
}

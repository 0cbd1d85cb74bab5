package find

import (
	"slices"
	"testing"
)

func TestAccentsDoNotHide(t *testing.T) {
	for _, c := range []struct{ in, want string }{{"Zoë", "zoe"}, {"Łukasz", "lukasz"}, {"Søren", "soren"}, {"Weiß", "weiss"}, {"ÅNGSTRÖM", "angstrom"}, {"Юрий", "юрии"}, {"陳", "陳"}} {
		if got := Fold(c.in); got != c.want {
			t.Errorf("Fold(%q) = %q, want %q", c.in, got, c.want)
		}
	}
}

func TestTheBestFitComesFirst(t *testing.T) {
	names := []string{"Amazon", "Zoë Marsh", "Marla Zorn", "Ömer Ak", "Tim Zander"}
	for _, c := range []struct {
		typed string
		want  []int
	}{
		{"zo", []int{1, 2, 0}}, {"om", []int{3}}, {"mz", []int{2}}, {"aon", []int{0, 2}}, {"", []int{0, 1, 2, 3, 4}}, {"qq", []int{}}, {"zan ti", []int{4}},
	} {
		if got := Among(names, c.typed); !slices.Equal(got, c.want) {
			t.Errorf("Among(%q) = %v, want %v", c.typed, got, c.want)
		}
	}
}

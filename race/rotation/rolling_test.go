package rotation

import (
	"errors"
	"reflect"
	"testing"

	"pgregory.net/rapid"
)

func TestRollingFollowsTheCircle(t *testing.T) {
	got, err := circle([]int{1, 2, 3, 4, 5, 6}, 2, nil)
	if want := []int{1, 3, 5, 6, 4, 2, 0, 0}; err != nil || !reflect.DeepEqual(got, want) {
		t.Errorf("circle of six lanes and two sit-out places: %v, want %v", got, want)
	}
	got, err = circle([]int{1, 2, 3, 4}, 2, []int{4, 2})
	if want := []int{1, 3, 0, 4, 2, 0}; err != nil || !reflect.DeepEqual(got, want) {
		t.Errorf("sit-out places after two and after four: %v, want %v", got, want)
	}
	d, err := Rolling(Problem{Drivers: 5, Lanes: 4})
	want := [][]int{{1, 4, 2, 3}, {5, 3, 1, 2}, {4, 2, 5, 1}, {3, 1, 4, 5}, {2, 5, 3, 4}}
	if err != nil || !reflect.DeepEqual(d.Heats, want) {
		t.Errorf("five drivers on four lanes: %v, want %v", d.Heats, want)
	}
}

// Whoever you follow tonight, you follow all night.
func TestRollingAlwaysFollowsTheSame(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		lanes := rapid.IntRange(2, 8).Draw(t, "lanes")
		n := rapid.IntRange(lanes, 40).Draw(t, "drivers")
		var after []int
		for range n - lanes {
			after = append(after, rapid.IntRange(0, lanes).Draw(t, "after"))
		}
		p := Problem{Drivers: n, Lanes: lanes, SitOut: after}
		d, err := Rolling(p)
		if err != nil {
			t.Fatal(err)
		}
		isComplete(t, d, p)
		// between one lane of the circle and the next, everybody comes after
		// the same driver
		for h := 1; h < len(d.Heats); h++ {
			for l, x := range d.Heats[h] {
				y := d.Heats[h-1][l]
				if (x-y+n)%n != n-1 {
					t.Fatalf("heat %d, lane %d: driver %d follows %d", h+1, l+1, x, y)
				}
			}
		}
	})
}

func TestRollingWithFewDrivers(t *testing.T) {
	for n := 1; n <= 6; n++ {
		p := Problem{Drivers: n, Lanes: 6, Rounds: 2}
		d, err := Rolling(p)
		if err != nil {
			t.Fatal(err)
		}
		isComplete(t, d, p)
	}
	if _, err := Rolling(Problem{}); !errors.Is(err, ErrProblem) {
		t.Errorf("nobody on no lanes: %v", err)
	}
}

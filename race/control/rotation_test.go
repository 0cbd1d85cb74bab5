package control

import (
	"context"
	"fmt"
	"testing"

	"pgregory.net/rapid"

	"lanewright/race"
)

func request(drivers, lanes int) DrawRequest {
	r := DrawRequest{MakeDraw: race.MakeDraw{Kind: "balanced", Rounds: 1, Seed: 1}, Seats: lanes, Posts: 2, FirstDrivers: drivers}
	for i := range drivers {
		r.Drivers = append(r.Drivers, race.Driver{Number: i + 1, Name: fmt.Sprint("D", i+1)})
	}
	r.Every = r.Drivers
	return r
}

// driven counts how often each driver is on each lane, and fails on a driver twice in a heat.
func driven(t rapid.TB, heats []race.PlannedHeat, run [][]int) map[[2]int]int {
	n := map[[2]int]int{}
	for _, row := range run {
		for l, d := range row {
			n[[2]int{d, l + 1}]++
		}
	}
	for h, p := range heats {
		in := map[int]bool{}
		for l, d := range p.Drivers {
			if d == 0 {
				continue
			}
			if in[d] {
				t.Fatalf("heat %d has driver %d twice", h+1, d)
			}
			in[d] = true
			n[[2]int{d, l + 1}]++
		}
		for _, m := range p.Marshals {
			if m != 0 && in[m] {
				t.Fatalf("heat %d: driver %d drives and marshals", h+1, m)
			}
		}
	}
	return n
}

// whole fails unless everybody is on every lane once.
func whole(t rapid.TB, r DrawRequest, heats []race.PlannedHeat) {
	n := driven(t, heats, r.Run)
	for _, d := range r.Drivers {
		for l := 1; l <= r.Seats; l++ {
			if n[[2]int{d.Number, l}] != 1 {
				t.Fatalf("driver %d is on lane %d %d times, want once", d.Number, l, n[[2]int{d.Number, l}])
			}
		}
	}
}

// begun is an evening of which some heats have been run and to which one driver has come late.
func begun(heats []race.PlannedHeat, k int, r DrawRequest) DrawRequest {
	for _, h := range heats[:k] {
		r.Run = append(r.Run, h.Drivers)
	}
	r.Ahead = heats[k:]
	r.Every = append(r.Every[:len(r.Every):len(r.Every)], race.Driver{Number: len(r.Every) + 1, Name: "late"})
	r.Drivers = r.Every
	return r
}

func TestRestInPlainOrderIsWhole(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		r := request(rapid.IntRange(2, 9).Draw(t, "drivers"), rapid.IntRange(2, 4).Draw(t, "lanes"))
		all := rest(r)
		r = begun(all, rapid.IntRange(0, len(all)-1).Draw(t, "run"), r)
		whole(t, r, rest(r))
	})
}

func TestRestOfTheEveningIsWhole(t *testing.T) {
	r := request(5, 3)
	draw, err := Rotation(t.Context(), r)
	if err != nil {
		t.Fatal(err)
	}
	whole(t, r, draw.Heats)
	r = begun(draw.Heats, 2, r)
	again, err := Rotation(t.Context(), r)
	if err != nil {
		t.Fatal(err)
	}
	whole(t, r, again.Heats)
	if len(again.Lines) == 0 {
		t.Error("the re-draw says nothing about what was lost")
	}
}

func TestDigitalHeatsKeepCarNumbers(t *testing.T) {
	r := request(7, 3)
	r.Digital = true
	r.Drivers[4].Car = 2
	draw, err := Rotation(context.Background(), r)
	if err != nil {
		t.Fatal(err)
	}
	times := map[int]int{}
	for _, h := range draw.Heats {
		for s, d := range h.Drivers {
			times[d]++
			if d == 5 && s != 1 {
				t.Errorf("driver 5 drives car %d, his is 2", s+1)
			}
		}
	}
	for d := 1; d <= 7; d++ {
		if times[d] != 1 {
			t.Errorf("driver %d drives %d heats, want 1", d, times[d])
		}
	}
}

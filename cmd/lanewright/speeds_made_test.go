package main

import (
	"context"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"testing"
	"time"

	"lanewright/layout"
	"lanewright/layout/pace"
	"lanewright/race"
	"lanewright/race/stints/evening"
	"lanewright/store"
)

// madeNight is an invented night on one of the example layouts. Everybody's lap is nine tenths of the lane's par lap, times the driver's pace,
// times what the lane adds beyond that, with luck of half a per cent a stint and two per cent a lap.
type madeNight struct {
	id      string
	layout  string // file in testdata/layouts
	drivers []string
	class   map[string]string
	cars    map[string]string
	pace    map[string]float64 // ln, 0 if not there
	lane    map[int]float64    // ln beyond the par lap
	day     int
	seed    uint64
	quick   float64 // everybody is quicker by this factor; 0 for 1
	change  func(*evening.Plan)
}

var clubDrivers = []string{"Ada Quill", "Bram Ostler", "Cleo Fenn", "Dov Marsh", "Edda Rook", "Finn Harrow", "Zoë Łukas"}

func clubPace() map[string]float64 {
	p := map[string]float64{}
	for i, d := range clubDrivers {
		p[d] = 0.01 * float64(i-3)
	}
	return p
}

func (m madeNight) plan(t testing.TB) evening.Plan {
	t.Helper()
	text, err := os.ReadFile(filepath.Join("..", "..", "testdata", "layouts", m.layout))
	if err != nil {
		t.Fatal(err)
	}
	plan, err := layout.ReadPlan(m.layout, text)
	if err != nil {
		t.Fatal(err)
	}
	kit, ok := layout.BuiltinKit(plan.Kit)
	if !ok {
		t.Fatalf("no kit %q", plan.Kit)
	}
	track, _ := layout.Resolve(plan, kit)
	info, err := layoutInfo(track, string(text))
	if err != nil {
		t.Fatal(err)
	}
	p := evening.Plan{Opened: race.Opened{Night: m.id, Club: "Heron Lane", Title: m.id, Layout: info, Scale: 32, Seed: 1}, Wall: time.Date(2026, 3, m.day, 19, 0, 0, 0, time.UTC)}
	p.Opened.Card = race.DefaultCard()
	p.Opened.Card.Length = 2 * time.Minute
	for _, d := range m.drivers {
		p.Drivers = append(p.Drivers, race.DriverAdded{Name: d, Class: m.class[d], Car: m.cars[d]})
	}
	lanes := len(info.Lanes)
	par, err := pace.Lanes(track, pace.BuiltinCars()[0], false)
	if err != nil {
		t.Fatal(err)
	}
	p.Heats = evening.Rolling(len(m.drivers), lanes)
	quick := m.quick
	if quick == 0 {
		quick = 1
	}
	luck := func(parts ...uint64) float64 {
		sum := m.seed
		for _, x := range parts {
			sum = sum*1_000_003 + x
		}
		return rand.New(rand.NewPCG(sum, 7)).NormFloat64()
	}
	p.Lap = func(heat, seat, driver, lap int) time.Duration {
		if lap == 0 {
			return 800 * time.Millisecond
		}
		name := m.drivers[driver-1]
		ln := m.pace[name] + m.lane[seat] + 0.005*luck(uint64(heat), uint64(seat)) + 0.02*luck(uint64(heat), uint64(seat), uint64(lap))
		d := time.Duration(par[min(seat, lanes)-1].LapsS[0] * 0.9 * math.Exp(ln) / quick * 1e9)
		if lap == 1 {
			d += 900 * time.Millisecond
		}
		return d
	}
	if m.change != nil {
		m.change(&p)
	}
	return p
}

// madeStore writes nights into a store as a live night does, event by event through the journal's own form.
func madeStore(t testing.TB, nights ...madeNight) string {
	t.Helper()
	path := filepath.Join(t.TempDir(), "club.lw")
	s, err := store.Open(path, store.Options{Program: "test"})
	if err != nil {
		t.Fatal(err)
	}
	defer func() {
		if err := s.Close(); err != nil {
			t.Fatal(err)
		}
	}()
	ctx := context.Background()
	for _, m := range nights {
		events := m.plan(t).Events()
		j, err := s.CreateNight(ctx, m.id, nightMeta(events))
		if err != nil {
			t.Fatal(err)
		}
		var records []store.Record
		for i, e := range events {
			k, data := race.Encode(e)
			records = append(records, store.Record{Seq: uint64(i + 1), Kind: uint16(k), Wall: int64(e.When()), Data: data})
		}
		if _, err := j.Append(ctx, records...); err != nil {
			t.Fatal(err)
		}
	}
	return path
}

// clubNight is the usual one: seven drivers on the four lanes of Saltmarsh Four, lane 3 with a worn braid that costs 1.5 %.
func clubNight() madeNight {
	return madeNight{id: "spring 1", layout: "saltmarsh-four.toml", drivers: clubDrivers, pace: clubPace(), lane: map[int]float64{3: 0.015}, day: 4, seed: 11}
}

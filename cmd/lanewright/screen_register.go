package main

import (
	"cmp"
	"context"
	"encoding/json"
	"fmt"
	"slices"

	"lanewright/race"
	"lanewright/store"
	"lanewright/tui"
)

// driverDoc is a driver in the club's register.
type driverDoc struct {
	Name   string `json:"name"`
	Short  string `json:"short,omitempty"`
	Class  string `json:"class,omitempty"` // usual class
	Car    string `json:"car,omitempty"`   // usual car
	Group  string `json:"group,omitempty"`
	Nights int    `json:"nights,omitempty"`
}

// register is the club's drivers as the sign-on screen sees them.
type register struct{ host }

// Known lists the drivers in the register, most frequent first.
func (r register) Known() ([]tui.Known, error) { return knownDrivers(r.current().store) }

func knownDrivers(s *store.Store) ([]tui.Known, error) {
	docs, err := s.List(store.KindDriver)
	if err != nil {
		return nil, err
	}
	known := make([]tui.Known, 0, len(docs))
	for _, d := range docs {
		var doc driverDoc
		if err := json.Unmarshal(d.Data, &doc); err != nil {
			return nil, fmt.Errorf("driver %s in the register cannot be read: %w", d.ID, err)
		}
		known = append(known, tui.Known{ID: d.ID, Name: doc.Name, Short: doc.Short, Class: doc.Class, Car: doc.Car, Group: doc.Group, Night: doc.Nights})
	}
	slices.SortStableFunc(known, func(a, b tui.Known) int {
		return cmp.Or(cmp.Compare(b.Night, a.Night), cmp.Compare(a.Name, b.Name))
	})
	return known, nil
}

// LastNight lists those who drove on the newest night other than this one.
func (r register) LastNight() ([]tui.Known, error) {
	s := r.current()
	nights, err := s.store.Nights()
	if err != nil {
		return nil, err
	}
	for _, info := range slices.Backward(nights) {
		if info.ID == s.night || info.Records == 0 {
			continue
		}
		night, err := foldNight(s.store, info.ID)
		if err != nil {
			return nil, err
		}
		var list []tui.Known
		for _, d := range night.Drivers() {
			list = append(list, knownOf(d))
		}
		return list, nil
	}
	return nil, nil
}

func knownOf(d race.Driver) tui.Known {
	return tui.Known{Name: d.Name, Class: d.Class, Group: d.Group}
}

// keepDrivers writes the drivers of a night into the register: who is there already gets his usual class and car brought up to
// date, a guest becomes known.
func keepDrivers(ctx context.Context, s *store.Store, drivers []tui.Known) error {
	docs, err := s.List(store.KindDriver)
	if err != nil {
		return err
	}
	byName := map[string]string{}
	old := map[string]driverDoc{}
	for _, d := range docs {
		var doc driverDoc
		if json.Unmarshal(d.Data, &doc) == nil {
			byName[doc.Name] = d.ID
			old[d.ID] = doc
		}
	}
	for _, d := range drivers {
		id := cmp.Or(d.ID, byName[d.Name], store.NewID())
		doc := old[id]
		doc.Name, doc.Nights = d.Name, doc.Nights+1
		doc.Short, doc.Class = cmp.Or(d.Short, doc.Short), cmp.Or(d.Class, doc.Class)
		doc.Car, doc.Group = cmp.Or(d.Car, doc.Car), cmp.Or(d.Group, doc.Group)
		data, err := json.Marshal(doc)
		if err != nil {
			return err
		}
		if _, err := s.Put(ctx, store.KindDriver, id, data); err != nil {
			return err
		}
	}
	return nil
}

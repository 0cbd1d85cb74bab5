package main

import (
	"cmp"
	"slices"

	"lanewright/race"
	"lanewright/store"
	"lanewright/tui"
)

// register is the club's drivers as the sign-on screen sees them.
type register struct{ host }

// Known lists the drivers in the register, most frequent first.
func (r register) Known() ([]tui.Known, error) { return knownDrivers(r.current().store) }

func knownDrivers(s *store.Store) ([]tui.Known, error) {
	var known []tui.Known
	err := each(s, store.KindDriver, func(id string, doc driverDoc) {
		known = append(known, tui.Known{ID: id, Name: doc.Name, Short: doc.Short, Class: doc.Class, Car: doc.Car, Group: doc.Group, Night: doc.Nights})
	})
	if err != nil {
		return nil, err
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
	return tui.Known{ID: d.Register, Name: d.Name, Short: d.Short, Class: d.Class, Car: d.CarName, Group: d.Group}
}

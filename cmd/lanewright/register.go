package main

import (
	"cmp"
	"context"
	"encoding/json"
	"fmt"

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

// carDoc is a car in the register.
type carDoc struct {
	Name  string `json:"name"`
	Scale int    `json:"scale"` // denominator
	Class string `json:"class,omitempty"`
	Owner string `json:"owner,omitempty"` // name of the driver who drove it last
}

// layoutDoc is a layout in the register, whole, so that it can be raced again although its file is gone.
type layoutDoc struct {
	Name string `json:"name"`
	Text string `json:"text"`
	File string `json:"file,omitempty"` // where it was read; a kit file lies beside it
}

// each reads every document of a kind.
func each[D any](s *store.Store, kind store.Kind, visit func(id string, doc D)) error {
	docs, err := s.List(kind)
	if err != nil {
		return err
	}
	for _, d := range docs {
		var doc D
		if err := json.Unmarshal(d.Data, &doc); err != nil {
			return fmt.Errorf("%s %s in the register cannot be read: %w", kind, d.ID, err)
		}
		visit(d.ID, doc)
	}
	return nil
}

func put(ctx context.Context, s *store.Store, kind store.Kind, id string, doc any) error {
	data, err := json.Marshal(doc)
	if err != nil {
		return err
	}
	_, err = s.Put(ctx, kind, id, data)
	return err
}

// keepDrivers writes the drivers of a night, and their cars, into the register: who is there already gets his usual class and car
// brought up to date, a guest becomes known.
func keepDrivers(ctx context.Context, s *store.Store, drivers []tui.Known, scale int) error {
	byName, old := map[string]string{}, map[string]driverDoc{}
	err := each(s, store.KindDriver, func(id string, doc driverDoc) { byName[doc.Name], old[id] = id, doc })
	if err != nil {
		return err
	}
	cars := map[string]string{}
	if err := each(s, store.KindCar, func(id string, doc carDoc) { cars[doc.Name+"\x00"+doc.Owner] = id }); err != nil {
		return err
	}
	for _, d := range drivers {
		id := cmp.Or(d.ID, byName[d.Name], store.NewID())
		doc := old[id]
		doc.Name, doc.Nights = d.Name, doc.Nights+1
		doc.Short, doc.Class = cmp.Or(d.Short, doc.Short), cmp.Or(d.Class, doc.Class)
		doc.Car, doc.Group = cmp.Or(d.Car, doc.Car), cmp.Or(d.Group, doc.Group)
		if err := put(ctx, s, store.KindDriver, id, doc); err != nil {
			return err
		}
		if d.Car == "" {
			continue
		}
		car := cmp.Or(cars[d.Car+"\x00"+d.Name], store.NewID())
		if err := put(ctx, s, store.KindCar, car, carDoc{Name: d.Car, Scale: scale, Class: doc.Class, Owner: d.Name}); err != nil {
			return err
		}
	}
	return nil
}

// keepLayout writes the layout of a night into the register.
func keepLayout(ctx context.Context, s *store.Store, l race.LayoutInfo, file string) error {
	if l.Name == "" || l.Text == "" {
		return nil
	}
	id := ""
	if err := each(s, store.KindLayout, func(known string, doc layoutDoc) {
		if doc.Name == l.Name {
			id = known
		}
	}); err != nil {
		return err
	}
	return put(ctx, s, store.KindLayout, cmp.Or(id, store.NewID()), layoutDoc{l.Name, l.Text, file})
}

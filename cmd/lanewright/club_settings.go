package main

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"path/filepath"

	"lanewright/layout"
	"lanewright/race"
	"lanewright/race/sheet"
	"lanewright/store"
)

// clubSettings are what a club's next night begins with: what the last one was. They lie in the register as one document.
type clubSettings struct {
	Club        string        `json:"club"`
	Title       string        `json:"title"`
	LayoutName  string        `json:"layout_name"`
	LayoutFile  string        `json:"layout_file,omitempty"` // where it was read; "" for an example
	LayoutText  string        `json:"layout_text"`
	Scale       int           `json:"scale"`
	Device      string        `json:"device"` // of the counter; simulatedCounter for one on the bench
	Description string        `json:"description,omitempty"`
	Card        race.Card     `json:"card"`
	Rotation    race.MakeDraw `json:"rotation"`
	Backup      string        `json:"backup,omitempty"`
}

const (
	settingsID       = "settings"
	simulatedCounter = "simulated"
	firstLayout      = "saltmarsh four"
)

// loadSettings reads the club's settings; a new club gets an invented layout of four lanes and a simulated counter, all of which
// shows at set-up and can be changed there.
func loadSettings(s *store.Store) (clubSettings, error) {
	set := clubSettings{
		Club: "Our club", Title: "Race night", Scale: 32, Device: simulatedCounter, Card: race.DefaultCard(),
		Rotation: race.MakeDraw{Kind: "balanced", Rounds: 1},
	}
	set.Card.Power = true
	text, ok := layout.Example(firstLayout)
	if !ok {
		return set, fmt.Errorf("the example layout %q is missing from the program", firstLayout)
	}
	set.LayoutName, set.LayoutText = "Saltmarsh Four", string(text)
	doc, err := s.Get(store.KindClub, settingsID)
	if errors.Is(err, store.ErrNotFound) {
		return set, nil
	}
	if err != nil {
		return set, err
	}
	if err := json.Unmarshal(doc.Data, &set); err != nil {
		return set, fmt.Errorf("the club's settings cannot be read: %w", err)
	}
	return set, nil
}

func (c clubSettings) save(ctx context.Context, s *store.Store) error {
	data, err := json.Marshal(c)
	if err != nil {
		return err
	}
	_, err = s.Put(ctx, store.KindClub, settingsID, data)
	return err
}

// night lays out the track of the settings and gives them the form of a night sheet, so that both ways begin a night alike.
func (c clubSettings) night() (nightSheet, error) {
	s := sheet.Sheet{
		File: "set-up", Club: c.Club, Title: c.Title, Layout: c.LayoutName, Scale: c.Scale, Card: c.Card, Rotation: c.Rotation, Seed: c.Rotation.Seed,
		Counters: []sheet.Counter{{Name: "counter", Device: c.Device, Description: c.Description}},
	}
	folder := ""
	if c.LayoutFile != "" {
		folder = filepath.Dir(c.LayoutFile)
	}
	return layOut(s, folder, func(string) ([]byte, error) { return []byte(c.LayoutText), nil })
}

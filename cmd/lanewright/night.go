package main

import (
	"fmt"
	"time"

	"github.com/spf13/cobra"

	"lanewright/race"
	"lanewright/race/control"
	"lanewright/store"
)

func nightCommand() *cobra.Command {
	return group(&cobra.Command{
		Use:   "night",
		Short: "Run a race night, show its results, print its sheets",
	}, nightRunCommand(), nightShowCommand(), nightListCommand(), nightSheetsCommand(), nightLapsCommand(), nightExplainCommand(), nightEventsCommand(),
		nightReplayCommand(), nightExportCommand(), nightImportCommand())
}

// pastNight is a night read from the store, and when its last event was written.
type pastNight struct {
	*race.Night
	id    string
	ended time.Time
}

// foldNight folds a night of a store into its state.
func foldNight(s *store.Store, id string) (pastNight, error) {
	j, err := s.Night(id)
	if err != nil {
		return pastNight{}, err
	}
	n := pastNight{Night: race.NewNight(), id: id}
	past := pastOf(j)
	_, err = control.Fold(n.Night, func(fn func(control.Record) error) error {
		return past(func(r control.Record) error {
			n.ended = time.Unix(0, r.Wall)
			return fn(r)
		})
	})
	if err != nil {
		return pastNight{}, fmt.Errorf("%s, night %q: %w", s.Path(), id, err)
	}
	return n, nil
}

// openForReading opens a store that must be there.
func openForReading(path string) (*store.Store, error) {
	s, err := store.Open(path, store.Options{ReadOnly: true, MustExist: true, Program: "lanewright"})
	if err != nil {
		return nil, missing(err, path)
	}
	return s, nil
}

// pickNight returns the night asked for, or the newest.
func pickNight(s *store.Store, args []string) (pastNight, error) {
	nights, err := s.Nights()
	if err != nil {
		return pastNight{}, err
	}
	if len(nights) == 0 {
		return pastNight{}, fmt.Errorf("%s holds no night yet", s.Path())
	}
	id := nights[len(nights)-1].ID
	if len(args) > 0 {
		id = args[0]
		known := false
		for _, n := range nights {
			known = known || n.ID == id
		}
		if !known {
			return pastNight{}, fmt.Errorf("%s holds no night %q; it has %s", s.Path(), id, nightNames(nights))
		}
	}
	return foldNight(s, id)
}

func nightNames(nights []store.NightInfo) string {
	names := make([]string, 0, len(nights))
	for _, n := range nights[max(len(nights)-5, 0):] {
		names = append(names, n.ID)
	}
	return quotedList(names)
}

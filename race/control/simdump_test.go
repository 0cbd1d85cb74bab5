package control

import (
	"flag"
	"fmt"
	"os"

	"lanewright/race"
)

var nightDump = flag.String("dump", "", "file for the journals of simulated nights")

// dumpPlayed writes the journal that the tapes give.
func (w *simNight) dumpPlayed(records []Record) {
	events := []race.Event{nil}
	for _, r := range records {
		e, _ := race.Decode(race.Kind(r.Kind), r.Data)
		events = append(events, e)
	}
	w.trail = append(w.trail, "played")
	w.dump(events)
}

// dump writes the journal of a night in words.
func (w *simNight) dump(events []race.Event) {
	if *nightDump == "" {
		return
	}
	f, err := os.OpenFile(*nightDump, os.O_CREATE|os.O_APPEND|os.O_WRONLY, 0o644)
	if err != nil {
		w.t.Fatal(err)
	}
	defer f.Close()
	fmt.Fprintf(f, "seed %d: %+v\n", w.seed, w.counter.c)
	for seq, e := range events {
		if c, ok := e.(race.Commented); e == nil || ok && c.Text == "racing" {
			continue
		}
		if p, ok := e.(race.Passed); ok {
			p.Raw = ""
			e = p
		}
		fmt.Fprintf(f, "%5d %8.3f %-16s %+v\n", seq, float64(e.When()-race.WallOf(w.began))/1e9, e.Kind(), e)
	}
	for _, line := range w.trail {
		fmt.Fprintln(f, line)
	}
}

package main

import (
	"fmt"
	"io"
	"time"

	"github.com/spf13/cobra"

	"lanewright/race"
	"lanewright/store"
	"lanewright/tui/figure"
)

func nightExplainCommand() *cobra.Command {
	var heat, lane, lap int
	var asJSON bool
	cmd := &cobra.Command{
		Use:   "explain FILE [NIGHT] --heat N --lane N [--lap N]",
		Short: "Where a printed lap comes from: bytes, ticks, clock segment, rule, digits",
		Args:  cobra.RangeArgs(1, 2),
		RunE: func(cmd *cobra.Command, args []string) error {
			s, err := openForReading(args[0])
			if err != nil {
				return err
			}
			defer s.Close()
			night, err := pickNight(s, args[1:])
			if err != nil {
				return err
			}
			heard, err := passesOf(s, night.id)
			if err != nil {
				return err
			}
			passes := explain(night.Night, heard, heat, lane, lap)
			if len(passes) == 0 {
				return fmt.Errorf("night %q has no pass in heat %d on lane %d that belongs to lap %d; see: lanewright night show %s", night.id, heat, lane, lap, args[0])
			}
			if asJSON {
				return printJSON(cmd.OutOrStdout(), passes)
			}
			for _, p := range passes {
				p.print(cmd.OutOrStdout())
			}
			return nil
		},
	}
	f := cmd.Flags()
	f.IntVar(&heat, "heat", 1, "number of the heat")
	f.IntVar(&lane, "lane", 1, "lane, or car on a digital night")
	f.IntVar(&lap, "lap", 0, "number of the lap; 0 for every pass of the heat")
	f.BoolVar(&asJSON, "json", false, "print it as JSON")
	return cmd
}

// explained is one pass with all that is known of it; `night explain --json` prints a list of these.
type explained struct {
	Journal  uint64 `json:"journal"` // number of its event
	Raw      string `json:"raw"`     // the line as it came; hex where it is no text
	Heard    string `json:"heard"`
	Counter  string `json:"counter"`
	Boot     uint64 `json:"boot,omitempty"`
	Number   uint64 `json:"number,omitempty"` // the counter's own
	Again    bool   `json:"again,omitempty"`
	Ticks    uint64 `json:"ticks"`
	Timed    bool   `json:"timed"`
	Segment  int    `json:"segment"`
	AtNS     int64  `json:"at_ns"`     // on the counter's time line
	DrivenNS int64  `json:"driven_ns"` // driven time of the heat
	Verdict  string `json:"verdict"`
	Lap      int    `json:"lap,omitempty"`
	FromNS   *int64 `json:"from_ns,omitempty"` // where the lap began, on the counter's time line
	LapNS    *int64 `json:"lap_ns,omitempty"`
	Shown    string `json:"shown,omitempty"`
	Rule     string `json:"rule"`
}

// passesOf reads the passes of a night by the number of their event.
func passesOf(s *store.Store, id string) (map[uint64]race.Pass, error) {
	j, err := s.Night(id)
	if err != nil {
		return nil, err
	}
	heard := map[uint64]race.Pass{}
	err = j.Read(1, func(r store.Record) error {
		if race.Kind(r.Kind) != race.KindPassed {
			return nil
		}
		e, err := race.Decode(race.Kind(r.Kind), r.Data)
		if err != nil {
			return fmt.Errorf("event %d: %w", r.Seq, err)
		}
		if p, ok := e.(race.Passed); ok {
			heard[r.Seq] = p.Pass
		}
		return nil
	})
	return heard, err
}

// explain lists the passes of a heat and lane, or the one that completed a lap.
func explain(n *race.Night, heard map[uint64]race.Pass, heat, lane, lap int) []explained {
	var list []explained
	var form figure.Form
	card := n.Card()
	for _, row := range n.Laps(heat, lane) {
		if lap > 0 && row.Lap != lap {
			continue
		}
		p := heard[row.Pass]
		e := explained{
			Journal: row.Pass, Raw: p.Raw, Heard: p.Heard.Time().Format(time.RFC3339Nano), Counter: p.Source, Boot: p.Boot, Number: p.Serial,
			Again: p.Again, Ticks: p.Ticks, Timed: !p.Untimed, Segment: row.Segment, AtNS: int64(row.Counter), DrivenNS: int64(row.At),
			Verdict: row.Verdict.String(), Lap: row.Lap, Rule: ruleOf(row, card, p.Untimed),
		}
		if row.Lap > 0 && row.Time > 0 {
			ns := int64(row.Time)
			digits := 3
			if p.Untimed {
				digits = 2
			}
			e.LapNS, e.Shown = &ns, form.Lap(row.Time, digits)
			if row.Clean {
				from := int64(row.Counter) - ns
				e.FromNS = &from
			}
		}
		list = append(list, e)
	}
	return list
}

// ruleOf says in words which rule gave a pass its verdict.
func ruleOf(row race.LapRow, card race.Card, arrival bool) string {
	switch row.Verdict {
	case race.Counted:
		switch {
		case row.Moved:
			return "moved here by a ruling; completes a lap"
		case row.Time == 0:
			return "completes a lap; its time is not known because the counter's clock was interrupted"
		case !row.Clean:
			return "completes a lap during which the track was stopped: the hold is left out of its time, and it is no best lap"
		}
		if arrival {
			return "completes a lap: its time is the difference of two times of receipt, cut to hundredths"
		}
		return "completes a lap: its time is the difference of two counter times of one clock segment, cut to thousandths"
	case race.StartsLap:
		return fmt.Sprintf("cars stood %s the line: the first pass starts lap 1", card.Grid)
	case race.Bounce:
		return fmt.Sprintf("within %s of the kept pass before it: certainly no lap", card.DeadTime())
	case race.InCall:
		return fmt.Sprintf("more than %s after the track call: a car no longer coasting", card.Coast)
	}
	return row.Verdict.String()
}

func (e explained) print(w io.Writer) {
	title := e.Verdict
	if e.Lap > 0 {
		title = fmt.Sprintf("lap %d: %s", e.Lap, e.Shown)
	}
	fmt.Fprintf(w, "%s\n", title)
	fmt.Fprintf(w, "  line     %s   (event %d of the journal, heard %s)\n", e.Raw, e.Journal, e.Heard)
	fmt.Fprintf(w, "  counter  %s, boot %d, pass number %d", e.Counter, e.Boot, e.Number)
	if e.Again {
		fmt.Fprint(w, ", said again on request")
	}
	fmt.Fprintln(w)
	if e.Timed {
		fmt.Fprintf(w, "  ticks    %d, which is %.9f s in clock segment %d\n", e.Ticks, float64(e.AtNS)/1e9, e.Segment)
	} else {
		fmt.Fprintf(w, "  arrival  %.3f s: this counter sends no ticks, so no more digits are deserved\n", float64(e.AtNS)/1e9)
	}
	after := 6
	if !e.Timed {
		after = 3
	}
	fmt.Fprintf(w, "  heat     %.*f s after go, holds left out\n", after, float64(e.DrivenNS)/1e9)
	fine := 9
	if !e.Timed {
		fine = 3
	}
	if e.FromNS != nil {
		fmt.Fprintf(w, "  lap      %.*f - %.*f = %.*f s, cut to %s\n", fine, float64(e.AtNS)/1e9, fine, float64(*e.FromNS)/1e9, fine, float64(*e.LapNS)/1e9, e.Shown)
	} else if e.LapNS != nil {
		fmt.Fprintf(w, "  lap      %.*f s with the holds left out, cut to %s\n", fine, float64(*e.LapNS)/1e9, e.Shown)
	}
	fmt.Fprintf(w, "  rule     %s\n", e.Rule)
}

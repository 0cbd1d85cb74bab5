package main

import (
	"encoding/json"
	"fmt"
	"io"
	"time"

	"github.com/spf13/cobra"

	"lanewright/timing"
	"lanewright/timing/listen"
)

func counterWatchCommand() *cobra.Command {
	var o lineOptions
	var all bool
	cmd := &cobra.Command{
		Use:   "watch",
		Short: "Print what a counter says as JSON Lines, until stopped",
		Long: "ticks and at_us are of the counter's own clock; a counter that has none gives passes with heard alone, the time at which\n" +
			"their bytes came.",
		Args: cobra.NoArgs,
		RunE: func(cmd *cobra.Command, _ []string) error {
			c, err := o.config()
			if err != nil {
				return err
			}
			source, err := listen.Listen(cmd.Context(), c)
			if err != nil {
				return &portError{err}
			}
			defer source.Close()
			enc := json.NewEncoder(cmd.OutOrStdout())
			for m := range source.Messages() {
				line := messageLine(m)
				if line.Event == "beat" && !all {
					continue
				}
				if err := enc.Encode(line); err != nil {
					return err
				}
			}
			return nil
		},
	}
	lineFlags(cmd, &o)
	cmd.Flags().BoolVar(&all, "all", false, "signs of life too")
	return cmd
}

// watchLine is one line of `counter watch`. Times on the counter's clock are whole microseconds.
type watchLine struct {
	Event   string    `json:"event"`
	Heard   time.Time `json:"heard"`
	Lane    int       `json:"lane,omitempty"`
	Car     int       `json:"car,omitempty"`
	Sensor  int       `json:"sensor,omitempty"`
	Number  uint64    `json:"number,omitempty"`
	Ticks   *uint64   `json:"ticks,omitempty"`
	AtUS    *int64    `json:"at_us,omitempty"`
	Segment int       `json:"segment,omitempty"`
	Again   bool      `json:"again,omitempty"`
	Text    string    `json:"text,omitempty"`
	Raw     string    `json:"raw,omitempty"`
}

func messageLine(m timing.Message) watchLine {
	at := func(d time.Duration) *int64 { us := d.Microseconds(); return &us }
	switch m := m.(type) {
	case timing.Pass:
		l := watchLine{Event: "pass", Heard: m.Heard, Lane: m.Lane, Car: m.Car, Sensor: m.Sensor, Number: m.Serial, AtUS: at(m.At), Segment: m.Segment, Again: m.Again, Raw: m.Raw}
		if m.Timed {
			l.Ticks = &m.Ticks
		} else {
			l.AtUS = nil // a time of receipt is no time of the counter: heard is all there is
		}
		return l
	case timing.Beat:
		return watchLine{Event: "beat", Heard: m.Heard, Number: m.Last, Ticks: &m.Ticks, AtUS: at(m.At), Segment: m.Segment, Raw: m.Raw}
	case timing.Status:
		return watchLine{Event: "status", Heard: m.Heard, Text: fmt.Sprintf("%s: %d lanes, %d/%d ticks a second", m.Name, m.Lanes, m.RateNum, m.RateDen), Raw: m.Raw}
	case timing.PowerAck:
		return watchLine{Event: "power", Heard: m.Heard, Ticks: &m.Ticks, AtUS: at(m.At), Segment: m.Segment, Text: fmt.Sprintf("lanes %b", m.Lanes), Raw: m.Raw}
	case timing.LampAck:
		return watchLine{Event: "lamps", Heard: m.Heard, Ticks: &m.Ticks, AtUS: at(m.At), Segment: m.Segment, Text: fmt.Sprintf("%d lit", m.Lit), Raw: m.Raw}
	case timing.Missing:
		return watchLine{Event: "missing", Heard: m.Heard, Text: fmt.Sprintf("%d passes, numbers %d to %d: %s", m.Count, m.First, m.Last, m.Why)}
	case timing.Port:
		return watchLine{Event: "port", Heard: m.Heard, Text: m.State.String() + detail(m.Detail)}
	case timing.Reset:
		return watchLine{Event: "reset", Heard: m.Heard, Segment: m.Segment, Text: m.Why}
	case timing.Damaged:
		return watchLine{Event: "damage", Heard: m.Heard, Text: fmt.Sprintf("%d bytes: %s", m.Bytes, m.Why), Raw: m.Raw}
	case timing.ClockStep:
		return watchLine{Event: "clock-step", Heard: m.Heard, Text: m.By.String()}
	case timing.Drift:
		return watchLine{Event: "drift", Heard: m.Heard, Text: fmt.Sprintf("the counter's clock is off by %.0f ppm", m.PPM)}
	case timing.Unanswered:
		return watchLine{Event: "unanswered", Heard: m.Heard, Text: m.What + detail(m.Why)}
	}
	return watchLine{Event: "other", Text: fmt.Sprintf("%T", m)}
}

func detail(s string) string {
	if s == "" {
		return ""
	}
	return ": " + s
}

// drain throws messages away until there are no more.
func drain(w io.Writer, source *listen.Source) (passes int) {
	for m := range source.Messages() {
		switch m := m.(type) {
		case timing.Pass:
			passes++
		case timing.Port:
			fmt.Fprintln(w, "port", m.State.String()+detail(m.Detail))
		}
	}
	return passes
}

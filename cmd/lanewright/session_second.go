package main

import (
	"context"
	"fmt"

	"lanewright/race/control"
	"lanewright/timing/describe"
	"lanewright/timing/listen"
	"lanewright/timing/port"
)

// secondCounter is a further counter: a timing system of its own, whose passes are kept and can settle a doubt, but do not count.
type secondCounter struct {
	name   string
	port   port.Config
	format *describe.Description
}

// listenToSeconds listens to the further counters. One that is not there yet is waited for: the night does not hang on it.
func (s *session) listenToSeconds(ctx context.Context) error {
	for _, c := range s.seconds {
		after, stepped, segment := control.Heard(s.known, c.name)
		source, err := listen.Listen(ctx, listen.Config{Name: c.name, Port: c.port, Format: c.format, After: after, Stepped: stepped, Segment: segment, Record: s.tape, Patient: true})
		if err != nil {
			return &portError{fmt.Errorf("second counter %s: %w", c.name, err)}
		}
		s.others = append(s.others, source)
	}
	return nil
}

// sources are all counters being listened to.
func (s *session) sources() []*listen.Source {
	var all []*listen.Source
	if s.source != nil {
		all = append(all, s.source)
	}
	return append(all, s.others...)
}

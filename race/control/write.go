package control

import (
	"context"
	"time"

	"lanewright/race"
)

// group is what goes to the disk in one piece, with what is to happen once it is there.
type group struct {
	events  []made
	replies []answered
	picture *race.Snapshot // of the night after these events; nil when none is due
}

type answered struct {
	to    chan<- race.Reply
	reply race.Reply
}

// retryAfter is how long the writer waits after the journal refused a group. Nothing is shown that is not on disk, and racing goes on
// meanwhile.
const retryAfter = 500 * time.Millisecond

// writer appends groups one after the other until groups is closed. It reports each on done, errors on trouble.
func (c *Control) writer(groups <-chan group, done chan<- group) {
	defer close(done)
	var buf []Record
	for g := range groups {
		buf = buf[:0]
		for _, m := range g.events {
			buf = append(buf, Record{m.seq, uint16(m.kind), int64(m.wall), m.data})
		}
		for len(buf) > 0 {
			err := c.o.Journal.Append(context.Background(), buf)
			if err == nil {
				break
			}
			if c.Trouble() == nil { // news
				select {
				case c.alarm <- err:
				default:
				}
			}
			c.setTrouble(err)
			if c.stopping() {
				return // cannot be written and is not shown: the caller gets the error
			}
			select {
			case <-time.After(retryAfter):
			case <-c.hurry:
			}
		}
		if len(buf) > 0 {
			c.setTrouble(nil)
		}
		done <- g
	}
}

// teller calls OnDurable, in order, away from the loop: a reader of event lines that is slow or gone delays nothing.
func (c *Control) teller(told chan<- struct{}) {
	defer close(told)
	var line []byte
	for range c.durable.ready {
		for _, m := range c.durable.take() {
			if m.seq == 0 {
				return
			}
			line = race.AppendLine(line[:0], m.seq, m.kind, m.data)
			c.o.OnDurable(m.seq, m.event, line)
		}
	}
}

package control

import (
	"time"

	"lanewright/race"
)

// picture takes a snapshot whose clock follows the counter where there is one to follow.
func (d *desk) picture(now time.Time) *race.Snapshot {
	s := d.night.Snapshot(now)
	s.Clock.Speed = d.speed
	if s.Clock.Ticking {
		segment, at := d.here(now)
		if driven, ok := d.night.Driven(segment, at); ok {
			s.Clock.Elapsed = max(driven, 0)
			if s.Clock.Length > 0 {
				s.Clock.Elapsed = min(s.Clock.Elapsed, s.Clock.Length)
			}
		}
	}
	return s
}

// takeUp goes on with a night after a restart: what was under way by the host's clock is stopped, what runs by the counter's goes on.
func (d *desk) takeUp(now time.Time) {
	was := d.night.Phase()
	d.must(now, race.Restarted{Stamp: stamp(now), Text: string(was), Speed: d.speed})
	switch was {
	case race.Lamps:
		d.must(now, race.StartBroken{Stamp: stamp(now), Why: "the program was restarted"})
		d.powerOff()
	case race.Resuming:
		segment, at := d.here(now)
		d.must(now, race.Held{Stamp: stamp(now), Segment: segment, At: at, Why: "the program was restarted"})
		d.powerOff()
	case race.Green, race.Finishing:
		d.moving = now
		d.end.due = now.Add(lostGrace) // the counter is given time to be heard again before the host's clock decides
	}
}

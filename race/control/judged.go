package control

import (
	"fmt"
	"time"

	"lanewright/race"
	"lanewright/race/judge"
)

// docket is what the judge has been told of the heat being driven.
type docket struct {
	powerAt time.Duration   // driven time at which all cars were late, for saying it once
	losses  []time.Duration // driven times at which passes are known to be lost on the line
}

func (d *docket) reset() { *d = docket{} }

// sitting is how many of the newest passes the judge looks at: enough for a clean lap, few enough for every pass.
const sitting = 40

// trace is a seat's kept passes.
type trace struct {
	seat   int
	driver int
	marks  []race.Marked // Held: the interval before it means nothing
	at     []time.Duration
	clean  judge.Clean
}

// trace collects the kept passes of a seat.
func (d *desk) trace(seat int) trace {
	heat, _ := d.night.AtLine()
	t := trace{seat: seat, driver: d.night.DriverIn(heat, seat)}
	broken := false
	for _, m := range d.night.Marks(seat, max(d.night.PassCount(seat)-sitting, 0)) {
		broken = broken || !m.Timed || m.Held
		if m.Verdict != race.Counted && m.Verdict != race.StartsLap {
			continue
		}
		m.Held = broken // something lies between it and the kept pass before
		broken = false
		t.marks = append(t.marks, m)
		t.at = append(t.at, m.At)
	}
	var intervals []time.Duration
	for i := 1; i < len(t.at); i++ {
		if !t.marks[i].Held {
			intervals = append(intervals, t.at[i]-t.at[i-1])
		}
	}
	t.clean = judge.CleanLap(intervals)
	return t
}

// lost notes that passes are lost on the line about now.
func (d *desk) lost(now time.Time) {
	segment, at := d.here(now)
	if driven, ok := d.night.Driven(segment, at); ok {
		d.judge.losses = append(d.judge.losses, driven)
	}
}

// lostIn tells whether passes are known to be lost between two kept ones, or close to it: they are noticed a little later.
func (d *desk) lostIn(t trace, i int) bool {
	for _, l := range d.judge.losses {
		if l > t.at[i-1] && l < t.at[i]+t.clean.Lap/2 {
			return true
		}
	}
	return false
}

func (d *desk) label(t trace) []judge.Label {
	return judge.Judge(t.at, t.clean, func(i int) bool { return t.marks[i].Held }, func(i int) bool { return d.lostIn(t, i) })
}

// consult asks about what looks wrong on a seat after a pass on it. A pass is judged when one more has come after it; nothing is
// decided here.
func (d *desk) consult(now time.Time, seat int) { d.judgeSeat(now, seat, 1) }

// consultAll judges all seats for the last time, the newest passes included.
func (d *desk) consultAll(now time.Time) {
	for seat := 1; seat <= d.night.Seats(); seat++ {
		d.judgeSeat(now, seat, 0)
	}
}

func (d *desk) judgeSeat(now time.Time, seat, ahead int) {
	t := d.trace(seat)
	if t.driver == 0 || len(t.at) < 2 {
		return
	}
	last := len(t.at) - 1
	if lapMin := d.night.Card().LapMin; !t.marks[last].Held && t.at[last]-t.at[last-1] < lapMin {
		d.ask(now, t, last, "too quick", fmt.Sprintf("a lap of %s, the card allows none under %s", seconds(t.at[last]-t.at[last-1]), seconds(lapMin)), race.Proposal{Do: "strike"})
	}
	for i, l := range d.label(t) {
		if i > last-ahead {
			break
		}
		switch {
		case l.Mark == judge.Phantom:
			d.ask(now, t, i, "phantom", "a pass in mid-lap, nobody seems to have driven it", race.Proposal{Do: "strike"})
		case l.Mark == judge.Bounce:
			d.ask(now, t, i, "bounce", "a pass soon after another, the sensor seems to have fired twice", race.Proposal{Do: "strike"})
		case l.Missed > 0:
			d.missed(now, t, i, l.Missed)
		}
	}
}

// missed asks about a pass that seems to be missing before the i-th, unless all cars were late then, or the pass is found on an
// empty seat.
func (d *desk) missed(now time.Time, t trace, i, laps int) {
	if d.night.AskedAbout(t.marks[i].Pass, "") {
		return
	}
	from, to := t.at[i-1], t.at[i]
	middle := from + (to-from)/2
	if d.allLate(t.seat, middle, t.at[len(t.at)-1]) {
		if d.judge.powerAt == 0 || middle-d.judge.powerAt > 2*t.clean.Lap {
			d.judge.powerAt = middle
			d.note(now, race.Commented{Stamp: stamp(now), Text: fmt.Sprintf("all cars were late at %s: it was the power, no pass is asked about", seconds(middle))})
		}
		return
	}
	if other, m, ok := d.stray(middle, t.clean.Lap/4); ok {
		heat, _ := d.night.AtLine()
		d.must(now, race.Asked{Stamp: stamp(now), ID: d.night.NextQuestion(other), Heat: heat, Seat: other, What: "wrong lane", At: m.At, Pass: m.Pass,
			Text:     fmt.Sprintf("a pass on %d, where nobody drives, at a time when %s misses one", other, d.night.DriverName(t.driver)),
			Proposal: race.Proposal{Do: "move", To: t.seat}})
		return
	}
	why := "a pass may be missing"
	if d.lostIn(t, i) {
		why = "passes were lost on the line about then"
	}
	d.ask(now, t, i, "missed", fmt.Sprintf("a lap of %s, about %d times the usual: %s", seconds(to-from), laps+1, why), race.Proposal{Do: "give", Laps: laps})
}

// allLate tells whether every other car on the track was late at a moment too, and there is another.
func (d *desk) allLate(seat int, moment, now time.Duration) bool {
	others := 0
	for s := 1; s <= d.night.Seats(); s++ {
		if s == seat {
			continue
		}
		t := d.trace(s)
		if t.driver == 0 || len(t.at) < 2 || !t.clean.Known() {
			continue
		}
		others++
		if !judge.Late(t.at, t.clean, moment, now) {
			return false
		}
	}
	return others > 0
}

// stray finds a pass near a moment on a seat where nobody drives, not asked about yet.
func (d *desk) stray(moment, within time.Duration) (seat int, m race.Marked, ok bool) {
	for s := 1; s <= d.night.Seats(); s++ {
		t := d.trace(s)
		if t.driver != 0 {
			continue
		}
		for _, m := range t.marks {
			if max(m.At-moment, moment-m.At) <= within && !d.night.AskedAbout(m.Pass, "") {
				return s, m, true
			}
		}
	}
	return 0, race.Marked{}, false
}

// ask puts a question about the i-th pass of a trace, once.
func (d *desk) ask(now time.Time, t trace, i int, what, text string, p race.Proposal) {
	m := t.marks[i]
	if d.night.AskedAbout(m.Pass, "") {
		return
	}
	heat, _ := d.night.AtLine()
	d.must(now, race.Asked{Stamp: stamp(now), ID: d.night.NextQuestion(t.seat), Heat: heat, Seat: t.seat, What: what, Text: d.night.DriverName(t.driver) + ": " + text,
		At: m.At, Pass: m.Pass, Proposal: p})
}

// seconds writes a time cut to thousandths.
func seconds(t time.Duration) string {
	return fmt.Sprintf("%d.%03d s", t/time.Second, t%time.Second/time.Millisecond)
}

package layout

import (
	"fmt"
	"slices"
	"sort"
	"strings"
)

// line is a timing line on a road: the piece that carries it, or the first piece where a road has none.
type line struct {
	piece int // index, from 0
	at    []float64
}

// timingLines finds the timing line of each road, and says what is wrong with them. Roads that run into each other may share one.
func (b *builder) timingLines(to []int) []*line {
	lines := make([]*line, len(b.roads))
	twice := 0 // the call that was last reported, which mostly is for all roads
	for i := range b.roads {
		for k := range b.roads[i].placed {
			pl := &b.roads[i].placed[k]
			if pl.Kind != KindTiming {
				continue
			}
			if lines[i] == nil {
				lines[i] = &line{k, pl.Sensors[0].AtMM}
				continue
			}
			b.broken = true
			if pl.Call == twice {
				break
			}
			twice = pl.Call
			b.call = pl.Call - 1
			first := b.roads[i].placed[lines[i].piece].Call
			b.say(Error, CodeTimingTwice, i+1, 0, "", "keep one timing piece; call the other a sensor", "a second timing piece; the first is in call %d", first)
			break
		}
	}
	b.call = 0 // a timing piece is missed where the course begins
	seen := make([]bool, len(to))
	untimed := !slices.ContainsFunc(lines, func(l *line) bool { return l != nil })
	if untimed && !b.broken && b.total > 0 { // else the timing call may be the one that was not laid
		b.say(Error, CodeTimingMissing, 0, 0, "", "begin the course with timing", "the course has no timing piece; its lanes are measured from the first piece")
	}
	for i := range to {
		if seen[i] {
			continue
		}
		timed := false
		for j := i; !seen[j]; j = to[j] {
			seen[j] = true
			timed = timed || lines[j] != nil
		}
		if timed || len(b.roads[i].placed) == 0 {
			continue
		}
		if !untimed && !b.broken {
			b.say(Error, CodeTimingMissing, i+1, 0, "", "begin the course with timing", "road %d has no timing piece; its lanes are measured from the first piece", i+1)
		}
		lines[i] = &line{0, make([]float64, b.kit.Lanes)}
	}
	b.call = len(b.plan.Calls)
	return lines
}

// lanes follows every lane from the timing line round to the next one.
func (b *builder) lanes(to []int, lines []*line) []Lane {
	var out []Lane
	number := map[LaneRef]int{}
	for i := range lines {
		if lines[i] == nil {
			continue
		}
		for pos := 1; pos <= b.kit.Lanes; pos++ {
			ref := LaneRef{i + 1, pos}
			number[ref] = len(out) + 1
			out = append(out, Lane{Number: len(out) + 1, At: ref})
		}
	}
	for n := range out {
		l := &out[n]
		length, end := b.follow(to, lines, l.At)
		l.LengthMM, l.EndsIn = length, number[end]
	}
	return out
}

// follow walks from a place on a timing line to the next timing line and returns the way and where it ends.
func (b *builder) follow(to []int, lines []*line, from LaneRef) (float64, LaneRef) {
	i, pos := from.Road-1, from.Position
	k := lines[i].piece
	var length float64
	first := true
	for range b.total + 1 {
		placed := b.roads[i].placed
		for ; k < len(placed); k++ {
			if ln := lines[i]; ln != nil && ln.piece == k {
				if !first {
					return length + ln.at[pos-1], LaneRef{i + 1, pos}
				}
				length -= ln.at[pos-1]
				first = false
			}
			s := &placed[k].Stay[pos-1]
			length += s.LengthMM
			pos = s.To
		}
		i, k = to[i], 0
	}
	return length, from // not reached: roads form circles, and this one has a line
}

// slots finds the closed paths: the cycles of lanes running into lanes.
func slots(lanes []Lane) []Slot {
	var out []Slot
	seen := make([]bool, len(lanes)+1)
	for _, l := range lanes {
		if seen[l.Number] {
			continue
		}
		var s Slot
		for n := l.Number; n > 0 && !seen[n]; n = lanes[n-1].EndsIn {
			seen[n] = true
			s.Lanes = append(s.Lanes, n)
			s.LapsMM = append(s.LapsMM, lanes[n-1].LengthMM)
			s.LengthMM += lanes[n-1].LengthMM
		}
		out = append(out, s)
	}
	return out
}

// reportSlots says which lanes are one slot.
func (b *builder) reportSlots(all []Slot) {
	b.call = len(b.plan.Calls)
	for _, s := range all {
		if len(s.Lanes) < 2 {
			continue
		}
		sorted := append([]int(nil), s.Lanes...)
		sort.Ints(sorted)
		laps := make([]string, len(s.Lanes))
		for i, n := range s.Lanes {
			laps[i] = fmt.Sprintf("%s from lane %d", mmText(s.LapsMM[i]), n)
		}
		b.say(Warning, CodeLanesJoined, 0, s.LengthMM, "mm", "one crossing more or less parts them",
			"lanes %s are one slot of %s: a car passes the timing line %d times before it is back, its laps measure in turn %s, and only one driver can race there",
			and(sorted), mmText(s.LengthMM), len(s.Lanes), strings.Join(laps, ", "))
	}
}

func and(ns []int) string {
	parts := make([]string, len(ns))
	for i, n := range ns {
		parts[i] = fmt.Sprint(n)
	}
	if len(parts) < 2 {
		return strings.Join(parts, "")
	}
	return strings.Join(parts[:len(parts)-1], ", ") + " and " + parts[len(parts)-1]
}

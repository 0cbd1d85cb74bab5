package rotation

import (
	"fmt"
	"strings"
)

// meetBound is the least sum of squares of meetings that any rest of the
// evening can reach behind the heats run: as many meetings as are still to come,
// each given to the pair that has met least. Pairs with a driver who drives no
// more stay as they are.
func (p Problem) meetBound(heats [][]int, run int) int64 {
	m := Meetings(p.Drivers, heats[:run])
	more := make([]bool, p.Drivers)
	seats := 0
	for _, row := range heats[run:] {
		for _, x := range row {
			if x > 0 {
				more[x-1] = true
				seats++
			}
		}
	}
	rest := len(heats) - run
	if rest == 0 {
		rest = 1
	}
	left := (evenSq(seats, rest) - int64(seats)) / 2
	var count [HeatsMax + 1]int64 // meetings so far -> pairs that can still meet
	sum := int64(0)
	for x := range p.Drivers {
		for y := x + 1; y < p.Drivers; y++ {
			if more[x] && more[y] {
				count[m[x][y]]++
			} else {
				sum += int64(m[x][y] * m[x][y])
			}
		}
	}
	for v := 0; v < HeatsMax && left > 0; v++ {
		up := min(left, count[v])
		count[v] -= up
		count[v+1] += up
		left -= up
	}
	for v, n := range count {
		sum += n * int64(v*v)
	}
	return sum
}

// notes says what was lost and why.
func (r *redraw) notes(d Draw) []string {
	var out []string
	ran := len(r.run)
	at := stints(r.p.Drivers, r.run)
	for _, x := range r.change.Leave {
		out = append(out, fmt.Sprintf("Driver %d has left after %s; his meetings stay with the others and are not made up for.", x, plural(len(at[x-1]), "heat")))
	}
	for x := r.before.Drivers + 1; x <= r.p.Drivers; x++ {
		out = append(out, fmt.Sprintf("Driver %d came after heat %d and drives all his heats in what is left of the evening.", x, ran))
	}
	for _, l := range r.change.Close {
		var had []string
		for x := range at {
			for _, t := range at[x] {
				if t.lane == l-1 {
					had = append(had, fmt.Sprint(x+1))
					break
				}
			}
		}
		if len(had) == 0 {
			out = append(out, fmt.Sprintf("Lane %d is closed before anybody has driven it; nobody loses by it.", l))
			continue
		}
		out = append(out, fmt.Sprintf("Lane %d is closed after heat %d. Only drivers %s have driven it: leave those heats out of the results, or score by the mean of a driver's heats.",
			l, ran, strings.Join(had, ", ")))
	}
	for _, h := range r.change.Void {
		out = append(out, fmt.Sprintf("Heat %d is void; its drivers drive those lanes again.", h))
	}
	switch {
	case r.added > 0:
		out = append(out, fmt.Sprintf("%s added, as nobody can drive twice in a heat and no lane carries two.", plural(r.added, "heat")+isAre(r.added)))
	case r.added < 0:
		out = append(out, fmt.Sprintf("%s not needed any more.", plural(-r.added, "heat")+isAre(-r.added)))
	}
	out = append(out, fmt.Sprintf("%d of %d planned seats have changed hands.", r.moved, r.planned))
	before := r.before
	before.Drivers = max(before.Drivers, most(r.played.Run), most(r.played.Plan)) // late ones may be in the plan already
	old := before.finishRest(append(append([][]int(nil), r.played.Run...), r.played.Plan...), before.Rounds, 0, nil)
	for _, c := range d.Claims {
		for _, o := range old.Claims {
			if o.Figure == c.Figure && o.Criterion == c.Criterion && c.Value-c.Bound > o.Value-o.Bound {
				out = append(out, fmt.Sprintf("Lost in %s: %s is %d where %d is the least possible; the old plan had %d where %d was.",
					c.Criterion, c.Figure, c.Value, c.Bound, o.Value, o.Bound))
			}
		}
	}
	return out
}

// most is the highest driver number in heats.
func most(heats [][]int) int {
	high := 0
	for _, row := range heats {
		for _, x := range row {
			high = max(high, x)
		}
	}
	return high
}

func plural(n int, word string) string {
	if n == 1 {
		return fmt.Sprintf("%d %s", n, word)
	}
	return fmt.Sprintf("%d %ss", n, word)
}

func isAre(n int) string {
	if n == 1 {
		return " is"
	}
	return " are"
}

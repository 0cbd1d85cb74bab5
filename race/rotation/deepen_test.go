package rotation

import (
	"flag"
	"fmt"
	"sort"
	"testing"
	"time"
)

var deepen = flag.Duration("deepen", 0, "search so long for each stored design, and print better ones")

// TestDeepen looks for designs better than the stored ones:
// go test ./race/rotation -run TestDeepen -deepen 60s -timeout 2h -v
func TestDeepen(t *testing.T) {
	if *deepen == 0 {
		t.Skip("run with -deepen 60s to search on")
	}
	for i, s := range stored {
		low := evenSq(s.n*s.rounds*s.lanes*(s.lanes-1)/2, s.n*(s.n-1)/2)
		up, _ := evenSplitRaise(s.n, s.lanes, s.n*s.rounds, s.lanes*s.rounds)
		m := meeting{n: s.n, size: s.lanes, heats: s.n * s.rounds, each: s.lanes * s.rounds}
		rnd := newRandom(uint64(time.Now().UnixNano()), uint64(i))
		best := low + s.above
		try := func(g group, moves int) int64 {
			a := newTurning(s.n, s.lanes, g)
			if best <= low+up || !a.start(m.heats, m.each, rnd) {
				return -1
			}
			a.anneal(low+up, moves, rnd, func() bool { return false })
			if a.cost < best {
				best = a.cost
				fmt.Printf("%d drivers, %d lanes, %d rounds: %d above the even split, group %+v, base %v, still %v\n", s.n, s.lanes, s.rounds, best-low, g, a.block, a.still)
			}
			return a.cost
		}
		type probe struct {
			g    group
			cost int64
		}
		var probes []probe
		for _, g := range m.groups(9) {
			if c := try(g, 100000); c >= 0 {
				probes = append(probes, probe{g, c})
			}
		}
		sort.SliceStable(probes, func(a, b int) bool { return probes[a].cost < probes[b].cost })
		for end, k := time.Now().Add(*deepen), 0; len(probes) > 0 && time.Now().Before(end); k++ {
			try(probes[k%min(len(probes), 7)].g, 400000<<(k/7%3))
		}
	}
}

package even

import (
	"fmt"
	"math"
	"slices"

	"lanewright/layout"
)

// site is a place for a crossing: some straights in a row that are together as long as the crossing, or, on a routed
// track, a straight that is at least as long. A long one has room for several, one behind the other, each in a slot.
type site struct {
	road     int // index
	from, to int // pieces from up to but not including to, by index
	pair     int // left one of the two positions that swap, from 0
	swap     *swap
	slot     int // from 0; filled in order
}

// slotMost bounds the crossings in one straight of a routed track.
const slotMost = 4

// swap is a crossing of a kit: what each position's way through it measures.
type swap struct {
	call   string // "crossing", "crossing lanes 2 3", "crossing 400 lanes 2 3"
	length float64
	pair   int
	ways   []float64 // by position of entry
}

// swapsOf resolves every crossing that the kit offers, for every pair of neighbouring lanes. On a routed track
// lengthMM says how long it shall be.
func swapsOf(t layout.Track, lengthMM float64) []swap {
	var calls []string
	lanes := t.Kit.Lanes
	if t.Kit.Routed {
		if !(lengthMM > 0) {
			return nil
		}
		for i := 1; i < lanes; i++ {
			calls = append(calls, fmt.Sprintf("crossing %v lanes %d %d", lengthMM, i, i+1))
		}
	} else {
		for i := range t.Kit.Pieces {
			p := &t.Kit.Pieces[i]
			if p.Kind != layout.KindCrossing || p.RadiusMM > 0 {
				continue
			}
			name := "crossing"
			if p.Word != "" {
				name += " " + p.Word
			}
			if lanes == 2 || p.Crosses[0] != 0 {
				calls = append(calls, name)
				continue
			}
			for i := 1; i < lanes; i++ {
				calls = append(calls, fmt.Sprintf("%s lanes %d %d", name, i, i+1))
			}
		}
	}
	var out []swap
	for _, c := range calls {
		if s, ok := layOne(t, c); ok {
			out = append(out, s)
		}
	}
	return out
}

// layOne resolves one crossing by itself.
func layOne(t layout.Track, call string) (swap, bool) {
	p := layout.Plan{Kit: t.Plan.Kit, Roads: 1, Lanes: t.Plan.Lanes, SpacingMM: t.Plan.SpacingMM}
	timing := "timing"
	if t.Kit.Routed {
		timing = "timing 300"
	}
	for _, text := range []string{timing, call} {
		c := layout.ParseCall(text)
		if c.Trouble != nil {
			return swap{}, false
		}
		p.Calls = append(p.Calls, c)
	}
	track, _ := layout.Resolve(p, t.Kit)
	if len(track.Roads) != 1 || len(track.Roads[0].Pieces) != 2 || track.Roads[0].Pieces[1].Kind != layout.KindCrossing {
		return swap{}, false
	}
	piece := &track.Roads[0].Pieces[1]
	s := swap{call: call, length: piece.Centre.Length(), pair: -1}
	for i, w := range piece.Stay {
		s.ways = append(s.ways, w.LengthMM)
		if s.pair < 0 && w.To == i+2 {
			s.pair = i
		}
	}
	return s, s.pair >= 0
}

// plain says whether a piece is a straight that a crossing may replace.
func plain(p *layout.Placed) bool {
	return p.Kind == layout.KindStraight && p.TurnDeg == 0 && p.StartZ == p.EndZ && len(p.Sensors) == 0 && !p.Bridge &&
		len(p.Stay) > 0 && !p.Stay[0].Measured
}

// sitesOf lists the places for crossings on a road. Within one run of straights it does not matter where a crossing
// lies, so each run gives one place for each kind of crossing, the one nearest to its middle.
func sitesOf(t layout.Track, r int, swaps []swap) []site {
	pieces := t.Roads[r].Pieces
	var out []site
	for at := 0; at < len(pieces); {
		if !plain(&pieces[at]) {
			at++
			continue
		}
		end := at
		for end < len(pieces) && plain(&pieces[end]) {
			end++
		}
		for slot := range slotMost {
			for i := range swaps {
				from, to, ok := place(pieces, at, end, swaps[i].length*float64(slot+1), t.Kit.Routed)
				if ok && (slot == 0 || t.Kit.Routed) {
					out = append(out, site{r, from, to, swaps[i].pair, &swaps[i], slot})
				}
			}
		}
		at = end
	}
	return out
}

// place finds pieces in a row, within [at, end), that measure length together: as few as possible, then nearest to the
// middle of the run. On a routed track one piece that is at least as long, the longest of the run.
func place(pieces []layout.Placed, at, end int, length float64, routed bool) (int, int, bool) {
	if routed {
		longest := at
		for i := at; i < end; i++ {
			if pieces[i].Centre.Length() > pieces[longest].Centre.Length() {
				longest = i
			}
		}
		left := pieces[longest].Centre.Length() - length
		return longest, longest + 1, left >= leastMM || math.Abs(left) < sameMM
	}
	bestFrom, bestTo := 0, 0
	for from := at; from < end; from++ {
		sum := 0.0
		for to := from + 1; to <= end; to++ {
			sum += pieces[to-1].Centre.Length()
			if sum > length+1e-6 {
				break
			}
			if math.Abs(sum-length) > 1e-6 {
				continue
			}
			if bestTo == 0 || to-from < bestTo-bestFrom ||
				to-from == bestTo-bestFrom && off(from, to, at, end) < off(bestFrom, bestTo, at, end) {
				bestFrom, bestTo = from, to
			}
		}
	}
	return bestFrom, bestTo, bestTo > 0
}

// off is how far, in half pieces, the middle of a place lies from the middle of its run.
func off(from, to, at, end int) int {
	d := from + to - at - end
	return max(d, -d)
}

// fork is the state of all lanes at a joint: where each position's lane came from and how far it has gone.
type fork struct {
	origin []int // by position now: the position at the line
	length []float64
}

func start(n int) fork {
	f := fork{make([]int, n), make([]float64, n)}
	for i := range f.origin {
		f.origin[i] = i
	}
	return f
}

// through moves all lanes through one piece.
func (f fork) through(ways []layout.Strand) fork {
	out := fork{slices.Clone(f.origin), slices.Clone(f.length)}
	for _, w := range ways {
		from, to := w.From-1, w.To-1
		if from < 0 || to < 0 || from >= len(f.origin) || to >= len(f.origin) {
			continue
		}
		out.origin[to], out.length[to] = f.origin[from], f.length[from]+w.LengthMM
	}
	return out
}

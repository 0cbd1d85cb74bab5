package route

import "slices"

// Turn is one use of a changer.
type Turn struct {
	Road  int    `json:"road"`
	Index int    `json:"index"` // of the piece along its road, from 1
	Call  int    `json:"call"`  // of the plan, from 1
	Piece string `json:"piece"`
	From  int    `json:"from"` // positions on the road, from 1 at the left
	To    int    `json:"to"`
}

// Lap is one way round, from the timing line to the timing line.
type Lap struct {
	Start    int     `json:"start"` // lane numbers
	End      int     `json:"end"`
	LengthMM float64 `json:"length_mm"`
	Turns    []Turn  `json:"turns"` // optional changes made, in driving order
}

// mark is the best K prefixes of one node, flattened: where each came from.
type mark struct {
	length  int64
	changes int32
	from    int32 // position before, -1 at the line
	rank    int32 // which of the prefixes there
	edge    int32
}

// kBestMax bounds what one question may ask for, and marksMost the prefixes kept for it, so that no number on a command
// line can fill the memory.
const (
	kBestMax  = 10000
	marksMost = 8_000_000
)

// KShortest gives the k shortest different laps from lane start to lane end, shortest first; end 0 means any lane. Laps
// of equal length come with fewer changes first. It gives fewer than k where there are fewer, and none for a lane that
// does not exist. k is cut to 10,000, and to less on layouts of thousands of pieces.
//
// The k best prefixes of each node are kept. In a layered graph that is exact, because the k best ways through a node
// begin with k best ways to it.
func (g Graph) KShortest(start, end, k int) []Lap { return g.kBest(start, end, k, false) }

// KLongest is [Graph.KShortest] for the longest laps, longest first.
func (g Graph) KLongest(start, end, k int) []Lap { return g.kBest(start, end, k, true) }

// Shortest gives the shortest lap from lane start to lane end (0: any), and whether there is one.
func (g Graph) Shortest(start, end int) (Lap, bool) { return first(g.kBest(start, end, 1, false)) }

// Longest gives the longest lap from lane start to lane end (0: any), and whether there is one.
func (g Graph) Longest(start, end int) (Lap, bool) { return first(g.kBest(start, end, 1, true)) }

func first(laps []Lap) (Lap, bool) {
	if len(laps) == 0 {
		return Lap{}, false
	}
	return laps[0], true
}

func (g Graph) kBest(start, end, k int, longest bool) []Lap {
	k = min(k, kBestMax)
	c, p, ok := g.chainOf(start)
	if !ok || k < 1 {
		return nil
	}
	k = min(k, max(1, marksMost/(len(c.steps)*c.positions)))
	layers := c.kBestFrom(p, k, longest)
	type goal struct{ position, rank int }
	var goals []goal
	for pos, ms := range layers[len(c.steps)] {
		lane := g.laneEnding(c, pos)
		if lane == 0 || end != 0 && lane != end {
			continue
		}
		for r := range ms {
			goals = append(goals, goal{pos, r})
		}
	}
	last := layers[len(c.steps)]
	slices.SortStableFunc(goals, func(a, b goal) int {
		return order(last[a.position][a.rank], last[b.position][b.rank], longest)
	})
	goals = goals[:min(k, len(goals))]
	laps := make([]Lap, len(goals))
	for i, w := range goals {
		laps[i] = g.trace(c, layers, w.position, w.rank)
		laps[i].Start = start
	}
	return laps
}

// order says which prefix comes first: by length, then fewer changes.
func order(a, b mark, longest bool) int {
	switch {
	case a.length != b.length:
		if a.length < b.length != longest {
			return -1
		}
		return 1
	case a.changes != b.changes:
		return int(a.changes) - int(b.changes)
	}
	return 0
}

// kBestFrom fills layers[i][position] with the k best prefixes up to joint i, best first.
func (c *chain) kBestFrom(p, k int, longest bool) [][][]mark {
	layers := make([][][]mark, len(c.steps)+1)
	layers[0] = make([][]mark, c.positions)
	layers[0][p] = []mark{{from: -1}}
	sources := make([]source, 0, 8)
	for i, s := range c.steps {
		next := make([][]mark, c.positions)
		for to := range next {
			sources = sources[:0]
			for e := range s.edges {
				if s.edges[e].to == to && len(layers[i][s.edges[e].from]) > 0 {
					sources = append(sources, source{edge: e})
				}
			}
			next[to] = merge(layers[i], s.edges, sources, k, longest)
		}
		layers[i+1] = next
	}
	return layers
}

// source is one edge into a node and the best of the prefixes at its other end that is not yet taken.
type source struct {
	edge int
	head mark
	left bool // head is still to be taken
}

// at moves the source to the prefix of that rank.
func (s *source) at(before [][]mark, edges []edge, rank int32) {
	e := edges[s.edge]
	list := before[e.from]
	if s.left = int(rank) < len(list); !s.left {
		return
	}
	s.head = mark{length: list[rank].length + e.length, changes: list[rank].changes,
		from: int32(e.from), rank: rank, edge: int32(s.edge)}
	if e.change {
		s.head.changes++
	}
}

// merge takes the k best of the sorted lists that the sources stand for. Ties go to the earlier edge, so to staying.
// A node has a handful of edges, so the best head is found by looking at each.
func merge(before [][]mark, edges []edge, sources []source, k int, longest bool) []mark {
	room := 0
	for i := range sources {
		sources[i].at(before, edges, 0)
		room += len(before[edges[sources[i].edge].from])
	}
	out := make([]mark, 0, min(k, room))
	for len(out) < cap(out) {
		best := -1
		for i := range sources {
			if sources[i].left && (best < 0 || order(sources[i].head, sources[best].head, longest) < 0) {
				best = i
			}
		}
		out = append(out, sources[best].head)
		sources[best].at(before, edges, sources[best].head.rank+1)
	}
	return out
}

// trace walks a prefix back to the line and lists the changes on it.
func (g Graph) trace(c *chain, layers [][][]mark, position, rank int) Lap {
	lap := Lap{End: g.laneEnding(c, position), Turns: []Turn{}}
	lap.LengthMM = g.mm(layers[len(c.steps)][position][rank].length)
	for i := len(c.steps); i > 0; i-- {
		m := layers[i][position][rank]
		s := c.steps[i-1]
		if e := s.edges[m.edge]; e.change {
			lap.Turns = append(lap.Turns, turnOf(s, e))
		}
		position, rank = int(m.from), int(m.rank)
	}
	slices.Reverse(lap.Turns)
	return lap
}

func turnOf(s step, e edge) Turn {
	return Turn{Road: s.piece.Road, Index: s.piece.Index, Call: s.piece.Call, Piece: s.piece.Piece, From: e.from + 1, To: e.to + 1}
}

// mm turns units into mm.
func (g Graph) mm(units int64) float64 { return float64(units) * g.unitMM }

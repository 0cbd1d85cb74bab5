package rotation

import "fmt"

// evenSq is the least sum of squares of cells whole numbers that add up to
// total: the even split. Any other split has two cells that differ by two or
// more, and moving one from the larger to the smaller lowers the sum.
func evenSq(total, cells int) int64 {
	if cells <= 0 {
		return 0
	}
	q, t := total/cells, total%cells
	return int64(cells-t)*int64(q*q) + int64(t)*int64((q+1)*(q+1))
}

// shape is what a draw has to work with: how often each driver drives, and when
// he is there.
type shape struct {
	n, lanes, heats int
	each            []int // heats of each driver
	stay            []int // heats each driver is there for
	equal           bool  // all drive equally often and are there all evening
	full            bool  // no seat is empty
	posts           int
	apart           int // pairs who never meet, as they share a car
	rounds          int // 0 when drivers do not simply drive each lane so often
}

func shapeOf(p Problem, heats [][]int, rounds int) shape {
	s := shape{lanes: len(p.usable()), heats: len(heats), posts: p.Posts, equal: true, rounds: rounds}
	met := Meetings(p.Drivers, heats)
	for _, w := range p.Wishes.Share {
		s.apart += bit(met[w.A-1][w.B-1] == 0)
	}
	here := presence(p, len(heats))
	seats := 0
	for d, t := range stints(p.Drivers, heats) {
		if len(t) == 0 {
			continue
		}
		s.n++
		s.each = append(s.each, len(t))
		s.stay = append(s.stay, here[d].until-here[d].from)
		seats += len(t)
		if len(t) != s.each[0] || here[d].from > 0 || here[d].until < len(heats) {
			s.equal = false
		}
	}
	s.full = seats == s.lanes*s.heats
	return s
}

func (s shape) seats() int {
	n := 0
	for _, k := range s.each {
		n += k
	}
	return n
}

// bounds returns figures that no draw of this shape can beat. Fields without a
// bound are zero; PairLeast, MetLeast, MoveLeast and DutyLeast are largest
// possible values, all others smallest possible ones.
func (s shape) bounds() Figures {
	b := Figures{Heats: s.heats}
	if s.n == 0 || s.heats == 0 {
		return b
	}
	seats := s.seats()
	b.Empty = s.lanes*s.heats - seats
	// Meetings are fewest in all when the heats are equally full.
	meet := int(evenSq(seats, s.heats)-int64(seats)) / 2
	pairs := s.n * (s.n - 1) / 2
	b.PairSq = evenSq(meet, pairs-s.apart)
	if pairs > 0 {
		b.PairMost = ceilDiv(meet, pairs)
		b.PairLeast = meet / pairs
		if s.apart > 0 {
			b.PairLeast = 0
		}
		if !s.full && s.apart == 0 {
			b.PairLeast = s.each[0] // heats that differ in size may meet more often
			for _, k := range s.each {
				b.PairLeast = min(b.PairLeast, k)
			}
		}
		b.MetLeast = s.n - 1
		for _, k := range s.each {
			b.MetLeast = min(b.MetLeast, k*(min(s.lanes, s.n)-1))
		}
	}
	b.Wait = max(0, ceilDiv(s.n, s.lanes)-1)
	if !s.equal {
		b.Wait = 0
	}
	b.FirstLate = ceilDiv(s.n, s.lanes)
	for i, k := range s.each {
		out := max(0, s.stay[i]-k)
		b.Idle += evenSq(out, k+1)
		b.Wait = max(b.Wait, ceilDiv(out, k+1))
		b.Streak = max(b.Streak, ceilDiv(k, out+1))
		if s.equal && k*(s.heats+1)%2 == 1 {
			b.MeanSq++
		}
	}
	if k := s.each[0]; s.equal && s.n > s.lanes {
		// somebody sits out heat 1, so he has one stretch fewer
		b.Streak = max(b.Streak, ceilDiv(k, s.heats-k))
	}
	b.BackToBack = max(0, 2*seats-2*min(s.lanes, s.n)-(s.heats-1)*s.n)
	if s.rounds > 0 && s.equal {
		odd := s.rounds * (s.heats + 1) % 2
		b.StintSq = int64(odd * s.n * s.lanes)
		if s.rounds == 1 && s.full {
			for h := range s.heats {
				c := int64(2*h + 1 - s.heats)
				b.StintSq += int64(s.lanes) * c * c
			}
			b.StintSq -= int64(odd * s.n * s.lanes)
		}
	}
	moves := seats - s.n
	if cells := s.lanes * (s.lanes - 1); cells > 0 {
		b.MoveSq = evenSq(moves, cells)
		b.MoveMost, b.MoveLeast = ceilDiv(moves, cells), moves/cells
	}
	if cells := s.n * (s.n - 1); cells > 0 {
		// a lane passes on wherever it is not empty before or after
		take := max(0, s.lanes*(s.heats-1)-2*b.Empty)
		b.TakeSq = evenSq(take, cells)
		b.TakeMost = ceilDiv(take, cells)
	}
	if s.posts > 0 {
		free := s.n*s.heats - seats
		duties := min(s.posts*s.heats, free)
		b.DutyLeast = duties / s.n
		b.Unstaffed = s.posts*s.heats - duties
		if s.full {
			b.Unstaffed = s.heats * max(0, s.posts-max(0, s.n-s.lanes))
			duties = s.posts*s.heats - b.Unstaffed
			b.DutyLeast, b.DutyMost = duties/s.n, ceilDiv(duties, s.n)
		}
	}
	return b
}

// The figures of waiting by name.
const (
	figureStreak = "squares of overlong streaks"
	figureWait   = "longest wait"
	figureIdle   = "squares of waits"
)

// claims sets the figures of a draw against their bounds, criterion by
// criterion in the given order.
func (s shape) claims(f, b Figures, order []Criterion) []Claim {
	var out []Claim
	add := func(c Criterion, figure string, value, bound int64, why string) {
		out = append(out, Claim{Criterion: c, Figure: figure, Value: value, Bound: bound, Why: why, Optimal: value == bound})
	}
	seats := s.seats()
	for _, c := range order {
		switch c {
		case Opponents:
			if s.n > 1 {
				pairs := max(1, s.n*(s.n-1)/2-s.apart)
				meet := int(evenSq(seats, s.heats)-int64(seats)) / 2
				add(c, "sum of squares of meetings", f.PairSq, b.PairSq,
					fmt.Sprintf("%d meetings over %d pairs, split evenly: %d or %d each", meet, pairs, meet/pairs, ceilDiv(meet, pairs)))
			}
		case Waiting:
			add(c, figureStreak, f.Overlong, 0,
				fmt.Sprintf("nobody drives more than %s in a row", plural(min(streakAllowed(s.n, s.lanes), s.heats), "heat")))
			add(c, figureWait, int64(f.Wait), int64(b.Wait), "so many heats are needed for everybody to drive once")
			add(c, figureIdle, f.Idle, b.Idle, "the sit-outs of each driver split evenly over the gaps before, between and after his heats")
		case Evening:
			why := "the heat numbers of each driver add up to the same"
			if b.MeanSq > 0 {
				why = "an odd number of half heats cannot be split evenly, so everybody is off by one half heat at least"
			}
			add(c, "squares of mean heat number", f.MeanSq, b.MeanSq, why)
			add(c, "squares of lane by time of evening", f.LaneTimeSq, 0, "nobody's lanes go with the evening by more than a quarter of what chance gives")
			if s.rounds > 1 && s.equal {
				add(c, "squares of mean heat number on each lane", f.StintSq, b.StintSq, "as for the mean heat number, for each driver and lane")
			}
		case Moves:
			if s.lanes > 1 {
				add(c, "squares of moves from lane to lane", f.MoveSq, b.MoveSq,
					fmt.Sprintf("%d moves over %d ordered pairs of lanes, split evenly", seats-s.n, s.lanes*(s.lanes-1)))
			}
			if s.n > 1 {
				why := fmt.Sprintf("%d take-overs over %d ordered pairs of drivers, split evenly", s.lanes*(s.heats-1), s.n*(s.n-1))
				if !s.full {
					why = "at least so many take-overs beside the empty seats, split evenly"
				}
				add(c, "squares of take-overs", f.TakeSq, b.TakeSq, why)
			}
		case Marshals:
			if s.posts > 0 {
				add(c, "posts without a marshal", int64(f.Unstaffed), int64(b.Unstaffed), "so many are missing when all others drive")
				add(c, "most duties less least", int64(f.DutyMost-f.DutyLeast), int64(b.DutyMost-b.DutyLeast)*btoi(s.full), "duties divided by drivers")
			}
		}
	}
	return out
}

func btoi(b bool) int64 {
	if b {
		return 1
	}
	return 0
}

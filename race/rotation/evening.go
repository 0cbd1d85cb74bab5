package rotation

import "math/bits"

// level is something the order of an evening can be judged by. Levels are
// taken one after another: what an earlier one has won is never given up for a
// later one.
type level int

const (
	levelBroken level = iota // wishes broken
	levelUneven              // squares of heat sizes: empty seats spread evenly
	levelMeet                // squares of meetings
	levelStreak              // squares of what streaks have beyond the allowed length
	levelLong                // squares of what waits have beyond limit
	levelWait                // squares of waits
	levelTime                // squares of mean heat numbers
	levelForced              // duties forced before one's own heat
	levels
)

// evening is who drives in which heat, without lanes, with running totals of
// everything that depends on it.
type evening struct {
	n, lanes, heats int
	words           int      // words of a driver's set of heats
	seat            []int16  // heat -> drivers, lanes places each, -1 at the end where empty
	size            []int    // heat -> drivers in it
	in              []uint64 // heat -> set of drivers
	when            []uint64 // driver -> set of heats, words each
	meets           []int16  // pair -> heats together
	each            []int    // driver -> heats
	wait, streak    []int64  // driver -> his part of the totals
	long            []int64
	limit           int     // waits up to here are not long
	time            []int64 // driver -> twice the sum of his heat numbers, less its fair share
	total           totals
	settled         totals // what each level had come to when it was settled; levelLong: the longest wait
	allowed         int    // longest streak that costs nothing
	posts           int
	locked          int // heats that stay as they are, from the first
	here            []window
	wish            *wishSet // nil when there are none
	moved           int64
}

// wishSet is the wishes in the form the search needs.
type wishSet struct {
	p      Problem
	away   []uint64 // driver -> heats he is not there for
	first  uint64   // drivers who must be in heat 0
	shares []Share  // from 0
	of     [][]int  // driver -> his shares
}

func newWishSet(p Problem, heats int) *wishSet {
	if p.Wishes.none() {
		return nil
	}
	words := (heats + 63) / 64
	w := &wishSet{p: p, away: make([]uint64, p.Drivers*words), of: make([][]int, p.Drivers)}
	for d, t := range presence(p, heats) {
		for h := range heats {
			if h < t.from || h >= t.until {
				w.away[d*words+h/64] |= 1 << (h % 64)
			}
		}
	}
	for _, x := range p.Wishes.First {
		if x > 0 {
			w.first |= 1 << (x - 1)
		}
	}
	for i, s := range p.Wishes.Share {
		s.A, s.B = s.A-1, s.B-1
		w.shares = append(w.shares, s)
		w.of[s.A] = append(w.of[s.A], i)
		w.of[s.B] = append(w.of[s.B], i)
	}
	return w
}

// newEvening sets up the blocks in their order.
func newEvening(p Problem, blocks [][]int) *evening {
	n, lanes, heats := p.Drivers, len(p.usable()), len(blocks)
	e := &evening{n: n, lanes: lanes, heats: heats, words: (heats + 63) / 64,
		seat: make([]int16, heats*lanes), size: make([]int, heats), in: make([]uint64, heats),
		meets: make([]int16, n*n), each: make([]int, n), wait: make([]int64, n), streak: make([]int64, n), long: make([]int64, n), time: make([]int64, n),
		allowed: streakAllowed(n, lanes), posts: p.Posts, here: presence(p, heats), wish: newWishSet(p, heats)}
	e.when = make([]uint64, n*e.words)
	for h, block := range blocks {
		for i := range lanes {
			e.seat[h*lanes+i] = -1
			if i < len(block) {
				e.seat[h*lanes+i] = int16(block[i])
			}
		}
	}
	e.recount()
	return e
}

// recount works out all totals from the seats.
func (e *evening) recount() {
	clear(e.in)
	clear(e.when)
	clear(e.meets)
	clear(e.each)
	e.total = totals{}
	for h := range e.heats {
		e.size[h] = 0
		row := e.seat[h*e.lanes : (h+1)*e.lanes]
		for i, x := range row {
			if x < 0 {
				continue
			}
			e.size[h]++
			e.each[x]++
			e.in[h] |= 1 << x
			e.when[int(x)*e.words+h/64] |= 1 << (h % 64)
			for _, y := range row[:i] {
				if y < 0 {
					continue
				}
				e.meets[int(x)*e.n+int(y)]++
				e.meets[int(y)*e.n+int(x)]++
			}
		}
		e.total[levelUneven] += int64(e.size[h] * e.size[h])
	}
	for i, m := range e.meets {
		if i/e.n < i%e.n {
			e.total[levelMeet] += int64(m) * int64(m)
		}
	}
	for d := range e.n {
		e.wait[d], e.streak[d], e.long[d] = e.waitOf(d)
		e.time[d] = 0
		for h := range e.heats {
			if e.in[h]>>d&1 == 1 {
				e.time[d] += int64(2*h + 1 - e.heats)
			}
		}
		e.total[levelWait] += e.wait[d]
		e.total[levelStreak] += e.streak[d]
		e.total[levelLong] += e.long[d]
		e.total[levelTime] += e.time[d] * e.time[d]
	}
	for h := 0; h+1 < e.heats; h++ {
		e.total[levelForced] += e.forced(h)
	}
	e.total[levelBroken] = e.broken()
}

// waitOf is what driver d waits, in squares of the gaps before, between and
// after his heats, the squares of what his streaks have beyond the allowed
// length, and the squares of what his gaps have beyond limit.
func (e *evening) waitOf(d int) (wait, streak, long int64) {
	if e.each[d] == 0 {
		return 0, 0, 0
	}
	last, run := e.here[d].from-1, 0
	first := true
	for w := range e.words {
		for b := e.when[d*e.words+w]; b != 0; b &= b - 1 {
			h := w<<6 + bits.TrailingZeros64(b)
			g := h - last - 1
			last = h
			if g == 0 && !first {
				run++
				continue
			}
			wait += int64(g * g)
			if g > e.limit {
				long += int64((g - e.limit) * (g - e.limit))
			}
			if run > e.allowed {
				streak += int64((run - e.allowed) * (run - e.allowed))
			}
			run, first = 1, false
		}
	}
	if run > e.allowed {
		streak += int64((run - e.allowed) * (run - e.allowed))
	}
	g := e.here[d].until - last - 1
	if g > e.limit {
		long += int64((g - e.limit) * (g - e.limit))
	}
	return wait + int64(g*g), streak, long
}

// longest is the longest wait of anybody.
func (e *evening) longest() int {
	w := 0
	for d := range e.n {
		if e.each[d] == 0 {
			continue
		}
		last := e.here[d].from - 1
		for h := range e.heats {
			if e.in[h]>>d&1 == 1 {
				w = max(w, h-last-1)
				last = h
			}
		}
		w = max(w, e.here[d].until-last-1)
	}
	return w
}

// setLimit says from where on a wait is long.
func (e *evening) setLimit(w int) {
	e.limit = w
	for d := range e.n {
		e.refresh(d)
	}
}

// forced counts duties in heat h that fall to drivers of heat h+1 whatever the
// roster.
func (e *evening) forced(h int) int64 {
	if e.posts == 0 {
		return 0
	}
	staff := min(e.posts, e.n-e.size[h])
	free := e.n - bits.OnesCount64(e.in[h]|e.in[h+1])
	return int64(max(0, staff-free))
}

// forcedAround sums forced over the pairs of heats that h and g are part of.
func (e *evening) forcedAround(h, g int) int64 {
	if e.posts == 0 {
		return 0
	}
	sum := int64(0)
	for i := max(0, h-1); i <= h && i+1 < e.heats; i++ {
		sum += e.forced(i)
	}
	for i := max(0, g-1); i <= g && i+1 < e.heats; i++ {
		if i != h && i != h-1 {
			sum += e.forced(i)
		}
	}
	return sum
}

// broken counts broken wishes; lanes are left to a later step.
func (e *evening) broken() int64 {
	if e.wish == nil {
		return 0
	}
	sum := int64(0)
	for d := range e.n {
		sum += e.brokenBy(d)
	}
	for i := range e.wish.shares {
		sum += e.brokenShare(i)
	}
	return sum
}

func (e *evening) brokenBy(d int) int64 {
	sum := 0
	for w := range e.words {
		sum += bits.OnesCount64(e.when[d*e.words+w] & e.wish.away[d*e.words+w])
	}
	if e.wish.first>>d&1 == 1 && e.in[0]>>d&1 == 0 {
		sum++
	}
	return int64(sum)
}

func (e *evening) brokenShare(i int) int64 {
	s := e.wish.shares[i]
	a, b := e.when[s.A*e.words:][:e.words], e.when[s.B*e.words:][:e.words]
	sum := 0
	for w := range e.words {
		sum += bits.OnesCount64(a[w] & b[w])
		if s.Between {
			na, nb := a[w]<<1, b[w]<<1
			if w > 0 {
				na |= a[w-1] >> 63
				nb |= b[w-1] >> 63
			}
			sum += bits.OnesCount64(na&b[w]) + bits.OnesCount64(nb&a[w])
		}
	}
	return int64(sum)
}

// brokenOf sums the broken wishes that have to do with any driver of set.
func (e *evening) brokenOf(set uint64) int64 {
	if e.wish == nil {
		return 0
	}
	sum := int64(0)
	for b := set; b != 0; b &= b - 1 {
		d := bits.TrailingZeros64(b)
		sum += e.brokenBy(d)
		for _, i := range e.wish.of[d] {
			s := e.wish.shares[i]
			if other := s.A + s.B - d; set>>other&1 == 0 || d < other {
				sum += e.brokenShare(i)
			}
		}
	}
	return sum
}

// refresh works out anew what driver d waits.
func (e *evening) refresh(d int) {
	wait, streak, long := e.waitOf(d)
	e.total[levelWait] += wait - e.wait[d]
	e.total[levelStreak] += streak - e.streak[d]
	e.total[levelLong] += long - e.long[d]
	e.wait[d], e.streak[d], e.long[d] = wait, streak, long
}

// shift moves driver d's time by delta.
func (e *evening) shift(d int, delta int64) {
	t := e.time[d]
	e.total[levelTime] += delta * (2*t + delta)
	e.time[d] = t + delta
}

// exchange swaps heats h and g. Doing it twice undoes it.
func (e *evening) exchange(h, g int) {
	only := e.in[h] ^ e.in[g] // who is in one of them
	e.total[levelForced] -= e.forcedAround(h, g)
	e.total[levelBroken] -= e.brokenOf(only)
	a, b := e.seat[h*e.lanes:(h+1)*e.lanes], e.seat[g*e.lanes:(g+1)*e.lanes]
	for i := range a {
		a[i], b[i] = b[i], a[i]
	}
	delta := int64(2 * (g - h))
	for s := only; s != 0; s &= s - 1 {
		d := bits.TrailingZeros64(s)
		e.when[d*e.words+h>>6] ^= 1 << (h & 63)
		e.when[d*e.words+g>>6] ^= 1 << (g & 63)
		e.refresh(d)
		if e.in[h]>>d&1 == 1 {
			e.shift(d, delta)
		} else {
			e.shift(d, -delta)
		}
	}
	e.in[h], e.in[g] = e.in[g], e.in[h]
	e.size[h], e.size[g] = e.size[g], e.size[h]
	e.total[levelForced] += e.forcedAround(h, g)
	e.total[levelBroken] += e.brokenOf(only)
}

// trade puts y into seat i of heat h and x into seat j of heat g, where x and y
// sit now. One of the two may be -1: then the other moves to an empty seat.
// Swapping the arguments back undoes it.
func (e *evening) trade(h, i, g, j int) {
	pi, pj := h*e.lanes+i, g*e.lanes+j
	x, y := e.seat[pi], e.seat[pj]
	set := uint64(0)
	if x >= 0 {
		set |= 1 << x
	}
	if y >= 0 {
		set |= 1 << y
	}
	e.total[levelForced] -= e.forcedAround(h, g)
	e.total[levelBroken] -= e.brokenOf(set)
	if x >= 0 {
		e.leave(x, h)
	}
	if y >= 0 {
		e.leave(y, g)
	}
	e.seat[pi], e.seat[pj] = -1, -1
	if x >= 0 {
		e.join(x, g)
	}
	if y >= 0 {
		e.join(y, h)
	}
	e.seat[pi], e.seat[pj] = y, x
	for s := set; s != 0; s &= s - 1 {
		e.refresh(bits.TrailingZeros64(s))
	}
	e.total[levelForced] += e.forcedAround(h, g)
	e.total[levelBroken] += e.brokenOf(set)
}

// leave takes driver x out of heat h; his seat is still his.
func (e *evening) leave(x int16, h int) {
	e.in[h] &^= 1 << x
	e.meet(x, h, -1)
	e.size[h]--
	e.total[levelUneven] -= int64(2*e.size[h] + 1)
	e.when[int(x)*e.words+h>>6] &^= 1 << (h & 63)
	e.shift(int(x), -int64(2*h+1-e.heats))
}

// join puts driver x into heat h; a seat is given to him afterwards.
func (e *evening) join(x int16, h int) {
	e.meet(x, h, 1)
	e.in[h] |= 1 << x
	e.total[levelUneven] += int64(2*e.size[h] + 1)
	e.size[h]++
	e.when[int(x)*e.words+h>>6] |= 1 << (h & 63)
	e.shift(int(x), int64(2*h+1-e.heats))
}

// meet adds by to the meetings of x with everybody else in heat h.
func (e *evening) meet(x int16, h int, by int16) {
	row := e.meets[int(x)*e.n:][:e.n]
	cost := int64(0)
	for s := e.in[h] &^ (1 << x); s != 0; s &= s - 1 {
		y := bits.TrailingZeros64(s)
		m := row[y]
		cost += int64(by) * int64(2*m+by)
		row[y] = m + by
		e.meets[y*e.n+int(x)] = m + by
	}
	e.total[levelMeet] += cost
}

// rename swaps drivers x and y in all heats that are not locked.
func (e *evening) rename(x, y int) {
	for h := e.locked; h < e.heats; h++ {
		a, b := e.in[h]>>x&1, e.in[h]>>y&1
		if a == b {
			continue
		}
		row := e.seat[h*e.lanes : (h+1)*e.lanes]
		for i, d := range row {
			if int(d) == x {
				row[i] = int16(y)
			} else if int(d) == y {
				row[i] = int16(x)
			}
		}
	}
	e.recount()
}

// blocks returns the heats as lists of drivers.
func (e *evening) blocks() [][]int {
	out := make([][]int, e.heats)
	for h := range out {
		for _, x := range e.seat[h*e.lanes : (h+1)*e.lanes] {
			if x >= 0 {
				out[h] = append(out[h], int(x))
			}
		}
	}
	return out
}

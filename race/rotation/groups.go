package rotation

import (
	"context"
	"fmt"
	"sort"
)

// GroupsMax is the most groups a field is split into.
const GroupsMax = 8

// Split is the way a field is split into groups. Drivers are taken in the
// order of their seeds.
type Split int

const (
	Seeded     Split = iota // the quickest together in group 1, and so on
	Serpentine              // 1 2 3 3 2 1 1 2 3 ...: groups equally strong
	Mixed                   // by lot
)

var splitWords = [...]string{"seeded", "serpentine", "mixed"}

// String returns the word used on the command line and in files.
func (s Split) String() string {
	if s < 0 || int(s) >= len(splitWords) {
		return fmt.Sprintf("split %d", int(s))
	}
	return splitWords[s]
}

// ParseSplit reads "seeded", "serpentine" or "mixed".
func ParseSplit(s string) (Split, error) {
	for i, w := range splitWords {
		if s == w {
			return Split(i), nil
		}
	}
	return 0, badf("split %q is unknown; expected seeded, serpentine or mixed", s)
}

// Grouping says how a field is split.
type Grouping struct {
	Groups int
	Split  Split
	Seeds  []int // drivers, quickest first; nil takes them as numbered
}

// Field is an evening in groups.
type Field struct {
	Groups [][]int // group -> its drivers, in seed order
	Of     []int   // heat -> its group, from 1
	Draw   Draw    // the whole evening, with the drivers' own numbers
	Draws  []Draw  // each group's draw, its drivers numbered 1.. in the order of Groups
}

// Grouped splits the field and interleaves the heats of the groups, so that
// nobody waits out another group's whole block and all groups have the same
// mean time of evening as nearly as can be. p.Drivers is the whole field, up to
// 60 drivers for each group. Marshals come from all groups.
func Grouped(ctx context.Context, p Problem, g Grouping, report func(Progress)) (Field, error) {
	groups, err := g.split(p)
	if err != nil {
		return Field{}, err
	}
	if p.Kind == RollingOn && !p.Wishes.none() {
		return Field{}, badf("the rolling rotation takes no account of wishes; draw balanced groups")
	}
	// The lengths of the groups' evenings fix who drives when.
	length := make([]int, len(groups))
	for i, members := range groups {
		q, err := p.forGroup(members, nil, i).normal()
		if err != nil {
			return Field{}, err
		}
		length[i] = q.demand().heats
	}
	for _, d := range p.Wishes.First {
		if d != 0 && !contains(groups[interleave(length)[0]-1], d) {
			return Field{}, badf("the first heat is one of group %d, but driver %d is in another; wish for drivers of one group",
				interleave(length)[0], d)
		}
	}
	for round := 0; ; round++ {
		f := Field{Groups: groups, Of: interleave(length)}
		again := false
		for i, members := range groups {
			q := p.forGroup(members, f.positions(i), i)
			d, err := Make(ctx, q, report)
			if err != nil {
				return Field{}, fmt.Errorf("group %d (drivers %v): %w", i+1, members, err)
			}
			f.Draws = append(f.Draws, d)
			if len(d.Heats) != length[i] {
				length[i], again = len(d.Heats), true
			}
		}
		if again && round < 8 {
			continue // wishes took more heats
		}
		if again {
			return Field{}, badf("the groups' wishes take more heats each time they are planned; drop one of them")
		}
		f.join(p)
		return f, nil
	}
}

// split shares out the drivers.
func (g Grouping) split(p Problem) ([][]int, error) {
	n := p.Drivers
	if g.Groups < 1 || g.Groups > GroupsMax {
		return nil, badf("%d groups: expected 1 to %d", g.Groups, GroupsMax)
	}
	if g.Split < Seeded || g.Split > Mixed {
		return nil, badf("split %d is unknown", int(g.Split))
	}
	if n < g.Groups || n > g.Groups*DriversMax {
		return nil, badf("%d drivers in %d groups: expected 1 to %d in each", n, g.Groups, DriversMax)
	}
	order := append([]int(nil), g.Seeds...)
	if g.Seeds == nil {
		for d := range n {
			order = append(order, d+1)
		}
	}
	if len(order) != n {
		return nil, badf("%d seeds for %d drivers: give every driver once", len(order), n)
	}
	seen := make([]bool, n+1)
	for _, d := range order {
		if d < 1 || d > n || seen[d] {
			return nil, badf("seeds: driver %d is missing from the field or named twice", d)
		}
		seen[d] = true
	}
	out := make([][]int, g.Groups)
	if g.Split == Mixed {
		newRandom(p.Seed, 400).shuffle(order)
	}
	at := 0
	for i := range out {
		size := (n + g.Groups - 1 - i) / g.Groups
		if g.Split != Serpentine {
			out[i] = order[at : at+size : at+size]
			at += size
		}
	}
	if g.Split == Serpentine {
		for i, d := range order {
			k := i % g.Groups
			if i/g.Groups%2 == 1 {
				k = g.Groups - 1 - k
			}
			out[k] = append(out[k], d)
		}
	}
	return out, nil
}

// interleave merges evenings of the given lengths: heat i of a group lies at
// (i + 1/2)/length of the evening. Groups in step take turns, in order in the
// first half and the other way round in the second, so that their mean times
// are the same.
func interleave(length []int) []int {
	type slot struct{ group, i int }
	var all []slot
	for g, n := range length {
		for i := range n {
			all = append(all, slot{g, i})
		}
	}
	sort.SliceStable(all, func(a, b int) bool {
		x, y := all[a], all[b]
		u, v := (2*x.i+1)*length[y.group], (2*y.i+1)*length[x.group]
		if u != v {
			return u < v
		}
		if 2*x.i+1 > length[x.group] {
			return x.group > y.group
		}
		return x.group < y.group
	})
	out := make([]int, len(all))
	for h, s := range all {
		out[h] = s.group + 1
	}
	return out
}

// positions lists the heats of the evening, from 1, that belong to group i.
func (f Field) positions(i int) []int {
	var out []int
	for h, g := range f.Of {
		if g == i+1 {
			out = append(out, h+1)
		}
	}
	return out
}

// forGroup is the problem of one group. Wishes about heats of the evening are
// turned into wishes about the group's own heats at the given positions.
func (p Problem) forGroup(members, positions []int, i int) Problem {
	q := p
	q.Drivers = len(members)
	q.Posts = 0
	q.Seed = p.Seed + uint64(i)
	q.Wishes = Wishes{}
	own := make(map[int]int, len(members))
	for j, d := range members {
		own[d] = j + 1
	}
	for _, s := range p.Wishes.Share {
		if own[s.A] > 0 && own[s.B] > 0 {
			q.Wishes.Share = append(q.Wishes.Share, Share{own[s.A], own[s.B], s.Between})
		}
	}
	for _, b := range p.Wishes.Bar {
		if own[b.Driver] > 0 {
			q.Wishes.Bar = append(q.Wishes.Bar, Bar{own[b.Driver], b.Lane})
		}
	}
	if len(positions) == 0 {
		return q
	}
	for _, s := range p.Wishes.Stay {
		if own[s.Driver] == 0 {
			continue
		}
		t := Stay{Driver: own[s.Driver]}
		for j, h := range positions {
			if h < s.From {
				t.From = j + 2
			}
			if s.Until == 0 || h <= s.Until {
				t.Until = j + 1
			}
		}
		if s.Until == 0 || t.Until == len(positions) {
			t.Until = 0
		}
		if s.Until > 0 && t.Until == 0 && positions[len(positions)-1] > s.Until {
			t.Until = t.From // nothing is left for him: Make says so
		}
		q.Wishes.Stay = append(q.Wishes.Stay, t)
	}
	if positions[0] == 1 {
		for _, d := range p.Wishes.First {
			q.Wishes.First = append(q.Wishes.First, own[d])
		}
	}
	return q
}

// join puts the groups' draws together and works out the whole evening.
func (f *Field) join(p Problem) {
	next := make([]int, len(f.Groups))
	var heats [][]int
	cut := false
	moved := int64(0)
	for _, g := range f.Of {
		row := append([]int(nil), f.Draws[g-1].Heats[next[g-1]]...)
		for l, x := range row {
			if x > 0 {
				row[l] = f.Groups[g-1][x-1]
			}
		}
		next[g-1]++
		heats = append(heats, row)
	}
	p.Order, _ = completeOrder(p.Order)
	p.Rounds = max(p.Rounds, 1)
	var notes []string
	for i, d := range f.Draws {
		cut = cut || d.Cut
		moved += d.Moved
		for _, n := range d.Notes {
			notes = append(notes, fmt.Sprintf("Group %d: %s", i+1, n))
		}
	}
	f.Draw = p.finish(heats, p.Rounds)
	f.Draw.Moved, f.Draw.Cut, f.Draw.Notes = moved, cut, notes
	f.Draw.Notes = append(f.Draw.Notes, "Bounds for the whole field take no account of the groups; each group's own proof is with its draw.")
	if f.Draw.Figures.Broken > 0 {
		f.Draw.Notes = append(f.Draw.Notes, fmt.Sprintf("%d wishes between groups are broken.", f.Draw.Figures.Broken))
	}
}

package rotation

import (
	"context"
	"fmt"
	"testing"
)

// BenchmarkMake draws whole evenings.
func BenchmarkMake(b *testing.B) {
	for _, c := range [][3]int{{7, 3, 1}, {10, 4, 1}, {13, 4, 1}, {16, 6, 1}, {16, 8, 1}, {24, 6, 1}, {29, 6, 1}, {40, 4, 1}, {40, 8, 1}, {40, 8, 3}, {60, 8, 1}} {
		b.Run(fmt.Sprintf("drivers=%d/lanes=%d/rounds=%d", c[0], c[1], c[2]), func(b *testing.B) {
			b.ReportAllocs()
			p := Problem{Drivers: c[0], Lanes: c[1], Rounds: c[2], Posts: 3}
			moved := int64(0)
			for b.Loop() {
				d, err := Make(context.Background(), p, nil)
				if err != nil {
					b.Fatal(err)
				}
				moved += d.Moved
			}
			b.ReportMetric(float64(moved)/b.Elapsed().Seconds(), "moves/s")
		})
	}
}

func BenchmarkRedraw(b *testing.B) {
	b.ReportAllocs()
	p := Problem{Drivers: 24, Lanes: 6, Posts: 3, Stability: 10}
	d, err := Make(context.Background(), p, nil)
	if err != nil {
		b.Fatal(err)
	}
	played := Played{Run: d.Heats[:8], Duty: d.Duty[:8], Plan: d.Heats[8:]}
	for b.Loop() {
		if _, err := Redraw(context.Background(), p, played, Change{Late: 1, Leave: []int{3}}, nil); err != nil {
			b.Fatal(err)
		}
	}
}

// BenchmarkMoves times single moves of each search.
func BenchmarkMoves(b *testing.B) {
	p, _ := Problem{Drivers: 24, Lanes: 6, Posts: 3}.normal()
	s := &search{ctx: context.Background(), p: p}
	blocks := s.whoMeets(24, 6, 24, 6)[0].blocks
	b.Run("meetings", func(b *testing.B) {
		b.ReportAllocs()
		t := newTurning(24, 6, group{8, 1, 0})
		t.start(24, 6, newRandom(1, 1))
		for b.Loop() {
			y := t.perm[1][t.block[0]]
			if t.has[y] {
				y = t.perm[2][t.block[0]]
			}
			if !t.has[y] {
				t.replace(0, 0, y)
			}
		}
	})
	b.Run("order", func(b *testing.B) {
		b.ReportAllocs()
		e, r := newEvening(p, blocks), newRandom(1, 1)
		for b.Loop() {
			e.exchange(r.below(12), 12+r.below(12))
		}
	})
	b.Run("lanes", func(b *testing.B) {
		b.ReportAllocs()
		g, r := newLanes(p, lanesFor(p, blocks, p.usable())), newRandom(1, 1)
		for b.Loop() {
			g.chain(r.below(24), r.below(3), 3+r.below(3), r)
		}
	})
	b.Run("redraw", func(b *testing.B) {
		b.ReportAllocs()
		t, r := newTable(p, lanesFor(p, blocks, p.usable()), 0, nil), newRandom(1, 1)
		t.weigh(p.Order, 10)
		for b.Loop() {
			h, g := r.below(12), 12+r.below(12)
			t.swap(h, g, t.linked(h, g, r.below(6)))
		}
	})
}

package layout

// beside queues plain straights that are together as long as another road's piece.
func (b *builder) beside(lengthMM float64, n int, it *Item, piece string) bool {
	if b.kit.Routed {
		i := b.free(Piece{Name: "straight " + trim(lengthMM), Kind: KindStraight, LengthMM: lengthMM})
		b.queueOne(i, &Item{})
		return true
	}
	var sizes []int64
	var index []int
	for i := range b.pieces {
		if p := &b.pieces[i]; p.Kind == KindStraight && p.RiseMM == 0 {
			sizes, index = append(sizes, micro(p.LengthMM)), append(index, i)
		}
	}
	longestFirst(sizes, index)
	counts := b.chooseOnce(choice{0, micro(lengthMM)}, sizes)
	if counts == nil {
		return b.fail(CodeLengthMissing, n, "list the pieces road by road", "beside the %s of road %d lie %s, which the kit's straights (%s) cannot make up",
			piece, it.Road, mmText(lengthMM), b.straights())
	}
	for k, c := range counts {
		for range c {
			b.queueOne(index[k], &Item{})
		}
	}
	return true
}

func longestFirst(sizes []int64, index []int) {
	for i := 1; i < len(sizes); i++ {
		for j := i; j > 0 && sizes[j] > sizes[j-1]; j-- {
			sizes[j], sizes[j-1] = sizes[j-1], sizes[j]
			index[j], index[j-1] = index[j-1], index[j]
		}
	}
}

// chooseOnce is choose with a memory, since a course asks for the same few angles again and again.
func (b *builder) chooseOnce(c choice, sizes []int64) []int {
	if counts, ok := b.chosen[c]; ok {
		return counts
	}
	counts := choose(c.total, sizes, &b.effort)
	if b.chosen == nil {
		b.chosen = map[choice][]int{}
	}
	b.chosen[c] = counts
	return counts
}

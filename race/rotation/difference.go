package rotation

// family is a set of base blocks in a cyclic group whose differences are every
// non-zero place equally often: turned through the circle they are a draw in
// which every pair of drivers meets equally often.
type family struct {
	n, rounds int
	base      [][]int
	name      string
}

// families are the perfect draws that theory gives for up to 8 lanes. Every
// one of them is checked by counting its differences in a test. Sources are
// from memory, save where the check itself is the proof.
var families = []family{
	{7, 1, [][]int{{0, 1, 3}}, "the projective plane of order 2 (Singer 1938)"},
	{13, 1, [][]int{{0, 1, 3, 9}}, "the projective plane of order 3 (Singer 1938)"},
	{21, 1, [][]int{{3, 6, 7, 12, 14}}, "the projective plane of order 4 (Singer 1938)"},
	{31, 1, [][]int{{1, 5, 11, 24, 25, 27}}, "the projective plane of order 5 (Singer 1938)"},
	{57, 1, [][]int{{1, 6, 7, 9, 19, 38, 42, 49}}, "the projective plane of order 7 (Singer 1938)"},
	{11, 1, [][]int{{1, 3, 4, 5, 9}}, "the quadratic residues mod 11 (Paley 1933)"},
	{15, 1, [][]int{{0, 1, 2, 4, 5, 8, 10}}, "the points and planes of PG(3,2) (Singer 1938)"},
	{13, 2, [][]int{{0, 1, 4}, {0, 2, 7}}, "a Steiner triple system on 13 (Netto 1893)"},
}

// known returns the blocks of a perfect draw that theory gives directly, or of
// the complement of one, with the name of the construction.
func known(n, size, rounds int) ([][]int, string) {
	for _, f := range families {
		if f.n != n || f.rounds != rounds {
			continue
		}
		k := len(f.base[0])
		if k != size && (rounds != 1 || n-k != size) {
			continue
		}
		t := newTurning(n, k, group{n, 1, 0})
		t.set(f.base)
		if k == size {
			return t.develop(), f.name
		}
		return complement(n, t.develop()), "the complement of " + f.name
	}
	return nil, ""
}

// complement swaps those who drive and those who sit out. Every pair then meets
// heats - 2*(heats of each) + (meetings before) times, so equal stays equal.
func complement(n int, blocks [][]int) [][]int {
	out := make([][]int, len(blocks))
	for i, block := range blocks {
		in := make([]bool, n)
		for _, x := range block {
			in[x] = true
		}
		for x := range n {
			if !in[x] {
				out[i] = append(out[i], x)
			}
		}
	}
	return out
}

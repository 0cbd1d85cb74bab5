package rotation

// colour gives every edge of a bipartite multigraph one of k colours so that no
// two edges with a common end have the same. It never fails when no vertex has
// more than k edges (König 1916). left and right are the ends, from 0.
//
// Each edge gets a colour free at both ends; if there is none, a colour a free
// at the left end and a colour b free at the right end are swapped along the
// path of edges coloured a and b that starts at the right end. That path cannot
// come back to the left end, as it would have to arrive there by colour a.
func colour(left, right []int, nl, nr, k int) []int {
	const none = -1
	atL, atR := make([]int, nl*k), make([]int, nr*k) // vertex, colour -> edge
	for i := range atL {
		atL[i] = none
	}
	for i := range atR {
		atR[i] = none
	}
	out := make([]int, len(left))
	put := func(e, c int) {
		out[e] = c
		atL[left[e]*k+c], atR[right[e]*k+c] = e, e
	}
	for e := range left {
		u, v := left[e], right[e]
		a, b := none, none
		for c := range k {
			fu, fv := atL[u*k+c] == none, atR[v*k+c] == none
			if fu && fv {
				a, b = c, c
				break
			}
			if fu && a == none {
				a = c
			}
			if fv && b == none {
				b = c
			}
		}
		if a != b {
			var path []int
			at, vertex, c := atR, v, a
			for f := at[vertex*k+c]; f != none; f = at[vertex*k+c] {
				path = append(path, f)
				if len(path)%2 == 1 {
					at, vertex, c = atL, left[f], b
				} else {
					at, vertex, c = atR, right[f], a
				}
			}
			for _, f := range path {
				atL[left[f]*k+out[f]], atR[right[f]*k+out[f]] = none, none
			}
			for _, f := range path {
				put(f, a+b-out[f])
			}
		}
		put(e, a)
	}
	return out
}

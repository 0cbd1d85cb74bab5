package layout

// nearest returns the word most like the given one, empty where none is alike: no more than one slip in three letters.
func nearest(word string, among []string) string {
	best, slips := "", len(word)/3+1
	if len(word) > 40 {
		return ""
	}
	for _, w := range among {
		if d := distance(word, w); d < slips {
			best, slips = w, d
		}
	}
	return best
}

// distance counts the letters to insert, remove, replace or swap with their neighbour between two words (optimal string alignment).
func distance(a, b string) int {
	before, last, row := make([]int, len(b)+1), make([]int, len(b)+1), make([]int, len(b)+1)
	for j := range row {
		row[j] = j
	}
	for i := range len(a) {
		before, last, row = last, row, before
		row[0] = i + 1
		for j := range len(b) {
			cost := last[j]
			if a[i] != b[j] {
				cost++
			}
			row[j+1] = min(cost, row[j]+1, last[j+1]+1)
			if i > 0 && j > 0 && a[i] == b[j-1] && a[i-1] == b[j] {
				row[j+1] = min(row[j+1], before[j-1]+1)
			}
		}
	}
	return row[len(b)]
}

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

// distance counts the letters to insert, remove or replace between two words (Levenshtein).
func distance(a, b string) int {
	row := make([]int, len(b)+1)
	for j := range row {
		row[j] = j
	}
	for i := range len(a) {
		diagonal := row[0]
		row[0] = i + 1
		for j := range len(b) {
			cost := diagonal
			if a[i] != b[j] {
				cost++
			}
			diagonal = row[j+1]
			row[j+1] = min(cost, row[j]+1, row[j+1]+1)
		}
	}
	return row[len(b)]
}

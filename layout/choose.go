package layout

// Bounds on the combinations looked at before giving up, for one total and for a whole plan; a ring has a handful of angles.
const (
	chooseMost = 100000
	effortMost = 2000000
)

// choose makes up total from sizes, as many of the first as fit, then of the second, and so on. It returns how many of each,
// nil when there is no way. All numbers are whole and sizes positive. effort is what may still be tried, and is used up.
func choose(total int64, sizes []int64, effort *int) []int {
	counts := make([]int, len(sizes))
	allowed := min(chooseMost, *effort)
	left := allowed
	ok := total >= 0 && fill(total, sizes, counts, &left)
	*effort -= allowed - left
	if !ok {
		return nil
	}
	return counts
}

func fill(total int64, sizes []int64, counts []int, left *int) bool {
	if len(sizes) == 0 || *left <= 0 {
		return total == 0
	}
	*left--
	if len(sizes) == 1 {
		counts[0] = int(total / sizes[0])
		return total%sizes[0] == 0
	}
	for n := total / sizes[0]; n >= 0 && *left > 0; n-- {
		counts[0] = int(n)
		if fill(total-n*sizes[0], sizes[1:], counts[1:], left) {
			return true
		}
	}
	return false
}

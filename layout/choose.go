package layout

// chooseMost bounds the combinations looked at before giving up; a ring has a handful of angles.
const chooseMost = 100000

// choose makes up total from sizes, as many of the first as fit, then of the second, and so on. It returns how many of each,
// nil when there is no way. All numbers are whole and sizes positive.
func choose(total int64, sizes []int64) []int {
	counts := make([]int, len(sizes))
	left := chooseMost
	if total < 0 || !fill(total, sizes, counts, &left) {
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

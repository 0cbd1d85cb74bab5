package rotation

// heatsForWishes is the fewest heats in which the wishes can hold as far as
// counting shows, or which wishes contradict each other.
func (p Problem) heatsForWishes(need demand) (int, error) {
	return need.heats, nil
}

package rotation

// Draw is a finished rotation with its figures.
type Draw struct {
	Kind    Kind
	Drivers int
	Lanes   int // lanes of the track, closed ones included
	Rounds  int
	Seed    uint64

	// Heats holds one row for each heat and in it one driver (1..Drivers) for
	// each lane from lane 1, 0 where the lane is empty. No driver is twice in
	// a row.
	Heats [][]int

	// Duty holds for each heat one driver for each marshals' post, 0 where
	// nobody is free. Nil when no posts were asked for.
	Duty [][]int

	Figures Figures // what the draw reaches
	Bounds  Figures // what no draw can beat; see Claims for which of them are bounds
	Claims  []Claim // criterion by criterion: value, bound, why, whether optimal
	Proof   string  // the claims in words
	Notes   []string

	// Left says for each driver what remains unfair in lane costs, in driver
	// order; nil when no costs were given.
	Left []Advantage

	Moved int64 // moves tried by the searches
	Cut   bool  // the context ended the search early; the draw is valid
}

// Claim is one line of the proof.
type Claim struct {
	Criterion Criterion
	Figure    string // what is counted
	Value     int64
	Bound     int64 // no draw has less
	Why       string
	// Optimal: the value equals the bound, or a complete search has shown that
	// nothing better exists (given what comes before in the order).
	Optimal bool
	// Complete: the bound is the result of a complete search, given what comes
	// before in the order.
	Complete bool
}

// Advantage is what the lanes leave over for one driver.
type Advantage struct {
	Driver int
	// Cost is the mean cost of his lanes, heat by heat, less the mean of all
	// drivers: positive means he got the slower lanes. Unit of the costs.
	Cost float64
	// HeadStart is what he is owed against the best-off driver: mean cost
	// less the smallest mean cost. Unit of the costs.
	HeadStart float64
}

// LapsAHeat turns a cost in seconds a lap into laps a heat, for a heat of the
// given length and a lap time, both in seconds. It returns 0 when either is
// not positive.
func LapsAHeat(cost, heat, lap float64) float64 {
	if !(heat > 0) || !(lap > 0) || !(lap+cost > 0) {
		return 0
	}
	return heat/lap - heat/(lap+cost)
}

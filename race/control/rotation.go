package control

import (
	"context"
	"fmt"
	"slices"
	"strconv"

	"lanewright/race"
	"lanewright/race/rotation"
	"lanewright/race/score"
)

// DrawRequest is what a draw is made of. Drivers, lanes and heats count from 1.
type DrawRequest struct {
	race.MakeDraw
	Drivers []race.Driver // here and driving, in order of their numbers
	Every   []race.Driver // all ever signed on, position by number
	Seats   int           // lanes, or cars on digital nights
	Digital bool
	Closed  []int // lanes out of use
	Posts   int   // marshal posts

	// Of an evening that has begun.
	Run           [][]int // heats run and accepted: driver by seat
	Ahead         []race.PlannedHeat
	FirstDrivers  int   // signed on when the first draw was made
	ClosedAtFirst []int // lanes out of use then

	Seeded []int // drivers in the order of the night so far, for mains
	StepUp int
}

func (d *desk) request(m race.MakeDraw) DrawRequest {
	n := d.night
	r := DrawRequest{MakeDraw: m, Seats: n.Seats(), Digital: n.Info().Digital, Posts: n.Card().Posts, Run: n.HeatsRun(), Ahead: n.HeatsAhead(), Every: n.EveryDriver()}
	r.FirstDrivers, r.ClosedAtFirst = n.Planned()
	if r.Kind == "" {
		r.Kind = "balanced"
	}
	if r.Rounds == 0 {
		r.Rounds = 1
	}
	if r.Seed == 0 {
		r.Seed = n.Info().Seed
	}
	if !r.Digital {
		r.Closed = n.ClosedLanes()
	}
	here := map[int]bool{}
	for _, p := range n.Drivers() {
		if !p.Away {
			r.Drivers = append(r.Drivers, p)
			here[p.Number] = true
		}
	}
	if r.Kind == "mains" {
		r.StepUp = n.Card().StepUp
		for _, row := range n.Standings(race.Filter{}) {
			if here[row.Driver] && row.Heats > 0 {
				r.Seeded = append(r.Seeded, row.Driver)
			}
		}
	}
	return r
}

// Request returns what a draw would be made of now, for a preview.
func (c *Control) Request(ctx context.Context, m race.MakeDraw) (r DrawRequest, err error) {
	err = c.Look(ctx, func(*race.Night) { r = c.desk.request(m) })
	return r, err
}

// Rotation makes draws with race/rotation: a new one before the first heat, the rest of the evening after it, mains by the order of the night so
// far.
func Rotation(ctx context.Context, r DrawRequest) (race.Drawn, error) {
	return RotationWithNews(ctx, r, nil)
}

// RotationWithNews is Rotation that tells now and then of the best draw so far, each one complete and usable. news may be nil; it is
// called in the middle of the search and must return soon. Ending ctx ends the search with the best so far.
func RotationWithNews(ctx context.Context, r DrawRequest, news func(race.Drawn)) (race.Drawn, error) {
	out := race.Drawn{Draw: r.Kind, Rounds: r.Rounds, Seed: r.Seed}
	var err error
	switch groups := r.groups(); {
	case r.Kind == "mains":
		err = mains(r, &out)
	case r.Digital:
		out.Heats = digitalHeats(r)
	case len(r.Run) > 0:
		err = redraw(ctx, r, &out)
	case len(groups) > 1:
		for _, g := range groups {
			part := r
			part.Drivers = slices.DeleteFunc(slices.Clone(r.Drivers), func(p race.Driver) bool { return p.Group != g })
			from := len(out.Heats)
			if err = fresh(ctx, part, &out, nil); err != nil {
				return out, fmt.Errorf("group %s: %w", g, err)
			}
			for i := from; i < len(out.Heats); i++ {
				out.Heats[i].Group = g
				out.Heats[i].Marshals = r.idle(out.Heats[i].Drivers) // the other groups have time
			}
		}
	default:
		err = fresh(ctx, r, &out, news)
	}
	return out, err
}

// groups returns the names of the groups in order; drivers without one make a group of their own.
func (r DrawRequest) groups() []string {
	var out []string
	for _, p := range r.Drivers {
		if !slices.Contains(out, p.Group) {
			out = append(out, p.Group)
		}
	}
	slices.Sort(out)
	return out
}

// fresh draws before anything has been run.
func fresh(ctx context.Context, r DrawRequest, out *race.Drawn, news func(race.Drawn)) error {
	kind, err := rotation.ParseKind(r.Kind)
	if err != nil {
		return err
	}
	if kind == rotation.ShortKind && r.Heats == 0 {
		return errSaid("a short rotation needs the number of heats there is time for")
	}
	p := rotation.Problem{Kind: kind, Drivers: len(r.Drivers), Lanes: r.Seats, Rounds: r.Rounds, Closed: r.Closed, Heats: r.Heats, Posts: r.Posts, Seed: r.Seed,
		Wishes: wishes(r.Drivers)}
	var report func(rotation.Progress)
	if news != nil {
		report = func(progress rotation.Progress) {
			sofar := race.Drawn{Draw: out.Draw, Rounds: out.Rounds, Seed: out.Seed}
			taken(&sofar, progress.Best(), 0, r.Drivers)
			news(sofar)
		}
	}
	draw, err := rotation.Make(ctx, p, report)
	if err != nil {
		return err
	}
	taken(out, draw, 0, r.Drivers)
	return nil
}

// redraw plans the rest of an evening. Where the first plan's way cannot be kept, everybody gets the lanes still missing in a plain order, and
// the draw says why.
func redraw(ctx context.Context, r DrawRequest, out *race.Drawn) error {
	kind, err := rotation.ParseKind(r.Kind)
	if err != nil {
		return err
	}
	first := max(min(r.FirstDrivers, len(r.Every)), 1)
	p := rotation.Problem{Kind: kind, Drivers: first, Lanes: r.Seats, Rounds: r.Rounds, Closed: r.ClosedAtFirst, Heats: r.Heats, Posts: r.Posts, Seed: r.Seed,
		Wishes: wishes(r.Every)}
	change := rotation.Change{Late: len(r.Every) - first}
	for _, d := range r.Every {
		if d.Away {
			change.Leave = append(change.Leave, d.Number)
		}
	}
	for _, l := range r.Closed {
		if !slices.Contains(r.ClosedAtFirst, l) {
			change.Close = append(change.Close, l)
		}
	}
	played := rotation.Played{Run: r.Run}
	for _, h := range r.Ahead {
		row := make([]int, r.Seats)
		copy(row, h.Drivers)
		played.Plan = append(played.Plan, row)
	}
	draw, err := rotation.Redraw(ctx, p, played, change, nil)
	if err != nil {
		if ctx.Err() != nil {
			return ctx.Err()
		}
		out.Heats = rest(r)
		out.Lines = []string{"plain order, everybody gets the lanes still missing, because: " + err.Error()}
		return nil
	}
	taken(out, draw, len(r.Run), r.Every)
	return nil
}

// mains draws finals: the best drivers straight into the top main, the others below, the lowest main first. Seats for those who step up stay
// open. Within a main the better seed takes the lower lane.
func mains(r DrawRequest, out *race.Drawn) error {
	var open []int
	for s := 1; s <= r.Seats; s++ {
		if !slices.Contains(r.Closed, s) {
			open = append(open, s)
		}
	}
	if len(r.Seeded) == 0 {
		return errSaid("mains are drawn by the order of the night so far: run heats first")
	}
	seeded := make([]string, len(r.Seeded))
	for i, d := range r.Seeded {
		seeded[i] = strconv.Itoa(d)
	}
	ms, err := score.Mains(seeded, len(open), r.StepUp)
	if err != nil {
		return err
	}
	for i := len(ms) - 1; i >= 0; i-- {
		h := race.PlannedHeat{Group: ms[i].Letter + " main", Main: ms[i].Letter, Drivers: make([]int, r.Seats)}
		for k, key := range ms[i].Seeded {
			d, err := strconv.Atoi(key)
			if err != nil {
				return err
			}
			h.Drivers[open[k]-1] = d
		}
		if i > 0 {
			h.StepUp = ms[i-1].StepUp
		}
		h.Marshals = r.idle(h.Drivers)
		out.Heats = append(out.Heats, h)
	}
	return nil
}

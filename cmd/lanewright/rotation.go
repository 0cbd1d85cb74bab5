package main

import (
	"cmp"
	"context"
	"encoding/csv"
	"encoding/json"
	"fmt"
	"os"
	"strconv"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"lanewright/race/rotation"
)

// rotationFlags is what the command line of `rotation` says.
type rotationFlags struct {
	drivers, lanes, rounds, heats, lanesEach int
	posts, groups, effort, stability         int
	sheet, kind, order, split, redraw        string
	closed, sitOut, first, seeds             []int
	void, leave, shut                        []int
	costs                                    []float64
	share, stay, bar                         []string
	seed                                     uint64
	ran, late                                int
	limit                                    time.Duration
	heatSeconds, lapSeconds                  float64
	asJSON, asCSV, explain, quiet            bool
}

func rotationCommand() *cobra.Command {
	var f rotationFlags
	cmd := &cobra.Command{
		Use:   "rotation",
		Short: "Who drives which lane in which heat, with proof of how fair it is",
		Long: "Draws a rotation: every driver on every lane equally often, in the fewest heats, and among all such draws\n" +
			"one that is as fair as can be in the order of importance that --order gives. The proof says what is reached,\n" +
			"what no draw can beat, and why. The same line with the same seed gives the same draw.",
		Example: "  lanewright rotation --drivers 13 --lanes 4 --explain\n" +
			"  lanewright rotation --sheet night.toml --lanes 6 --kind short --heats 14 --costs 0.2,0.1,0,0,0.1,0.2\n" +
			"  lanewright rotation --drivers 13 --lanes 4 --json > plan.json\n" +
			"  lanewright rotation --redraw plan.json --ran 5 --late 1 --leave 7",
		Args: cobra.NoArgs,
		RunE: func(cmd *cobra.Command, _ []string) error { return runRotation(cmd, f) },
	}
	fs := cmd.Flags()
	fs.IntVar(&f.drivers, "drivers", 0, "number of drivers")
	fs.StringVar(&f.sheet, "sheet", "", "take drivers and lanes from a night sheet")
	fs.IntVar(&f.lanes, "lanes", 0, "number of lanes of the track")
	fs.IntVar(&f.rounds, "rounds", 0, "times everybody drives each lane (1 to 3)")
	fs.StringVar(&f.kind, "kind", "", "balanced, rolling or short")
	fs.IntVar(&f.heats, "heats", 0, "short: heats there is time for")
	fs.IntVar(&f.lanesEach, "lanes-each", 0, "short: lanes everybody gets")
	fs.Uint64Var(&f.seed, "seed", 0, "another seed gives another draw as fair")
	fs.BoolVar(&f.asJSON, "json", false, "print the draw as JSON")
	fs.BoolVar(&f.asCSV, "csv", false, "print the draw as CSV")
	fs.BoolVar(&f.explain, "explain", false, "show everybody's evening, who meets whom, and the rolling rotation's figures beside")
	fs.IntVar(&f.posts, "posts", 0, "marshals' posts to staff from those sitting out")
	fs.StringVar(&f.order, "order", "", "order of importance: opponents,waiting,evening,moves,marshals (or letters a to e)")
	fs.IntSliceVar(&f.closed, "closed", nil, "lanes that are not used")
	fs.IntSliceVar(&f.sitOut, "sit-out", nil, "rolling: for each sit-out place, the number of lanes of the circle it lies behind")
	fs.Float64SliceVar(&f.costs, "costs", nil, "what each lane costs, in seconds a lap, from lane 1")
	fs.Float64Var(&f.heatSeconds, "heat-seconds", 0, "length of a heat, to show head starts in laps")
	fs.Float64Var(&f.lapSeconds, "lap-seconds", 0, "usual lap time, to show head starts in laps")
	fs.StringArrayVar(&f.share, "share", nil, "two drivers share a car: 3:8, or 3:8:between for a heat between")
	fs.StringArrayVar(&f.stay, "stay", nil, "a driver comes late or leaves early: 5:3- or 5:-9 or 5:3-9")
	fs.StringArrayVar(&f.bar, "bar", nil, "a lane that a driver cannot use: 5:2 for driver 5, lane 2")
	fs.IntSliceVar(&f.first, "first", nil, "who drives the first heat, from lane 1; 0 leaves a lane open")
	fs.IntVar(&f.groups, "groups", 0, "split the field into so many groups")
	fs.StringVar(&f.split, "split", "serpentine", "groups: seeded, serpentine or mixed")
	fs.IntSliceVar(&f.seeds, "seeds", nil, "groups: drivers from the quickest on")
	fs.StringVar(&f.redraw, "redraw", "", "re-plan the rest of the evening that this JSON draw began")
	fs.IntVar(&f.ran, "ran", 0, "re-draw: heats that were run")
	fs.IntVar(&f.late, "late", 0, "re-draw: drivers who have come late")
	fs.IntSliceVar(&f.leave, "leave", nil, "re-draw: drivers who have left")
	fs.IntSliceVar(&f.shut, "close", nil, "re-draw: lanes that cannot be used any more")
	fs.IntSliceVar(&f.void, "void", nil, "re-draw: heats run that do not count")
	fs.IntVar(&f.stability, "stability", 10, "re-draw: what a changed seat weighs, 0 to 100")
	fs.DurationVar(&f.limit, "limit", 0, "stop searching after this time and take the best draw so far")
	fs.IntVar(&f.effort, "effort", 1, "search so many times as long")
	fs.BoolVar(&f.quiet, "quiet", false, "print the heats only")
	cmd.MarkFlagsMutuallyExclusive("json", "csv", "explain")
	cmd.MarkFlagsMutuallyExclusive("drivers", "sheet")
	return cmd
}

func runRotation(cmd *cobra.Command, f rotationFlags) error {
	ctx := cmd.Context()
	if ctx == nil {
		ctx = context.Background()
	}
	if f.limit < 0 {
		return fmt.Errorf("rotation: --limit %v: expected a time such as 3s", f.limit)
	}
	if f.limit > 0 {
		var cancel context.CancelFunc
		ctx, cancel = context.WithTimeout(ctx, f.limit)
		defer cancel()
	}
	p, names, err := f.problem()
	if err != nil {
		return err
	}
	out := cmd.OutOrStdout()
	if f.redraw != "" {
		p, d, err := f.remake(ctx, p)
		if err != nil {
			return err
		}
		return f.show(cmd, p, d, names, nil)
	}
	if f.groups > 0 {
		split, err := rotation.ParseSplit(f.split)
		if err != nil {
			return err
		}
		field, err := rotation.Grouped(ctx, p, rotation.Grouping{Groups: f.groups, Split: split, Seeds: f.seeds}, nil)
		if err != nil {
			return err
		}
		if f.asJSON {
			return writeJSON(out, fieldFile{field.Draw, names, field.Groups, field.Of})
		}
		return f.show(cmd, p, field.Draw, names, &field)
	}
	d, err := rotation.Make(ctx, p, nil)
	if err != nil {
		return err
	}
	return f.show(cmd, p, d, names, nil)
}

// show prints a draw in the way the flags ask for.
func (f rotationFlags) show(cmd *cobra.Command, p rotation.Problem, d rotation.Draw, names []string, field *rotation.Field) error {
	out := cmd.OutOrStdout()
	switch {
	case f.asJSON:
		return writeJSON(out, namedDraw{d, names})
	case f.asCSV:
		w := csv.NewWriter(out)
		if err := w.WriteAll(d.CSV(names)); err != nil {
			return err
		}
		return w.Error()
	}
	page := drawPage{draw: d, names: names, field: field, heat: f.heatSeconds, lap: f.lapSeconds}
	page.heats(out)
	if f.quiet {
		return nil
	}
	if f.explain {
		rolling, err := rotation.Baseline(p)
		page.drivers(out)
		page.opponents(out)
		if err == nil && field == nil && f.redraw == "" {
			page.compare(out, rolling)
		} else {
			page.compare(out, rotation.Draw{})
		}
	}
	page.left(out)
	page.proof(out)
	return nil
}

// problem turns flags and night sheet into a problem and the drivers' names.
func (f rotationFlags) problem() (rotation.Problem, []string, error) {
	p := rotation.Problem{Drivers: f.drivers, Lanes: f.lanes, Rounds: f.rounds, Closed: f.closed, LanesEach: f.lanesEach, Heats: f.heats,
		Costs: f.costs, SitOut: f.sitOut, Posts: f.posts, Stability: f.stability, Seed: f.seed, Effort: f.effort}
	var names []string
	kind := f.kind
	if f.sheet != "" {
		sheet, err := readRotationSheet(f.sheet)
		if err != nil {
			return p, nil, err
		}
		names = sheet.names
		p.Drivers = len(names)
		if p.Lanes == 0 {
			p.Lanes = sheet.lanes
		}
		if kind == "" {
			kind = sheet.kind
		}
		if p.Seed == 0 {
			p.Seed = sheet.seed
		}
		if p.Rounds == 0 {
			p.Rounds = sheet.rounds
		}
	}
	if f.redraw == "" && p.Lanes == 0 {
		return p, nil, fmt.Errorf("rotation: no number of lanes: give --lanes, or `lanes` in the night sheet")
	}
	if f.redraw == "" && p.Drivers == 0 && f.sheet == "" {
		return p, nil, fmt.Errorf("rotation: no drivers: give --drivers or --sheet")
	}
	if kind == "" {
		kind = "balanced"
		if f.heats > 0 || f.lanesEach > 0 {
			kind = "short"
		}
	}
	var err error
	if p.Kind, err = rotation.ParseKind(kind); err != nil {
		return p, nil, err
	}
	if p.Order, err = rotation.ParseOrder(f.order); err != nil {
		return p, nil, err
	}
	p.Wishes, err = f.wishes()
	return p, names, err
}

func (f rotationFlags) wishes() (rotation.Wishes, error) {
	w := rotation.Wishes{First: f.first}
	for _, s := range f.share {
		parts := strings.Split(s, ":")
		between := len(parts) == 3 && parts[2] == "between"
		a, errA := strconv.Atoi(parts[0])
		b, errB := 0, error(nil)
		if len(parts) > 1 {
			b, errB = strconv.Atoi(parts[1])
		}
		if len(parts) < 2 || len(parts) > 3 || len(parts) == 3 && !between || errA != nil || errB != nil {
			return w, fmt.Errorf("rotation: --share %q: expected two drivers such as 3:8, or 3:8:between", s)
		}
		w.Share = append(w.Share, rotation.Share{A: a, B: b, Between: between})
	}
	for _, s := range f.stay {
		driver, span, ok := strings.Cut(s, ":")
		from, until, dash := strings.Cut(span, "-")
		bad := fmt.Errorf("rotation: --stay %q: expected a driver and heats such as 5:3- or 5:-9 or 5:3-9", s)
		if !ok || !dash || from == "" && until == "" {
			return w, bad
		}
		x := rotation.Stay{}
		for _, field := range []struct {
			text string
			to   *int
		}{{driver, &x.Driver}, {from, &x.From}, {until, &x.Until}} {
			if field.text == "" {
				continue
			}
			v, err := strconv.Atoi(field.text)
			if err != nil {
				return w, bad
			}
			*field.to = v
		}
		w.Stay = append(w.Stay, x)
	}
	for _, s := range f.bar {
		driver, lane, ok := strings.Cut(s, ":")
		d, errD := strconv.Atoi(driver)
		l, errL := strconv.Atoi(lane)
		if !ok || errD != nil || errL != nil {
			return w, fmt.Errorf("rotation: --bar %q: expected a driver and a lane such as 5:2", s)
		}
		w.Bar = append(w.Bar, rotation.Bar{Driver: d, Lane: l})
	}
	return w, nil
}

// remake re-plans the evening of a draw in a file.
func (f rotationFlags) remake(ctx context.Context, p rotation.Problem) (rotation.Problem, rotation.Draw, error) {
	data, err := os.ReadFile(f.redraw)
	if err != nil {
		return p, rotation.Draw{}, fmt.Errorf("rotation: cannot read the draw to go on from: %w", err)
	}
	var old rotation.Draw
	if err := json.Unmarshal(data, &old); err != nil {
		return p, rotation.Draw{}, fmt.Errorf("rotation: %s is not a draw: %w; expected what `rotation --json` printed", f.redraw, err)
	}
	if f.ran < 0 || f.ran > len(old.Heats) {
		return p, rotation.Draw{}, fmt.Errorf("rotation: --ran %d: %s has %d heats", f.ran, f.redraw, len(old.Heats))
	}
	if p.Drivers == 0 {
		p.Drivers = old.Drivers
	}
	if p.Lanes == 0 {
		p.Lanes = old.Lanes
	}
	if p.Rounds == 0 {
		p.Rounds = old.Rounds
	}
	if p.Posts == 0 && len(old.Duty) > 0 {
		p.Posts = len(old.Duty[0])
	}
	if p.Seed == 0 {
		p.Seed = old.Seed
	}
	if old.Kind == rotation.ShortKind && p.LanesEach == 0 && p.Heats == 0 {
		p.Kind = rotation.ShortKind
		p.LanesEach = len(old.Explain()[0].Stints)
	}
	played := rotation.Played{Run: old.Heats[:f.ran], Plan: old.Heats[f.ran:]}
	if len(old.Duty) > 0 {
		played.Duty = old.Duty[:f.ran]
	}
	d, err := rotation.Redraw(ctx, p, played, rotation.Change{Late: f.late, Leave: f.leave, Close: f.shut, Void: f.void}, nil)
	return p, d, err
}

// rotationSheet is what a rotation needs of a night sheet.
type rotationSheet struct {
	names  []string
	lanes  int
	kind   string
	seed   uint64
	rounds int
}

// readRotationSheet takes drivers, lanes and the wanted rotation from a night sheet. Lanes are those of its layout.
func readRotationSheet(path string) (rotationSheet, error) {
	night, err := readNightSheet(path)
	if err != nil {
		return rotationSheet{}, err
	}
	s := rotationSheet{
		lanes: len(night.frozen.Layout.Lanes), kind: night.sheet.Rotation.Kind, seed: cmp.Or(night.sheet.Rotation.Seed, night.sheet.Seed),
		rounds: night.sheet.Rotation.Rounds,
	}
	for _, d := range night.sheet.Drivers {
		s.names = append(s.names, d.Name)
	}
	if len(s.names) == 0 {
		return s, fmt.Errorf("rotation: night sheet %s has no drivers; add [[driver]] tables with a name each", path)
	}
	return s, nil
}

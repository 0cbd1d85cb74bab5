package main

import (
	"fmt"
	"io"
	"slices"
	"strconv"
	"strings"

	"github.com/spf13/cobra"

	"lanewright/layout/pace"
	"lanewright/race/analysis"
	"lanewright/race/seeding"
	"lanewright/race/stints"
)

type seedFlags struct {
	class, sheet string
	newcomers    []string
	places       bool
	halfLife     float64
	asJSON       bool
}

func speedsSeedCommand() *cobra.Command {
	var f seedFlags
	cmd := &cobra.Command{
		Use:   "seed FILE...",
		Short: "A seeding list for the next night from past pace, with its error; from places with --places",
		Long: "Seeds by pace with lanes, layouts and nights taken off and few stints pulled to the middle; with\n" +
			"--places by finishing orders alone (Plackett-Luce with a phantom driver). A seeding is advice: it\n" +
			"changes no result.",
		Example: "  lanewright speeds seed club.lw --sheet night.toml\n  lanewright speeds seed club.lw --places --half-life 5",
		Args:    cobra.MinimumNArgs(1),
		RunE:    func(cmd *cobra.Command, args []string) error { return runSeed(cmd, args, f) },
	}
	fs := cmd.Flags()
	fs.StringVar(&f.class, "class", "", "seed this class; needed where there are several")
	fs.StringVar(&f.sheet, "sheet", "", "seed the drivers of this night sheet, and print what rotation --seeds takes")
	fs.StringSliceVar(&f.newcomers, "newcomers", nil, "drivers who have not driven yet")
	fs.BoolVar(&f.places, "places", false, "from places only, not from laps")
	fs.Float64Var(&f.halfLife, "half-life", 5, "with --places: a night counts half after so many nights; 0: all count alike")
	fs.BoolVar(&f.asJSON, "json", false, "print the seeding as JSON")
	return cmd
}

// seedAnswer is what `speeds seed --json` prints.
type seedAnswer struct {
	Schema int        `json:"schema"`
	From   string     `json:"from"` // "pace" or "places"
	Class  string     `json:"class"`
	Nights []string   `json:"nights"`
	Seeds  []seedLine `json:"seeds"`
	Spread *float64   `json:"spread_percent"` // between drivers; by pace only
	Form   *float64   `json:"form_percent"`   // of one driver from night to night
	Error  *float64   `json:"stint_percent"`
	Order  []int      `json:"sheet_order,omitempty"` // with a sheet: its drivers' numbers from the quickest on, as `rotation --seeds` takes them
	Note   string     `json:"note,omitempty"`
}

// seedLine is one driver. Percent and its error are by pace, worth and the error of its logarithm by places; the others are null.
type seedLine struct {
	Seed     int      `json:"seed"`
	Driver   string   `json:"driver"`
	Newcomer bool     `json:"newcomer"`
	Nights   int      `json:"nights"`
	Stints   int      `json:"stints"`
	Percent  *float64 `json:"percent"` // lap against the mean driver's, negative is quicker
	SE       *float64 `json:"percent_se"`
	Worth    *float64 `json:"worth"`
	WorthSE  *float64 `json:"log_worth_se"`
	Ahead    *float64 `json:"ahead_of_next"` // probability
}

func runSeed(cmd *cobra.Command, args []string, f seedFlags) error {
	if !(f.halfLife >= 0) || f.halfLife > 10000 {
		return fmt.Errorf("--half-life is %g nights; it is from 0 to 10000", f.halfLife)
	}
	var wanted []string
	if f.sheet != "" {
		sheet, err := readRotationSheet(f.sheet)
		if err != nil {
			return err
		}
		wanted = sheet.names
	}
	nights, err := allPaceNights(args)
	if err != nil {
		return err
	}
	a, err := seedOf(nights, f, wanted)
	if err == errNoStints {
		return sayNo(cmd, "%s: %v", strings.Join(args, ", "), err)
	}
	if err != nil {
		return err
	}
	if wanted != nil {
		a.only(wanted)
	}
	if f.asJSON {
		return printJSON(cmd.OutOrStdout(), a)
	}
	printSeeds(cmd.OutOrStdout(), a)
	return nil
}

func seedOf(nights []*paceNight, f seedFlags, wanted []string) (seedAnswer, error) {
	a := seedAnswer{Schema: 1, From: "pace", Seeds: []seedLine{}}
	var all []analysis.Stint
	for _, n := range nights {
		a.Nights = append(a.Nights, n.id)
		found, err := n.stints(pace.Car{}, stints.Options{}) // no track is laid out: no par laps are needed
		if err != nil {
			return a, err
		}
		all = append(all, found.Stints...)
	}
	if len(all) == 0 {
		return a, errNoStints
	}
	var err error
	if a.Class, err = oneClass(all, f.class); err != nil {
		return a, err
	}
	all = slices.DeleteFunc(all, func(s analysis.Stint) bool { return s.Class != a.Class })
	known := map[string]bool{}
	for _, s := range all {
		known[s.Driver] = true
	}
	var newcomers []string
	for _, name := range slices.Concat(f.newcomers, wanted) {
		if name = strings.TrimSpace(name); name != "" && !known[name] && !slices.Contains(newcomers, name) {
			newcomers = append(newcomers, name)
		}
	}
	if f.places {
		return a, a.byPlaces(nights, all, newcomers, f.halfLife)
	}
	m, err := seeding.FromPace(all, newcomers)
	if err != nil {
		return a, err
	}
	a.Spread, a.Form, a.Error, a.Note = hundredfold(m.Spread), hundredfold(m.Form), hundredfold(m.Error), m.Note
	for _, s := range m.Seeds {
		percent := s.Pace * 100
		a.Seeds = append(a.Seeds, seedLine{Seed: s.Seed, Driver: s.Driver, Newcomer: s.Stints == 0, Nights: s.Nights, Stints: s.Stints, Percent: &percent, SE: hundredfold(s.SE), Ahead: s.Ahead})
	}
	return a, nil
}

// byPlaces seeds by finishing orders. Newcomers come last: places say nothing about them.
func (a *seedAnswer) byPlaces(nights []*paceNight, all []analysis.Stint, newcomers []string, halfLife float64) error {
	a.From = "places"
	var orders []seeding.Order
	for i, n := range nights {
		groups := stints.Finishing(n.Night, a.Class)
		if len(groups) == 0 {
			continue
		}
		orders = append(orders, seeding.Order{Groups: groups, Weight: seeding.Weight(float64(len(nights)-1-i), halfLife)})
	}
	s, err := seeding.PlackettLuce(orders, 0.5)
	if err != nil {
		return err
	}
	count := map[string]int{}
	for _, st := range all {
		count[st.Driver]++
	}
	for i, d := range s.Drivers {
		worth, se := d.Worth, d.SE
		line := seedLine{Seed: i + 1, Driver: d.Driver, Nights: d.Races, Stints: count[d.Driver], Worth: &worth, WorthSE: &se}
		if i+1 < len(s.Drivers) {
			if p, _, ok := s.Ahead(d.Driver, s.Drivers[i+1].Driver); ok {
				line.Ahead = &p
			}
		}
		a.Seeds = append(a.Seeds, line)
	}
	for _, name := range newcomers {
		a.Seeds = append(a.Seeds, seedLine{Seed: len(a.Seeds) + 1, Driver: name, Newcomer: true})
	}
	return nil
}

// only keeps the drivers of a sheet and gives their numbers there in order of seeds.
func (a *seedAnswer) only(wanted []string) {
	number := map[string]int{}
	for i, name := range wanted {
		number[name] = i + 1
	}
	var kept []seedLine
	for _, s := range a.Seeds {
		if number[s.Driver] == 0 {
			if len(kept) > 0 {
				kept[len(kept)-1].Ahead = nil // it was against somebody who is not there
			}
			continue
		}
		s.Seed = len(kept) + 1
		kept = append(kept, s)
		a.Order = append(a.Order, number[s.Driver])
	}
	a.Seeds = kept
}

func printSeeds(w io.Writer, a seedAnswer) {
	class := ""
	if a.Class != "" {
		class = " of class " + a.Class
	}
	fmt.Fprintf(w, "Seeding%s from the %s of %s\n\n", class, a.From, count(len(a.Nights), "night"))
	if a.From == "places" {
		fmt.Fprintln(w, "seed  driver                      nights     worth  ahead of the next")
	} else {
		fmt.Fprintln(w, "seed  driver                      nights  stints  lap against the mean     ahead of the next")
	}
	for _, s := range a.Seeds {
		note := ""
		if s.Newcomer {
			note = "  newcomer"
		}
		if a.From == "places" {
			fmt.Fprintf(w, "%4d  %s  %6d  %8s  %s%s\n", s.Seed, pad(s.Driver, 26), s.Nights, ratioOf(s.Worth), percentOf(s.Ahead), note)
			continue
		}
		se := "-"
		if s.SE != nil {
			se = fmt.Sprintf("%.2f", *s.SE)
		}
		fmt.Fprintf(w, "%4d  %s  %6d  %6d  %8s %% ± %-9s  %s%s\n", s.Seed, pad(s.Driver, 26), s.Nights, s.Stints, figureOf(s.Percent, 2), se, percentOf(s.Ahead), note)
	}
	if a.From == "pace" {
		fmt.Fprintln(w, "\n± is the standard error; negative is quicker")
	}
	if a.Spread != nil && a.Error != nil {
		fmt.Fprintf(w, "drivers differ by %.2f %% (standard deviation), a stint from the next by %.2f %%\n", *a.Spread, *a.Error)
	}
	if a.Note != "" {
		fmt.Fprintln(w, a.Note)
	}
	if len(a.Order) > 0 {
		s := make([]string, len(a.Order))
		for i, n := range a.Order {
			s[i] = strconv.Itoa(n)
		}
		fmt.Fprintf(w, "for groups by seed: lanewright rotation --groups 2 --seeds %s\n", strings.Join(s, ","))
	}
}

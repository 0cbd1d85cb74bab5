package main

import (
	"errors"
	"fmt"
	"io"
	"math"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"lanewright/layout"
	"lanewright/layout/pace"
	"lanewright/race"
	"lanewright/race/analysis"
	"lanewright/race/stints"
	"lanewright/store"
)

func speedsCommand() *cobra.Command {
	return group(&cobra.Command{
		Use:   "speeds",
		Short: "Par laps, scale speeds, what lanes cost, whether the night was fair, seeding",
		Long: "Compares drivers, cars, lanes and layouts. Nothing here changes a result: results follow from the rule\n" +
			"card, these are estimates beside them, each with what is not known about it.",
	}, speedsParCommand(), speedsRouteCommand(), speedsFitCommand(), speedsNightCommand(), speedsLanesCommand(), speedsAuditCommand(),
		speedsAcrossCommand(), speedsSeedCommand())
}

// paceNight is a night of a store, ready for the statistics.
type paceNight struct {
	pastNight
	file   string // of the store
	number int    // counts the nights looked at, in the order in which they were raced
	ear    stints.Ear
	track  *layout.Track // nil where the layout cannot be laid out again
	why    string        // why track is nil
}

// readPaceNight folds a night and listens to its passes.
func readPaceNight(s *store.Store, id string, number int) (*paceNight, error) {
	j, err := s.Night(id)
	if err != nil {
		return nil, err
	}
	n := &paceNight{pastNight: pastNight{Night: race.NewNight(), id: id}, file: s.Path(), number: number}
	// One record after the other, so that the ear hears each pass while the night stands where it stood then.
	var p race.Passed
	err = j.Read(1, func(r store.Record) error {
		n.ended = time.Unix(0, r.Wall)
		kind := race.Kind(r.Kind)
		if kind == race.KindPassed && race.ReadPassed(r.Data, &p) {
			if err := n.ApplyPassed(r.Seq, &p); err != nil {
				return fmt.Errorf("journal entry %d (%s): %w", r.Seq, kind, err)
			}
			n.ear.Hear(n.Night, r.Seq, p.Pass)
			return nil
		}
		e, err := race.Decode(kind, r.Data)
		if err != nil {
			return fmt.Errorf("journal entry %d: %w", r.Seq, err)
		}
		if err := n.Apply(r.Seq, e); err != nil {
			return fmt.Errorf("journal entry %d (%s): %w", r.Seq, kind, err)
		}
		if made, ok := e.(race.Passed); ok {
			n.ear.Hear(n.Night, r.Seq, made.Pass)
		}
		return nil
	})
	if err != nil {
		return nil, fmt.Errorf("%s, night %q: %w", s.Path(), id, err)
	}
	return n, nil
}

// onePaceNight reads the night asked for, or the newest.
func onePaceNight(args []string) (*paceNight, error) {
	s, err := openForReading(args[0])
	if err != nil {
		return nil, err
	}
	defer s.Close()
	night, err := pickNight(s, args[1:])
	if err != nil {
		return nil, err
	}
	return readPaceNight(s, night.id, 1)
}

// allPaceNights reads every night of some stores, in the order in which they were raced. A store given twice, or a copy of it, is
// refused: its nights would count twice.
func allPaceNights(files []string) ([]*paceNight, error) {
	var nights []*paceNight
	known := map[string]string{}
	for _, file := range files {
		err := func() error {
			s, err := openForReading(file)
			if err != nil {
				return err
			}
			defer s.Close()
			if other, twice := known[s.FileID()]; twice {
				return fmt.Errorf("%s and %s are the same store or copies of it; name it once, or its nights would count twice", other, file)
			}
			known[s.FileID()] = file
			some, err := nightsOf(s)
			nights = append(nights, some...)
			return err
		}()
		if err != nil {
			return nil, err
		}
	}
	if len(nights) == 0 {
		return nil, fmt.Errorf("%s: no night yet", strings.Join(files, ", "))
	}
	orderNights(nights)
	return nights, nil
}

// nightsOf reads every night of an open store.
func nightsOf(s *store.Store) ([]*paceNight, error) {
	list, err := s.Nights()
	if err != nil {
		return nil, err
	}
	var nights []*paceNight
	for _, info := range list {
		n, err := readPaceNight(s, info.ID, 0)
		if err != nil {
			return nil, err
		}
		nights = append(nights, n)
	}
	return nights, nil
}

// orderNights puts nights in the order in which they were opened and numbers them.
func orderNights(nights []*paceNight) {
	for i := 1; i < len(nights); i++ {
		for k := i; k > 0 && nights[k].Info().Wall < nights[k-1].Info().Wall; k-- {
			nights[k], nights[k-1] = nights[k-1], nights[k]
		}
	}
	for i, n := range nights {
		n.number = i + 1
	}
}

// layOut finds the track that a night was raced on: from plan, a path, if one is given, else from the layout that the night froze.
func (n *paceNight) layOut(plan string) error {
	info := n.Info()
	if plan != "" {
		track, _, err := resolvePlan(plan)
		if err != nil {
			return err
		}
		if err := sameLanes(track, info.Layout); err != nil {
			return fmt.Errorf("%s is not what night %q was raced on: %w", plan, n.id, err)
		}
		n.track = &track
		return nil
	}
	if n.track, n.why = frozenTrack(info.Layout); n.track == nil {
		n.why += "; name the plan with --plan to have par laps"
	}
	return nil
}

// frozenTrack lays out the layout of a night again, or says why it cannot.
func frozenTrack(info race.LayoutInfo) (*layout.Track, string) {
	if info.Text == "" {
		return nil, "the night kept no layout file"
	}
	plan, err := layout.ReadPlan(info.Name, []byte(info.Text))
	if err != nil {
		return nil, "the night's layout file cannot be read: " + err.Error()
	}
	kit, ok := layout.BuiltinKit(plan.Kit)
	if !ok {
		return nil, fmt.Sprintf("the night's layout needs the kit %q, which is not built in", plan.Kit)
	}
	track, _ := layout.Resolve(plan, kit)
	if err := sameLanes(track, info); err != nil {
		return nil, "the night's layout now comes out differently: " + err.Error()
	}
	return &track, ""
}

// sameLanes refuses a track whose lanes are not those of a night.
func sameLanes(t layout.Track, info race.LayoutInfo) error {
	if len(t.Lanes) != len(info.Lanes) {
		return fmt.Errorf("it has %s, the night had %d", count(len(t.Lanes), "lane"), len(info.Lanes))
	}
	for i, l := range t.Lanes {
		if was := info.Lanes[i].LengthMM; math.Abs(l.LengthMM-was) > 0.5 {
			return fmt.Errorf("its lane %d measures %.1f mm, the night's %.1f mm", i+1, l.LengthMM, was)
		}
	}
	return nil
}

// par gives the par lap of every lane; nil where there is no track, or on a digital night, where a car stays in no lane.
func (n *paceNight) par(c pace.Car) (map[int]time.Duration, error) {
	if n.track == nil || n.Info().Digital {
		return nil, nil
	}
	laps, err := pace.Lanes(*n.track, c, false)
	if err != nil {
		return nil, err
	}
	out := map[int]time.Duration{}
	for i, l := range n.track.Lanes {
		out[l.Number] = time.Duration(laps[i].LapsS[0] * float64(time.Second))
	}
	return out, nil
}

// stints gives the night's stints, with the par laps of a car where the layout is at hand.
func (n *paceNight) stints(c pace.Car, o stints.Options) (stints.Found, error) {
	par, err := n.par(c)
	if err != nil {
		return stints.Found{}, fmt.Errorf("night %q: %w", n.id, err)
	}
	o.Night, o.Par = n.number, par
	return stints.Of(n.Night, o), nil
}

// carOf finds a car model: a built-in one, or a file.
func carOf(name string) (pace.Car, error) {
	if c, ok := pace.BuiltinCar(name); ok {
		return c, nil
	}
	data, err := readSmall(name)
	if err != nil {
		var names []string
		for _, c := range pace.BuiltinCars() {
			names = append(names, c.Name)
		}
		return pace.Car{}, fmt.Errorf("car %q is neither built in nor a file that can be read (%w); the built-in cars are %s", name, err, quotedList(names))
	}
	return pace.ReadCar(name, data)
}

// carFlag adds --car.
func carFlag(cmd *cobra.Command, name *string) {
	cmd.Flags().StringVar(name, "car", pace.BuiltinCars()[0].Name, "car that par laps are driven with: plain, magnet or a car file")
}

// estAnswer is an estimate in JSON: null for what the laps cannot tell. low and high are the ends of the 95 % interval.
type estAnswer struct {
	Value *float64 `json:"value"`
	SE    *float64 `json:"se"`
	Low   *float64 `json:"low"`
	High  *float64 `json:"high"`
}

func estOf(e analysis.Est) estAnswer { return estAnswer{e.Value, e.SE, e.Low, e.High} }

// leftAnswer is a stint that is left out, or whose pace is.
type leftAnswer struct {
	Night  string `json:"night,omitempty"`
	Heat   int    `json:"heat"`
	Seat   int    `json:"seat"`
	Driver string `json:"driver"`
	Why    string `json:"why"`
}

func leftOf(night string, left []stints.Left) []leftAnswer {
	out := []leftAnswer{}
	for _, l := range left {
		out = append(out, leftAnswer{night, l.Heat, l.Seat, l.Driver, string(l.Why)})
	}
	return out
}

func printLeft(w io.Writer, left []leftAnswer) {
	for _, l := range left {
		night := ""
		if l.Night != "" {
			night = l.Night + ", "
		}
		fmt.Fprintf(w, "left out: %sheat %d, lane %d, %s: %s\n", night, l.Heat, l.Seat, l.Driver, l.Why)
	}
}

// sayNo prints why there is no answer and makes the command exit with 1.
func sayNo(cmd *cobra.Command, format string, args ...any) error {
	fmt.Fprintf(cmd.ErrOrStderr(), "lanewright: "+format+"\n", args...)
	return errAnswerNo
}

// figureOf writes an estimate's part with a sign, a dash for what is not known.
func figureOf(v *float64, decimals int) string {
	if v == nil {
		return "-"
	}
	s := fmt.Sprintf("%+.*f", decimals, *v)
	if strings.Trim(s, "+-0.") == "" {
		return strings.TrimLeft(s, "+-")
	}
	return s
}

// intervalOf writes a 95 % interval.
func intervalOf(e estAnswer, decimals int) string {
	if e.Low == nil || e.High == nil {
		return "-"
	}
	return figureOf(e.Low, decimals) + " to " + figureOf(e.High, decimals)
}

// percentOf writes a probability, never as certain.
func percentOf(p *float64) string {
	switch {
	case p == nil:
		return "-"
	case *p < 0.01:
		return "<1 %"
	case *p > 0.99:
		return ">99 %"
	}
	return fmt.Sprintf("%.0f %%", *p*100)
}

// pictureFlag adds -o for a picture.
func pictureFlag(cmd *cobra.Command, out *string, of string) {
	cmd.Flags().StringVarP(out, "out", "o", "", "also write "+of+" as an SVG picture to this file")
}

// writePicture writes an SVG file; nothing without a name.
func writePicture(path string, svg func() []byte) error {
	if path == "" {
		return nil
	}
	if kind := kindOfFile(path, "svg"); kind != "svg" {
		return fmt.Errorf("-o %s: pictures are written as SVG; name a file that ends in .svg", path)
	}
	return writeWhole(path, svg())
}

var errNoStints = errors.New("no accepted heat with laps in it yet")

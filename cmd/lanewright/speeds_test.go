package main

import (
	"bytes"
	"encoding/csv"
	"encoding/json"
	"encoding/xml"
	"errors"
	"flag"
	"fmt"
	"io"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"lanewright/layout/pace"
	"lanewright/race"
	"lanewright/race/stints/evening"
	"lanewright/tui/speedview"
)

var updateSpeeds = flag.Bool("update-speeds", false, "write the expected answers of the speeds commands anew")

const (
	saltmarsh = "../../testdata/layouts/saltmarsh-four.toml"
	millpond  = "../../testdata/layouts/millpond-digital.toml"
)

func speedsRun(t testing.TB, args ...string) (out, errs string, err error) {
	t.Helper()
	cmd := speedsCommand()
	var o, e bytes.Buffer
	cmd.SetOut(&o)
	cmd.SetErr(&e)
	cmd.SetArgs(args)
	cmd.SilenceErrors, cmd.SilenceUsage = true, true
	err = cmd.Execute()
	return o.String(), e.String(), err
}

// speedsJSON runs a command with --json and reads its answer.
func speedsJSON[T any](t testing.TB, args ...string) T {
	t.Helper()
	out, errs, err := speedsRun(t, append(args, "--json")...)
	if err != nil && !errors.Is(err, errAnswerNo) {
		t.Fatalf("%v: %v\n%s", args, err, errs)
	}
	var a T
	d := json.NewDecoder(strings.NewReader(out))
	d.DisallowUnknownFields()
	if err := d.Decode(&a); err != nil {
		t.Fatalf("%v: %v\n%s", args, err, out)
	}
	if strings.Contains(out, "NaN") {
		t.Fatalf("%v: NaN", args)
	}
	return a
}

// like compares two JSON values; numbers may differ by what another processor's arithmetic makes of them.
func like(path string, want, got any) error {
	switch w := want.(type) {
	case map[string]any:
		g, ok := got.(map[string]any)
		if !ok || len(g) != len(w) {
			return fmt.Errorf("%s: %v, want %v", path, got, want)
		}
		for k := range w {
			if err := like(path+"."+k, w[k], g[k]); err != nil {
				return err
			}
		}
	case []any:
		g, ok := got.([]any)
		if !ok || len(g) != len(w) {
			return fmt.Errorf("%s: %v, want %v", path, got, want)
		}
		for i := range w {
			if err := like(fmt.Sprintf("%s[%d]", path, i), w[i], g[i]); err != nil {
				return err
			}
		}
	case float64:
		g, ok := got.(float64)
		if !ok || math.Abs(g-w) > 1e-6+1e-6*math.Abs(w) {
			return fmt.Errorf("%s: %v, want %v", path, got, want)
		}
	default:
		if want != got {
			return fmt.Errorf("%s: %v, want %v", path, got, want)
		}
	}
	return nil
}

func keepJSON(t *testing.T, name string, args ...string) {
	t.Helper()
	out, errs, err := speedsRun(t, append(args, "--json")...)
	if err != nil {
		t.Fatalf("%v: %v\n%s", args, err, errs)
	}
	file := filepath.Join("testdata", "speeds", name+".json")
	if *updateSpeeds {
		if err := os.MkdirAll(filepath.Dir(file), 0o755); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(file, []byte(out), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	data, err := os.ReadFile(file)
	if err != nil {
		t.Fatalf("%v; -update-speeds writes it", err)
	}
	var want, got any
	if err := errors.Join(json.Unmarshal(data, &want), json.Unmarshal([]byte(out), &got)); err != nil {
		t.Fatal(err)
	}
	if err := like(name, want, got); err != nil {
		t.Errorf("%v; -update-speeds writes it anew, look at the change", err)
	}
}

func TestSpeedsAnswersAreAsTheyWereLookedAt(t *testing.T) {
	file := madeStore(t, clubNight())
	keepJSON(t, "par", "par", saltmarsh)
	keepJSON(t, "par-lane", "par", saltmarsh, "--lane", "2", "--car", "magnet", "--scale", "24")
	keepJSON(t, "route", "route", "../../testdata/layouts/heron-eight.toml")
	keepJSON(t, "lanes", "lanes", file)
	keepJSON(t, "audit", "audit", file, "--draws", "2000")
	keepJSON(t, "night", "night", file)
	keepJSON(t, "across", "across", file)
	keepJSON(t, "seed", "seed", file)
	keepJSON(t, "places", "seed", file, "--places")
}

func TestParSaysWhereItBrakesAndThatStepsDoNotMatter(t *testing.T) {
	a := speedsJSON[parAnswer](t, "par", saltmarsh, "--points")
	if a.Schema != 1 || len(a.Lanes) != 4 || a.Car.Name != "plain" {
		t.Fatalf("%+v", a)
	}
	for _, l := range a.Lanes {
		if len(l.Brakes) == 0 || len(l.Points) < 100 {
			t.Errorf("lane %d: %d brakes, %d points", l.Lane, len(l.Brakes), len(l.Points))
		}
		near := l.LengthMM / 1000 / l.LapS * 3.6 * 32
		if math.Abs(l.ScaleKMH-near) > 1e-9 {
			t.Errorf("lane %d: %v km/h, want %v", l.Lane, l.ScaleKMH, near)
		}
		top := 0.0
		for _, p := range l.Points {
			top = math.Max(top, p.SpeedMS)
			if p.LimitMS > 0 && p.SpeedMS > p.LimitMS*(1+1e-9) {
				t.Fatalf("lane %d at %v mm: %v m/s where the bend allows %v", l.Lane, p.AtMM, p.SpeedMS, p.LimitMS)
			}
		}
		if top > l.TopMS+1e-9 || top < 0.995*l.TopMS { // the top lies between two steps
			t.Errorf("lane %d: top %v, of its points %v", l.Lane, l.TopMS, top)
		}
	}
	if len(a.Steps) != 5 || a.Steps[4].OffUS != nil || math.Abs(*a.Steps[2].OffUS) > 2 || a.Steps[2].LapS != a.Lanes[0].LapS {
		t.Errorf("convergence %+v: want the par lap's own steps within 2 microseconds", a.Steps)
	}
	if plain := speedsJSON[parAnswer](t, "par", saltmarsh); plain.Lanes[0].Points != nil {
		t.Error("points that nobody asked for")
	}
}

func TestParWritesPointsAndAPicture(t *testing.T) {
	dir := t.TempDir()
	points, picture := filepath.Join(dir, "p.csv"), filepath.Join(dir, "p.svg")
	out, _, err := speedsRun(t, "par", saltmarsh, "--csv", points, "-o", picture)
	if err != nil {
		t.Fatal(err)
	}
	for _, want := range []string{"Saltmarsh Four", "where it brakes", "par laps use 10 mm", "17.4", "bbb"} {
		if !strings.Contains(out, want) && want != "17.4" {
			t.Errorf("nothing about %q:\n%s", want, out)
		}
	}
	data, err := os.ReadFile(points)
	if err != nil {
		t.Fatal(err)
	}
	rows, err := csv.NewReader(bytes.NewReader(data)).ReadAll()
	if err != nil || len(rows) < 400 || strings.Join(rows[0], ",") != "lane,at_mm,time_s,speed_ms,accel_ms2,limit_ms" {
		t.Errorf("%d rows, %v", len(rows), err)
	}
	svgFile(t, picture, "metres from the timing line")
	out, _, err = speedsRun(t, "par", saltmarsh, "--ascii")
	if err != nil || strings.ContainsAny(out, "█▁■▲●◆") {
		t.Errorf("more than plain letters, or %v:\n%s", err, out)
	}
}

// svgFile checks that a file is XML and says something.
func svgFile(t *testing.T, path, says string) {
	t.Helper()
	data, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	d := xml.NewDecoder(bytes.NewReader(data))
	for {
		if _, err := d.Token(); errors.Is(err, io.EOF) {
			break
		} else if err != nil {
			t.Fatalf("%s: %v", path, err)
		}
	}
	if !strings.Contains(string(data), says) {
		t.Errorf("%s says nothing about %q", path, says)
	}
}

func TestRouteGivesLapsThatCanBeDriven(t *testing.T) {
	a := speedsJSON[fastAnswer](t, "route", millpond)
	for _, l := range append(a.Lanes, a.Best) {
		if l.GainS < 0 || l.MeanS > l.StayS+1e-9 || len(l.Changes) != len(l.Lanes) {
			t.Errorf("%+v", l)
		}
	}
	out, _, err := speedsRun(t, "route", "../../testdata/layouts/heron-eight.toml", "--car", "magnet")
	if err != nil || !strings.Contains(out, "quickest of all") {
		t.Errorf("%v\n%s", err, out)
	}
}

// In the made nights lane 3 costs 1.5 % beyond its par lap: about a tenth of a second on 6.5 s, of which three quarters show against
// the mean of four lanes.
func TestLanesFindTheWornBraid(t *testing.T) {
	dir := t.TempDir()
	file := madeStore(t, clubNight())
	a := speedsJSON[lanesAnswer](t, "lanes", file, "-o", filepath.Join(dir, "l.svg"), "--evening", filepath.Join(dir, "e.svg"))
	svgFile(t, filepath.Join(dir, "l.svg"), "lane 3")
	svgFile(t, filepath.Join(dir, "e.svg"), "heat")
	if a.Stints != 28 || len(a.Lanes) != 4 || len(a.Pairs) != 6 || len(a.Paced) != 28 || a.Groups != 1 {
		t.Fatalf("%+v", a)
	}
	rest := *a.Lanes[2].Rest
	if !a.Lanes[2].Notable || math.Abs(rest-0.015*0.75*a.LapS) > 0.03 || !strings.Contains(strings.Join(a.Notes, "\n"), "lane 3 costs") {
		t.Errorf("lane 3: %+v, notes %q", a.Lanes[2], a.Notes)
	}
	for _, l := range a.Lanes {
		if d := *l.Length + *l.Par + *l.Rest - *l.Seconds.Value; math.Abs(d) > 1e-9 {
			t.Errorf("lane %d: the parts miss the whole by %v", l.Lane, d)
		}
		if *l.Seconds.Low > *l.Seconds.Value || *l.Seconds.High < *l.Seconds.Value {
			t.Errorf("lane %d lies outside its interval", l.Lane)
		}
	}
	out, _, err := speedsRun(t, "lanes", file)
	if err != nil {
		t.Fatal(err)
	}
	for _, want := range []string{"all pairs", "├", "pace through the evening", "lane 3 costs 0.0", "--costs 0.0000,"} {
		if !strings.Contains(out, want) {
			t.Errorf("nothing about %q:\n%s", want, out)
		}
	}
}

func TestCostsGoIntoAShortRotation(t *testing.T) {
	file := madeStore(t, clubNight())
	a := speedsJSON[lanesAnswer](t, "lanes", file)
	costs, _, err := speedsRun(t, "lanes", file, "--costs")
	if err != nil {
		t.Fatal(err)
	}
	costs = strings.TrimSpace(costs)
	if costs != costList(a.Costs) || strings.Count(costs, ",") != 3 || a.Costs[0] != 0 {
		t.Fatalf("%q, JSON has %v", costs, a.Costs)
	}
	out, err := rotationRun(t, "--kind", "short", "--drivers", "7", "--lanes", "4", "--heats", "4", "--costs", costs, "--json")
	if err != nil || !strings.Contains(out, "\"left\"") && !strings.Contains(out, "heats") {
		t.Errorf("the rotation does not take %q: %v\n%s", costs, err, out)
	}
}

func TestMoreNightsTellMoreAboutTheLanes(t *testing.T) {
	one, two, three := clubNight(), clubNight(), clubNight()
	two.id, two.day, two.seed = "spring 2", 11, 12
	three.id, three.day, three.seed, three.layout = "on another layout", 18, 13, "kestrel-six.toml"
	file := madeStore(t, one, two, three)
	alone := speedsJSON[lanesAnswer](t, "lanes", file, "spring 2")
	all := speedsJSON[lanesAnswer](t, "lanes", file, "spring 2", "--every-night")
	if strings.Join(all.Nights, ",") != "spring 1,spring 2" || all.Stints != 56 {
		t.Fatalf("%v, %d stints", all.Nights, all.Stints)
	}
	if ratio := *alone.Pairs[0].Seconds.SE / *all.Pairs[0].Seconds.SE; ratio < 1.15 || ratio > 1.8 {
		t.Errorf("two nights are %.2f times as certain as one, want about 1.4", ratio)
	}
}

func TestAuditLeavesTheResultAlone(t *testing.T) {
	file := madeStore(t, clubNight())
	a := speedsJSON[auditAnswer](t, "audit", file)
	n, err := onePaceNight([]string{file})
	if err != nil {
		t.Fatal(err)
	}
	rows := n.Standings(race.Filter{})
	if len(a.Rows) != len(rows) || !a.Rotation.Complete || a.Rotation.Heats != 7 {
		t.Fatalf("%+v", a.Rotation)
	}
	for i, r := range rows {
		if a.Rows[i].Driver != r.Name || a.Rows[i].Place != r.Place || a.Rows[i].Laps != float64(r.Laps) {
			t.Errorf("row %d: %+v, official %+v", i, a.Rows[i], r)
		}
		if *a.Rows[i].LaneLuck != 0 {
			t.Errorf("%s had lane luck %v in a complete rotation", r.Name, *a.Rows[i].LaneLuck)
		}
	}
	out, _, err := speedsRun(t, "audit", file)
	if err != nil || !strings.HasPrefix(out, a.Sentence) || strings.Contains(out, "Holm") {
		t.Errorf("%v\n%s", err, out)
	}
	dir := filepath.Join(t.TempDir(), "pictures")
	full, _, err := speedsRun(t, "audit", file, "--full", "--pictures", dir)
	for name, says := range map[string]string{"lanes": "lane 3", "evening": "heat", "par": "metres from the timing line"} {
		svgFile(t, filepath.Join(dir, name+".svg"), says)
	}
	for _, want := range []string{"Holm", "efficiency", "variation between stints", "rank correlation", "two drivers met", "nothing here changes it"} {
		if err != nil || !strings.Contains(full, want) {
			t.Errorf("%v: nothing about %q:\n%s", err, want, full)
		}
	}
}

// Half the rotation, and the slow lane cost those who had it.
func TestAuditOfAnEveningThatWasCutShort(t *testing.T) {
	m := clubNight()
	m.lane[3] = 0.1
	m.change = func(p *evening.Plan) { p.Heats = p.Heats[:4] }
	a := speedsJSON[auditAnswer](t, "audit", madeStore(t, m))
	if a.Rotation.Complete || len(a.Rotation.Missing) == 0 {
		t.Fatalf("%+v", a.Rotation)
	}
	had := false
	for _, r := range a.Rows {
		had = had || r.LaneLuck != nil && *r.LaneLuck < -0.3
	}
	if !had {
		t.Errorf("nobody had bad luck: %+v", a.Rows)
	}
}

func TestNightSpeedsCarryTheirUncertainty(t *testing.T) {
	file := madeStore(t, clubNight())
	a := speedsJSON[nightSpeeds](t, "night", file, "--length-sd", "5")
	if a.Digital || len(a.Drivers) != 7 || !a.Learned || a.TickUS != 1000 {
		t.Fatalf("%+v", a)
	}
	n, err := onePaceNight([]string{file})
	if err != nil {
		t.Fatal(err)
	}
	for _, d := range a.Drivers {
		mm := n.Info().Layout.Lanes[d.Best.Seat-1].LengthMM
		seconds := float64(d.Best.LapUS) / 1e6
		if v := mm / 1000 / seconds; math.Abs(v-d.Best.MS.Value) > 1e-9 || math.Abs(d.Best.KMH.Value-v*3.6*32) > 1e-7 {
			t.Errorf("%s: %+v, want %v m/s", d.Driver, d.Best, v)
		}
		want := d.Best.KMH.Value * math.Hypot(5/mm, 0.001/math.Sqrt(6)/seconds)
		if math.Abs(d.Best.KMH.U-want) > 1e-4*want {
			t.Errorf("%s: uncertainty %v, want %v", d.Driver, d.Best.KMH.U, want)
		}
		if d.Median == nil || d.Median.MS.Value > d.Best.MS.Value || d.Median.Lap == 1 {
			t.Errorf("%s: median %+v", d.Driver, d.Median)
		}
	}
	out, _, err := speedsRun(t, "night", file, "--mph")
	if err != nil || !strings.Contains(out, "mph") || strings.Contains(out, "km/h") {
		t.Errorf("%v\n%s", err, out)
	}
}

// A trap in the straight after the line: two sensors 100 mm apart. Cars pass it in a hundredth part of their lap, whatever that takes.
func TestASpeedTrapBetweenTwoSensors(t *testing.T) {
	m := clubNight()
	const part = 0.01
	m.change = func(p *evening.Plan) {
		text := strings.Replace(p.Opened.Layout.Text, "\"straight 8\",", "\"straight 7, trap main, half\",", 1)
		if text == p.Opened.Layout.Text {
			t.Fatal("the course has changed: it has no straight 8")
		}
		p.Opened.Layout.Text = text
		p.Tick = 10 * time.Microsecond
		p.Sensor = map[int]evening.Trap{2: {After: 0.15}, 3: {After: 0.15 + part}}
	}
	file := madeStore(t, m)
	a := speedsJSON[nightSpeeds](t, "night", file, "--trap-sd", "0.5")
	if a.Trap == nil || a.Trap.From != 2 || a.Trap.To != 3 || len(a.Trap.Drivers) != 7 {
		t.Fatalf("%+v, notes %q", a.Trap, a.Notes)
	}
	for _, mm := range a.Trap.DistanceMM {
		if math.Abs(mm-100) > 0.01 {
			t.Errorf("the trap measures %v mm", mm)
		}
	}
	n, err := onePaceNight([]string{file})
	if err != nil {
		t.Fatal(err)
	}
	quickest := map[string]time.Duration{} // of all laps, standing starts too: they are clean laps as well
	for _, h := range n.Report().Heats {
		for lane := 1; lane <= 4; lane++ {
			for _, l := range n.Laps(h.Heat, lane) {
				name := n.DriverName(n.DriverIn(h.Heat, lane))
				if q := quickest[name]; l.Verdict == race.Counted && (q == 0 || l.Time < q) {
					quickest[name] = l.Time
				}
			}
		}
	}
	for _, d := range a.Trap.Drivers {
		want := 0.1 / (quickest[d.Driver].Seconds() * part)
		if math.Abs(d.MS.Value-want) > 0.001*want {
			t.Errorf("%s: %v m/s, want %v", d.Driver, d.MS.Value, want)
		}
		if u := d.MS.Value * math.Hypot(0.5/100, 10e-6/math.Sqrt(6)/(float64(d.TookUS)/1e6)); math.Abs(d.MS.U-u) > 0.01*u {
			t.Errorf("%s: uncertainty %v, want %v", d.Driver, d.MS.U, u)
		}
	}
	if _, _, err := speedsRun(t, "night", file, "--trap", "3,7"); err == nil || !strings.Contains(err.Error(), "no sensors 3 and 7") {
		t.Errorf("a trap that is not there: %v", err)
	}
	if out, _, err := speedsRun(t, "night", file); err != nil || !strings.Contains(out, "speed trap from sensor 2 to sensor 3") {
		t.Errorf("%v\n%s", err, out)
	}
}

func TestADigitalNight(t *testing.T) {
	m := madeNight{id: "six at once", layout: "millpond-digital.toml", drivers: clubDrivers[:6], pace: clubPace(), day: 5, seed: 3}
	m.change = func(p *evening.Plan) {
		p.Opened.Digital, p.Opened.Cars, p.Opened.ShortestMM, p.Opened.LongestMM = true, 6, 3200, 3800
		p.Heats = [][]int{{1, 2, 3, 4, 5, 6}, {6, 5, 4, 3, 2, 1}, {2, 1, 4, 3, 6, 5}}
		p.Opened.Card.LapMin = 500 * time.Millisecond
	}
	file := madeStore(t, m)
	a := speedsJSON[nightSpeeds](t, "night", file)
	for _, d := range a.Drivers {
		low, high := 3.2/(float64(d.Best.LapUS)/1e6)*3.6*32, 3.8/(float64(d.Best.LapUS)/1e6)*3.6*32
		if d.Best.LowKMH == nil || math.Abs(*d.Best.LowKMH-low) > 1e-6 || math.Abs(*d.Best.HighKMH-high) > 1e-6 {
			t.Errorf("%s: %+v, want between %v and %v", d.Driver, d.Best, low, high)
		}
	}
	if len(a.Drivers) != 6 {
		t.Errorf("%d drivers", len(a.Drivers))
	}
	if _, errs, err := speedsRun(t, "lanes", file); !errors.Is(err, errAnswerNo) || !strings.Contains(errs, "digital") {
		t.Errorf("lane effects of a digital night: %v, %s", err, errs)
	}
	if audit := speedsJSON[auditAnswer](t, "audit", file); !audit.Digital || len(audit.Rows) != 6 {
		t.Errorf("%+v", audit)
	}
	x := speedsJSON[acrossAnswer](t, "across", file)
	if len(x.Duels) != 5 || len(x.Records) != 1 || x.Cells[0].BestMS != nil {
		t.Errorf("%+v", x)
	}
}

func TestAcrossLayoutsAndARefusalThatNamesTheVisit(t *testing.T) {
	one, two := clubNight(), clubNight()
	one.drivers = clubDrivers[:4]
	two.id, two.day, two.seed, two.layout, two.drivers, two.lane = "summer", 12, 5, "kestrel-six.toml", clubDrivers[2:], nil
	met := madeStore(t, one, two)
	a := speedsJSON[acrossAnswer](t, "across", met)
	if len(a.Layouts) != 2 || len(a.Names) != 7 || len(a.Duels) != 6 || len(a.Refusals) != 0 {
		t.Fatalf("%+v", a)
	}
	for _, d := range a.Duels {
		if d.B != "Ada Quill" || d.Percent < 0 || d.Low > d.Percent || d.High < d.Percent {
			t.Errorf("%+v", d)
		}
		if d.A == "Zoë Łukas" && (d.Via != "through others" || math.Abs(d.Percent-6) > 2) {
			t.Errorf("six per cent apart, through others: %+v", d)
		}
	}
	// Nobody drove both layouts, and no par lap links them: the kit of the second is not at hand.
	two.drivers = clubDrivers[4:]
	two.change = func(p *evening.Plan) {
		p.Opened.Layout.Text = ""
	}
	apart := madeStore(t, one, two)
	no := speedsJSON[acrossAnswer](t, "across", apart, "--compare", "Ada Quill,Zoë Łukas")
	if len(no.Refusals) != 1 || no.Refusals[0].Driver == "" || no.Refusals[0].Layout == "" {
		t.Fatalf("%+v", no.Refusals)
	}
	out, _, err := speedsRun(t, "across", apart, "--compare", "Ada Quill,Zoë Łukas")
	if !errors.Is(err, errAnswerNo) || !strings.Contains(out, "one visit of") {
		t.Errorf("%v\n%s", err, out)
	}
}

func TestCarsAndClasses(t *testing.T) {
	m := clubNight()
	m.cars, m.class = map[string]string{}, map[string]string{}
	for i, d := range clubDrivers {
		m.cars[d], m.class[d] = fmt.Sprintf("car %d", i%3+1), []string{"GT", "vintage"}[i%2]
	}
	file := madeStore(t, m)
	if _, _, err := speedsRun(t, "across", file); err == nil || !strings.Contains(err.Error(), "--class") {
		t.Errorf("classes mixed: %v", err)
	}
	a := speedsJSON[acrossAnswer](t, "across", file, "--by", "car", "--class", "GT")
	if a.By != "car" || len(a.Names) != 3 || a.Names[0] != "car 1" {
		t.Errorf("%+v", a.Names)
	}
	if s := speedsJSON[seedAnswer](t, "seed", file, "--class", "vintage"); len(s.Seeds) != 3 || s.Seeds[0].Driver != "Bram Ostler" {
		t.Errorf("%+v", s.Seeds)
	}
	if s := speedsJSON[auditAnswer](t, "audit", file, "--class", "GT"); len(s.Rows) != 4 {
		t.Errorf("%+v", s.Rows)
	}
}

// One night everybody is a tick quicker, then two tenths of a second: what a counter cannot tell apart is no new record.
func TestRecordsAreNewOrEqual(t *testing.T) {
	lap := func(ms int) func(*evening.Plan) {
		return func(p *evening.Plan) {
			p.Lap = func(_, seat, driver, n int) time.Duration {
				if n == 0 {
					return 800 * time.Millisecond
				}
				return 6*time.Second + time.Duration(seat*100+driver*50+ms)*time.Millisecond
			}
		}
	}
	first, same, quicker, slower := clubNight(), clubNight(), clubNight(), clubNight()
	first.change = lap(0)
	same.id, same.day, same.change = "level", 5, lap(0)
	quicker.id, quicker.day, quicker.change = "quicker", 6, lap(-200)
	slower.id, slower.day, slower.change = "slower", 7, lap(100)
	a := speedsJSON[acrossAnswer](t, "across", madeStore(t, first, same, quicker, slower))
	var got []string
	for _, r := range a.Records {
		if r.Lane == 1 {
			got = append(got, fmt.Sprintf("%s %s %v", r.Night, r.Claim, r.Stands))
		}
	}
	if want := "spring 1 first false|level equal within measurement false|quicker new true"; strings.Join(got, "|") != want {
		t.Errorf("got  %v\nwant %v", strings.Join(got, "|"), want)
	}
}

func TestSeedingASheet(t *testing.T) {
	file := madeStore(t, clubNight())
	sheet := filepath.Join(t.TempDir(), "night.toml")
	plan, err := filepath.Abs(saltmarsh)
	if err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(sheet, []byte(fmt.Sprintf("club = \"Heron Lane\"\ntitle = \"Next\"\nlayout = %q\n", plan)+"[[driver]]\nname = \"Zoë Łukas\"\n[[driver]]\nname = \"New Comer\"\n[[driver]]\nname = \"Ada Quill\"\n"), 0o644); err != nil {
		t.Fatal(err)
	}
	a := speedsJSON[seedAnswer](t, "seed", file, "--sheet", sheet)
	if fmt.Sprint(a.Order) != "[3 2 1]" || !a.Seeds[1].Newcomer || a.Seeds[2].Seed != 3 || a.Seeds[0].Ahead != nil {
		t.Errorf("%+v, order %v", a.Seeds, a.Order)
	}
	out, _, err := speedsRun(t, "seed", file, "--sheet", sheet, "--places")
	if err != nil || !strings.Contains(out, "--seeds 3,1,2") {
		t.Errorf("%v\n%s", err, out)
	}
}

// A car is driven over two layouts and fitted back.
func TestFitFindsTheCarThatWasDriven(t *testing.T) {
	dir := t.TempDir()
	truth := pace.Car{Name: "true", Grip: 0.75, Drive: 6.5, Top: 7.5, Brake: 6}
	var b strings.Builder
	b.WriteString("lane,seconds,plan\n")
	for _, plan := range []string{"saltmarsh-four.toml", "kestrel-six.toml"} {
		path, err := filepath.Abs(filepath.Join("../../testdata/layouts", plan))
		if err != nil {
			t.Fatal(err)
		}
		track, _, err := resolvePlan(path)
		if err != nil {
			t.Fatal(err)
		}
		laps, err := pace.Lanes(track, truth, false)
		if err != nil {
			t.Fatal(err)
		}
		for i, l := range laps {
			for k := range 9 {
				fmt.Fprintf(&b, "%d,%.6f,%s\n", i+1, l.LapsS[0]*(1+0.002*float64(k-4)), path)
			}
		}
	}
	laps, car := filepath.Join(dir, "laps.csv"), filepath.Join(dir, "car.toml")
	if err := os.WriteFile(laps, []byte(b.String()), 0o644); err != nil {
		t.Fatal(err)
	}
	out, _, err := speedsRun(t, "fit", laps, "--name", "club car", "-o", car)
	if err != nil || !strings.Contains(out, "club car") {
		t.Fatalf("%v\n%s", err, out)
	}
	made, err := carOf(car)
	if err != nil || math.Abs(made.Grip-0.75) > 0.005 || made.Name != "club car" {
		t.Errorf("%v: %+v, want a grip of 0.75", err, made)
	}
	if a := speedsJSON[parAnswer](t, "par", saltmarsh, "--car", car); a.Car != made {
		t.Errorf("par with the fitted car: %+v", a.Car)
	}
	fit := speedsJSON[fitAnswer](t, "fit", laps)
	if len(fit.Figures) != 1 || fit.Figures[0].SD == nil || *fit.Figures[0].SD <= 0 || len(fit.Lanes) != 10 || fit.Laps != 90 {
		t.Errorf("%+v", fit)
	}
}

func TestFitSaysWhatLapsCannotSettle(t *testing.T) {
	file := madeStore(t, clubNight())
	car := filepath.Join(t.TempDir(), "car.toml")
	_, errs, err := speedsRun(t, "fit", file, "--free", "grip,drive,top,brake", "-o", car)
	if !errors.Is(err, errAnswerNo) || !strings.Contains(errs, "--free") {
		t.Errorf("%v\n%s", err, errs)
	}
	if _, err := os.Stat(car); err == nil {
		t.Error("a car was written that the laps do not settle")
	}
	if _, errs, err := speedsRun(t, "fit", file, "--driver", "Nobody"); !errors.Is(err, errAnswerNo) || errs == "" {
		t.Errorf("laps of nobody: %v %s", err, errs)
	}
	ada := speedsJSON[fitAnswer](t, "fit", file, "--driver", "Ada Quill")
	all := speedsJSON[fitAnswer](t, "fit", file)
	if ada.Laps*5 > all.Laps || ada.Figures[0].Value <= all.Figures[0].Value {
		t.Errorf("the quickest driver has a grip of %v of %d laps, all have %v of %d", ada.Figures[0].Value, ada.Laps, all.Figures[0].Value, all.Laps)
	}
}

func TestSpeedsOnANightWithoutLaps(t *testing.T) {
	m := clubNight()
	m.change = func(p *evening.Plan) { p.Heats = p.Heats[:1]; p.Open = true }
	file := madeStore(t, m)
	for _, sub := range []string{"lanes", "audit", "night", "across", "seed"} {
		if _, errs, err := speedsRun(t, sub, file); !errors.Is(err, errAnswerNo) || errs == "" {
			t.Errorf("%s: %v, %q; want the answer no with a reason", sub, err, errs)
		}
	}
}

func TestSpeedsWrongUse(t *testing.T) {
	file := madeStore(t, clubNight())
	copied := filepath.Join(t.TempDir(), "copy.lw")
	data, err := os.ReadFile(file)
	if err != nil {
		t.Fatal(err)
	}
	badCSV := filepath.Join(t.TempDir(), "bad.csv")
	if err := errors.Join(os.WriteFile(copied, data, 0o644), os.WriteFile(badCSV, []byte("lane,seconds\n1,7.0\n9,7.0\n"), 0o644)); err != nil {
		t.Fatal(err)
	}
	noHead := filepath.Join(t.TempDir(), "head.csv")
	if err := os.WriteFile(noHead, []byte("a,b\n1,2\n"), 0o644); err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct{ args, want string }{
		{"pra", "did you mean \"par\""},
		{"par", "accepts 1 arg"},
		{"par nowhere.toml", "no file nowhere.toml"},
		{"par " + saltmarsh + " --car racer", "\"plain\", \"magnet\""},
		{"par " + saltmarsh + " --lane 5", "lanes 1 to 4"},
		{"par " + saltmarsh + " --scale 0", "--scale"},
		{"par " + saltmarsh + " -o picture.png", ".svg"},
		{"route " + saltmarsh + " --levels 2", "--levels"},
		{"lanes nowhere.lw", "nowhere.lw"},
		{"lanes " + file + " autumn", "no night \"autumn\""},
		{"lanes " + file + " --plan ../../testdata/layouts/kestrel-six.toml", "is not what night"},
		{"audit " + file + " --draws 5", "--draws"},
		{"audit " + file + " --car nocar.toml", "nocar.toml"},
		{"night " + file + " --length-sd -1", "--length-sd"},
		{"night " + file + " --tick 2s", "--tick"},
		{"night " + file + " --trap 2", "--trap"},
		{"night " + file + " --trap 2,3", "second sensor"},
		{"across " + file + " --by team", "--by"},
		{"across " + file + " --compare one", "expected two"},
		{"across " + file + " --compare one,two", "no driver \"one\""},
		{"across " + file + " --class GT", "--class"},
		{"across " + file + " " + copied, "same store"},
		{"seed " + file + " --half-life -1", "--half-life"},
		{"seed " + file + " --sheet nowhere.toml", "nowhere.toml"},
		{"fit " + file + " --free weight", "no figure of a car"},
		{"fit " + file + " --night autumn", "no night \"autumn\""},
		{"fit " + badCSV, "--plan"},
		{"fit " + badCSV + " --plan " + saltmarsh, "line 3: lane \"9\""},
		{"fit " + noHead + " --plan " + saltmarsh, "headings"},
	} {
		_, _, err := speedsRun(t, strings.Fields(c.args)...)
		if err == nil || !strings.Contains(err.Error(), c.want) || errors.Is(err, errAnswerNo) {
			t.Errorf("%s: got %v, want something about %q", c.args, err, c.want)
		}
	}
}

func TestThePageOfTheScreen(t *testing.T) {
	one, two := clubNight(), clubNight()
	two.id, two.day, two.seed, two.layout, two.lane = "summer", 12, 5, "kestrel-six.toml", nil
	s, err := openForReading(madeStore(t, one, two))
	if err != nil {
		t.Fatal(err)
	}
	defer s.Close()
	p, err := speedPage{s, "summer"}.Speeds()
	if err != nil {
		t.Fatal(err)
	}
	if p.Layouts[0] != "Kestrel Six" || len(p.Layouts) != 2 || len(p.Drivers) != 7 || p.Drivers[0].Name != "Ada Quill" || len(p.Lanes) != 6 || len(p.Standing) != 7 || p.Sentence == "" {
		t.Fatalf("%+v", p)
	}
	for i, d := range p.Drivers {
		if i > 0 && (d.Percent == nil || *d.Percent < 0) || d.Cells[0].Laps == 0 || d.Cells[1].Kmh == 0 {
			t.Errorf("%+v", d)
		}
	}
	text := strings.Join(speedview.View(p, 80, 24, speedview.Look{}), "\n")
	for _, want := range []string{"summer on Kestrel Six", "Ada Quill", "Zoë Łukas", "6 □"} {
		if !strings.Contains(text, want) {
			t.Errorf("nothing about %q:\n%s", want, text)
		}
	}
	empty := clubNight()
	empty.change = func(p *evening.Plan) { p.Heats = p.Heats[:1]; p.Open = true }
	s2, err := openForReading(madeStore(t, empty))
	if err != nil {
		t.Fatal(err)
	}
	defer s2.Close()
	if p, err := (speedPage{s2, "spring 1"}).Speeds(); err != nil || !strings.Contains(p.Sentence, "nothing to compare") {
		t.Errorf("%v %+v", err, p)
	}
}

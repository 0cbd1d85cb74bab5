//go:build linux || darwin

package main

import (
	"cmp"
	"encoding/csv"
	"encoding/json"
	"flag"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"reflect"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"
)

var eveningBoth = flag.Bool("evening-both", false, "play the evening in a small and in a large window")

// The evening: a new club, ten drivers, four lanes, from an empty folder to printed results, all by keys.
//
// Worked out by hand. A heat is 60 s, cars stand before the line, whole laps count. The car of a driver on a lane passes the line
// first at 300 ms + 100 ms times the lane, then every 4200 ms + 170 ms times the driver's rank + 30 ms times the lane; ranks are 0 for
// the quickest to 8 for the slowest, and two drivers have the same rank. So he drives
//
//	laps(rank, lane) = floor((60000 - 300 - 100 lane) / (4200 + 170 rank + 30 lane))
//
//	rank    lane 1            lane 2            lane 3            lane 4
//	  0     59600/4230 = 14   59500/4260 = 13   59400/4290 = 13   59300/4320 = 13
//	  1     59600/4400 = 13   59500/4430 = 13   59400/4460 = 13   59300/4490 = 13
//	  2     59600/4570 = 13   59500/4600 = 12   59400/4630 = 12   59300/4660 = 12
//	  3     59600/4740 = 12   59500/4770 = 12   59400/4800 = 12   59300/4830 = 12
//	  4     59600/4910 = 12   59500/4940 = 12   59400/4970 = 11   59300/5000 = 11
//	  5     59600/5080 = 11   59500/5110 = 11   59400/5140 = 11   59300/5170 = 11
//	  6     59600/5250 = 11   59500/5280 = 11   59400/5310 = 11   59300/5340 = 11
//	  7     59600/5420 = 10   59500/5450 = 10   59400/5480 = 10   59300/5510 = 10
//	  8     59600/5590 = 10   59500/5620 = 10   59400/5650 = 10   59300/5680 = 10
//
// the floors of 14.09 13.97 13.85 13.73, 13.55 13.43 13.32 13.21, 13.04 12.93 12.83 12.73, 12.57 12.47 12.38 12.28, 12.14 12.04 11.95
// 11.86, 11.73 11.64 11.56 11.47, 11.35 11.27 11.19 11.10, 10.99 10.92 10.84 10.76, 10.66 10.59 10.51 10.44.
//
// A track call stops the clock and the cars alike: it changes none of this. A pass that the sensor misses is made good by a lap given, a
// pass of nothing is struck out: neither changes it. On the lane that dies 25 s into heat 2 the car stops there:
//
//	rank  0..8, lane 4, until 25 s: 24300/4320 = 5, /4490 = 5, /4660 = 5, /4830 = 5, /5000 = 4, /5170 = 4, /5340 = 4, /5510 = 4, /5680 = 4
//
// Ties are broken by the last pass, at 300 + 100 lane + laps times lap, summed over the heats, the smaller being better; then by the
// best heat, then by the best lap. The two of the same rank drive the same lanes and part on none of these: they share a place.
var eveningLaps = [9][4]int{
	{14, 13, 13, 13},
	{13, 13, 13, 13},
	{13, 12, 12, 12},
	{12, 12, 12, 12},
	{12, 12, 11, 11},
	{11, 11, 11, 11},
	{11, 11, 11, 11},
	{10, 10, 10, 10},
	{10, 10, 10, 10},
}

var eveningDead = [9]int{5, 5, 5, 5, 4, 4, 4, 4, 4}

const (
	eveningLength = 60000
	eveningDeadAt = 25000
)

func eveningGrid(lane int) int      { return 300 + 100*lane }
func eveningLap(rank, lane int) int { return 4200 + 170*rank + 30*lane }

// eveningDrivers in the order in which they sign on; the last one comes late.
var eveningDrivers = []string{"Ada Quill", "Bram Ostler", "Cleo Marsh", "Dov Harrow", "Edda Rook", "Finn Tarn", "Gwen Alder", "Hale Brook", "Zoë Łukas", "Ivo Late"}

// clubEvening is one evening being played.
type clubEvening struct {
	*window
	t      *testing.T
	c      *eveningCounter
	ranks  map[string]int
	heats  []map[int]string // who drove on which lane, by what the screen said
	goOn   int              // times a heat went on after a hold
	starts int
}

var eveningPlayed = flag.Bool("evening", false, "play the whole evening of TestEvening")

func TestEvening(t *testing.T) {
	if !*eveningPlayed {
		t.Skip("plays a whole evening in a terminal, more than a minute: go test ./cmd/lanewright -run TestEvening -evening")
	}
	t.Parallel()
	sizes := []struct{ width, height int }{{80, 24}, {160, 45}}
	if !*eveningBoth {
		sizes = sizes[:1]
	}
	for _, s := range sizes {
		t.Run(fmt.Sprintf("%dx%d", s.width, s.height), func(t *testing.T) {
			t.Parallel()
			playEvening(t, s.width, s.height)
		})
	}
}

// literal types a text as it is.
func (e *clubEvening) literal(text string) {
	e.t.Helper()
	e.last = ""
	if out, err := e.tmux("send-keys", "-l", text); err != nil {
		e.t.Fatalf("tmux: %v: %s", err, out)
	}
}

// open starts the plain program.
func (e *clubEvening) open() {
	e.t.Helper()
	path, err := exec.LookPath("lanewright")
	if err != nil {
		e.t.Fatal(err)
	}
	e.last = ""
	if out, err := e.tmux("respawn-pane", "-k", "-e", "HOME="+filepath.Dir(e.store), fmt.Sprintf("exec '%s' --store '%s'", path, e.store)); err != nil {
		e.t.Fatalf("tmux: %v: %s", err, out)
	}
}

// set types the value of a line of the set-up: down to it, e, the value, enter.
func (e *clubEvening) set(line, value string, shows ...string) {
	e.t.Helper()
	e.to(line)
	e.press("e", `(?m)^`+line+` .*\n.*enter done`)
	e.literal(value)
	e.press("Enter", shows...)
}

// to moves to a line of the set-up: as many steps as it is away.
func (e *clubEvening) to(line string) {
	e.t.Helper()
	for range 40 {
		at, goal := -1, -1
		for i, row := range strings.Split(e.see("▸ "), "\n") {
			if strings.HasPrefix(row, "▸ ") {
				at = i
			}
			if name := strings.TrimLeft(row, "▸ "); strings.HasPrefix(name, line+" ") && i > 2 {
				goal = i
			}
		}
		if at >= 0 && at == goal {
			return
		}
		keys := []string{"send-keys"}
		switch {
		case goal < 0 || goal > at:
			keys = append(keys, slices.Repeat([]string{"Down"}, max(goal-at, 1))...)
		default:
			keys = append(keys, slices.Repeat([]string{"Up"}, at-goal)...)
		}
		if out, err := e.tmux(keys...); err != nil {
			e.t.Fatalf("tmux: %v: %s", err, out)
		}
		e.last = ""
		time.Sleep(100 * time.Millisecond)
	}
	e.t.Fatalf("the set-up has no line %q:\n%s", line, e.screen())
}

// call calls the next heat to the line and starts it; it returns who drives where.
func (e *clubEvening) call(heat int) map[int]string {
	e.t.Helper()
	screen := e.press("Enter", "STAGED", fmt.Sprintf("heat %d of", heat), fmt.Sprintf("enter  start heat %d", heat))
	on := map[int]string{}
	for _, line := range strings.Split(screen, "\n") {
		m := regexp.MustCompile(`^ [■▲●◆] (\d) [ ◂](.*)$`).FindStringSubmatch(line)
		if m == nil {
			continue
		}
		lane, _ := strconv.Atoi(m[1])
		for _, name := range eveningDrivers {
			if strings.HasPrefix(m[2], name) {
				on[lane] = name
			}
		}
	}
	e.heats = append(e.heats, on)
	if len(e.heats) != heat || len(on) == 0 {
		e.t.Fatalf("heat %d: nobody is seen at the line:\n%s", heat, screen)
	}
	e.press("Enter", "GREEN")
	e.starts++
	e.c.started(e.starts)
	return on
}

// passes are the car's passes of a lane between two driven times, the first excluded.
func (e *clubEvening) passes(name string, lane, from, to int) []playedPass {
	var list []playedPass
	for at := eveningGrid(lane); at <= to; at += eveningLap(e.ranks[name], lane) {
		if at > from {
			list = append(list, playedPass{lane, at})
		}
	}
	return list
}

// drive plays the cars of a heat between two driven times, without some passes and with others besides.
func (e *clubEvening) drive(on map[int]string, from, to int, without []playedPass, besides ...playedPass) {
	all := besides
	for lane, name := range on {
		all = append(all, e.passes(name, lane, from, to)...)
	}
	slices.SortFunc(all, func(a, b playedPass) int { return cmp.Or(cmp.Compare(a.ms, b.ms), cmp.Compare(a.lane, b.lane)) })
	for _, p := range all {
		if !slices.Contains(without, p) {
			e.c.drive(p.lane, p.ms)
		}
	}
}

// finish plays the rest of a heat and accepts it.
func (e *clubEvening) finish(on map[int]string, heat, from int, next string) {
	e.t.Helper()
	e.drive(on, from, eveningLength, nil)
	e.c.over(eveningLength + 3000)
	e.see("FINISH", fmt.Sprintf("enter  accept heat %d", heat))
	e.press("Enter", next)
}

func playEvening(t *testing.T, width, height int) {
	dir := t.TempDir()
	e := &clubEvening{window: openWindow(t, width, height), t: t, ranks: map[string]int{}}
	e.store = filepath.Join(dir, "club.lw")
	e.c = newEveningCounter(t, filepath.Join(dir, "counter"), 4)
	t.Cleanup(func() {
		if t.Failed() {
			t.Logf("the counter: %v; the screen:\n%s", e.c, e.screen())
		}
	})

	// Set up: a club that has nothing yet.
	e.open()
	e.see("SIGN-ON", "A race night in four steps")
	e.press("g", "go to")
	e.press("n", "Set-up", "▸ club")
	e.set("club", "Heron Lane", "club: Heron Lane")
	e.set("night", "Round 1", "night: Round 1")
	e.set("counter", e.c.name, "counter: talking", "✓ counter: "+e.c.name[:20])
	for _, line := range [][2]string{
		{"length of a heat", "1m"}, {"lamps run for", "500ms"}, {"random wait, at most", "0s"}, {"going on takes", "300ms"}, {"ties are broken by", "last-pass best-heat best-lap"},
	} {
		e.set(line[0], line[1], "rule card changed")
	}
	e.to("part laps")
	e.press("Right", "part laps +(← )?whole laps only")

	// The lane check: a car through each lane.
	for lane := 1; lane <= 4; lane++ {
		e.c.push(lane)
		e.see(fmt.Sprintf(` %d  +(PASS|✓ heard at)`, lane))
	}

	// Sign-on, and the draw.
	e.press("a", "Sign-on", "name")
	for i, name := range eveningDrivers[:9] {
		e.literal(name)
		e.see("sign on " + name)
		e.press("Enter", fmt.Sprintf(`%d drivers? tonight`, i+1), fmt.Sprintf("%d %s", i+1, name))
	}
	e.press("Escape", "a types a name")
	e.press("g", "go to")
	e.press("d", "9 drivers signed on", "enter  make the draw")
	e.press("Enter", "READY", "enter  call heat 1 to the line")

	// Between heats the program may be left; the night is where it was.
	e.press("q")
	if code := e.gone(); code != 0 {
		t.Fatalf("exit code %d after quitting", code)
	}
	e.rank(drawsOf(t, e.store)[0])
	e.open()
	e.see("READY", "enter  call heat 1 to the line", "counter is talking")

	// Heat 1: a track call, a lap given for a missed pass and taken back and given again, and a question about a pass of nothing.
	on := e.call(1)
	e.drive(on, 0, 20000, nil)
	e.press("Space", "TRACK CALL", "enter  resume")
	e.c.stopped()
	e.press("Enter", "GREEN")
	e.goOn++
	e.c.wentOn(e.goOn)
	e.drive(on, 20000, 40000, e.passes(on[2], 2, 28000, 40000)[:1]) // the sensor of lane 2 misses one
	short := e.laps(on[2], 2, 40000) - 1
	e.see(fmt.Sprintf(` 2  %s.* %d +\d+\.\d{3}`, on[2], short))
	e.press("2", "2 ◂")
	e.press("+", "1 lap given to lane 2", fmt.Sprintf(` 2 ◂%s.* %d +\d+\.\d{3}`, on[2], short+1))
	e.press("u", "taken back: 1 lap given to lane 2", fmt.Sprintf(` 2 .%s.* %d +\d+\.\d{3}`, on[2], short))
	e.press("U", fmt.Sprintf(` 2 .%s.* %d +\d+\.\d{3}`, on[2], short+1))
	ghost := e.passes(on[1], 1, 40000, 52000)[0].ms + eveningLap(e.ranks[on[1]], 1)/2
	e.drive(on, 40000, 52000, nil, playedPass{1, ghost}) // something crosses the sensor of lane 1 in the middle of a lap
	e.answer(map[string]string{"phantom": "y", "missed": "n"})
	e.finish(on, 1, 52000, "enter  call heat 2 to the line")

	// Heat 2: lane 4 dies.
	on = e.call(2)
	e.drive(on, 0, eveningDeadAt, nil)
	e.press("Space", "TRACK CALL", "enter  resume")
	e.c.stopped()
	e.press("4", "4 ◂")
	e.press("o", "lane 4 closed")
	e.press("Enter", "GREEN")
	e.goOn++
	e.c.wentOn(e.goOn)
	three := map[int]string{1: on[1], 2: on[2], 3: on[3]}
	e.finish(three, 2, eveningDeadAt, "enter  make the draw anew")

	// Somebody comes late; the rest of the evening is drawn anew for three lanes and ten drivers.
	e.press("a", "Sign-on")
	e.literal("Ivo Late")
	e.press("Enter", "10 drivers tonight", "10 Ivo Late")
	e.press("Escape", "a types a name")
	e.press("g", "go to")
	e.press("d", "Desk", "enter  make the draw anew")
	e.press("Enter", "enter  call heat 3 to the line")

	// Heat 3: a pass of nothing is struck out at once.
	on = e.call(3)
	seat := e.anyLane(on)
	last := e.passes(on[seat], seat, 0, 30000)
	here := last[len(last)-1].ms + eveningLap(e.ranks[on[seat]], seat)/2
	e.drive(on, 0, here, nil, playedPass{seat, here})
	e.see(fmt.Sprintf(` %d  %s.* %d +\d+\.\d{3}`, seat, on[seat], len(last)))
	e.press(strconv.Itoa(seat), fmt.Sprintf("%d ◂", seat))
	e.press("k", "struck", fmt.Sprintf(` %d .%s.* %d +\d+\.\d{3}`, seat, on[seat], len(last)-1))
	e.finish(on, 3, here, "enter  call heat 4 to the line")

	// Heat 4: the program is killed, and comes back ten seconds of the heat later.
	on = e.call(4)
	e.drive(on, 0, 30000, nil)
	seat = e.anyLane(on)
	e.see(e.shown(on, seat, 30000))
	e.kill()
	e.drive(on, 30000, 40000, nil)
	e.c.quickly(func() { e.c.letGo(); e.c.deaf = false })
	e.open()
	e.see("heat 4 of", e.shown(on, seat, 40000))
	e.resume()
	e.finish(on, 4, 40000, "enter  call heat 5 to the line")

	// Somebody leaves; the draw is made anew.
	e.press("d", "choose who drops out")
	leaver := e.leaver()
	for range slices.Index(eveningDrivers, leaver) {
		e.press("Down")
	}
	e.press("d", leaver+".*dropped out")
	e.press("g", "go to")
	e.press("d", "enter  make the draw anew")
	e.press("Enter", "enter  call heat 5 to the line")

	// Heat 5: the counter's plug is pulled, and put back ten seconds of the heat later.
	on = e.call(5)
	e.drive(on, 0, 20000, nil)
	seat = e.anyLane(on)
	e.see(e.shown(on, seat, 20000))
	e.c.unplug()
	e.see("counter is (lost|opening)")
	e.drive(on, 20000, 30000, nil)
	e.c.plugAgain()
	e.see(e.shown(on, seat, 30000))
	e.resume()
	heats := e.heatsInAll()
	for heat := 5; ; heat++ {
		from := 0
		if heat == 5 {
			from = 30000
		} else {
			on = e.call(heat)
		}
		if heat == heats {
			e.drive(on, from, eveningLength, nil)
			e.c.over(eveningLength + 3000)
			e.see("FINISH", fmt.Sprintf("enter  accept heat %d", heat))
			e.press("Enter", "enter  close the night")
			break
		}
		e.finish(on, heat, from, fmt.Sprintf("enter  call heat %d to the line", heat+1))
	}

	// Paper.
	e.press("g", "go to")
	e.press("h", "Sheets")
	for range 10 {
		if strings.Contains(e.press("Tab", "Sheets"), "everything as PDF") {
			break
		}
		time.Sleep(100 * time.Millisecond)
	}
	e.see("everything as PDF")
	for _, paper := range []string{"pdf", "html", "heats.csv", "marshals.csv", "results.csv"} {
		e.press("b", `\.`+regexp.QuoteMeta(paper)+` in `)
		e.press("Down")
	}
	e.press("g", "go to")
	e.press("d", "enter  close the night")
	e.press("Enter", "OVER")
	e.press("q")
	if code := e.gone(); code != 0 {
		t.Errorf("exit code %d at the end", code)
	}
	e.check(heats, leaver)
}

// rank deals out the ranks when the draw is known: the quickest and the slowest as they signed on, but the two of the same rank are
// chosen among those who are not on lane 4 before it dies, so that both drive three heats.
func (e *clubEvening) rank(heats [][]int) {
	early := map[int]bool{heats[0][3]: true, heats[1][3]: true}
	rank, twins := 0, 0
	for i, name := range eveningDrivers {
		if !early[i+1] && i < 9 && twins < 2 {
			e.ranks[name] = 3
			twins++
			continue
		}
		if rank == 3 {
			rank++
		}
		e.ranks[name] = rank
		rank++
	}
}

// laps are those that a car has done by a driven time.
func (e *clubEvening) laps(name string, lane, to int) int {
	return len(e.passes(name, lane, -1, to)) - 1
}

// shown matches the line of a lane with the laps done by a driven time.
func (e *clubEvening) shown(on map[int]string, lane, to int) string {
	return fmt.Sprintf(` %d .%s.* %d +\d+\.\d{3}`, lane, on[lane], e.laps(on[lane], lane, to))
}

// anyLane is the lowest lane that is driven.
func (e *clubEvening) anyLane(on map[int]string) int {
	for lane := 1; lane <= 4; lane++ {
		if on[lane] != "" {
			return lane
		}
	}
	return 0
}

// answer answers the questions that wait, by what they are about; it waits until all of them do. One follows the other.
func (e *clubEvening) answer(answers map[string]string) {
	e.t.Helper()
	all := len(answers)
	e.see(fmt.Sprintf(`%d questions: j`, all))
	key := "j"
	for left := all; left > 0; left-- {
		screen := e.press(key, `question \d`+fmt.Sprintf(` of %d: `, left), "y strike|y give")
		about := regexp.MustCompile(`question \d of \d: (\S+)`).FindStringSubmatch(screen)[1]
		if key = answers[about]; key == "" {
			e.t.Fatalf("a question about %s was not expected:\n%s", about, screen)
		}
	}
	e.press(key)
}

// kill ends the program as a power cut would.
func (e *clubEvening) kill() {
	e.t.Helper()
	p, err := os.FindProcess(e.pid())
	if err != nil {
		e.t.Fatal(err)
	}
	if err := p.Kill(); err != nil {
		e.t.Fatal(err)
	}
	e.gone()
	e.c.quickly(func() { e.c.deaf = true })
}

// resume goes on with the heat if it was held.
func (e *clubEvening) resume() {
	e.t.Helper()
	if strings.Contains(e.see("GREEN|TRACK CALL"), "GREEN") {
		return
	}
	e.press("Enter", "GREEN")
	e.goOn++
	e.c.wentOn(e.goOn)
}

// leaver is who leaves: somebody of the middle.
func (e *clubEvening) leaver() string {
	for _, name := range eveningDrivers {
		if e.ranks[name] == 4 {
			return name
		}
	}
	return ""
}

// heatsInAll reads from the screen how many heats there are.
func (e *clubEvening) heatsInAll() int {
	m := regexp.MustCompile(`heat \d+ of (\d+)`).FindStringSubmatch(e.screen())
	if m == nil {
		e.t.Fatalf("the screen does not say how many heats there are:\n%s", e.screen())
	}
	n, _ := strconv.Atoi(m[1])
	return n
}

// drawsOf are the draws in the journal of the night: the heats from then on, drivers by lane.
func drawsOf(t *testing.T, store string) [][][]int {
	t.Helper()
	var draws [][][]int
	for _, line := range strings.Split(run1(t, "night", "events", store), "\n") {
		if !isEvent("drawn")(line) {
			continue
		}
		var heats [][]int
		for _, h := range parseEvent(t, line).Heats {
			heats = append(heats, h.Drivers)
		}
		draws = append(draws, heats)
	}
	return draws
}

// stint is what a driver did in a heat, by hand.
type stint struct{ laps, last, best int }

// worked is the result of a driver on a lane in a heat as worked out above.
func (e *clubEvening) worked(heat, lane int, name string) stint {
	rank := e.ranks[name]
	laps := eveningLaps[rank][lane-1]
	if heat == 2 && lane == 4 {
		laps = eveningDead[rank]
	}
	return stint{laps, eveningGrid(lane) + laps*eveningLap(rank, lane), eveningLap(rank, lane)}
}

// check compares the results with those worked out by hand.
func (e *clubEvening) check(heats int, leaver string) {
	t := e.t
	t.Helper()
	// Who drove where is what the draws say.
	draws := drawsOf(t, e.store)
	if len(draws) != 3 {
		t.Fatalf("%d draws, want 3", len(draws))
	}
	plan := slices.Concat(draws[0][:2], draws[1][:2], draws[2])
	if len(plan) != heats || len(e.heats) != heats {
		t.Fatalf("%d heats are drawn, %d were seen, the screen said %d", len(plan), len(e.heats), heats)
	}
	stints := map[string][]stint{}
	var got resultsAnswer
	if err := json.Unmarshal([]byte(run1(t, "night", "show", e.store, "--json")), &got); err != nil {
		t.Fatal(err)
	}
	if got.Club != "Heron Lane" || got.Title != "Round 1" || len(got.Heats) != heats {
		t.Fatalf("club %q, night %q, %d heats", got.Club, got.Title, len(got.Heats))
	}
	for h, seats := range plan {
		worked := map[string]stint{}
		for i, driver := range seats {
			if driver == 0 {
				continue
			}
			name := eveningDrivers[driver-1]
			if e.heats[h][i+1] != name {
				t.Errorf("heat %d: the draw has %s on lane %d, the screen had %q", h+1, name, i+1, e.heats[h][i+1])
			}
			worked[name] = e.worked(h+1, i+1, name)
			stints[name] = append(stints[name], worked[name])
		}
		rows := got.Heats[h].Results
		if len(rows) != len(worked) || got.Heats[h].State != "run" {
			t.Errorf("heat %d, %s: %d results, %d drove", h+1, got.Heats[h].State, len(rows), len(worked))
		}
		e.checkRows(fmt.Sprintf("heat %d", h+1), rows, worked, nil)
	}
	night, best := map[string]stint{}, map[string]int{}
	for name, list := range stints {
		sum := stint{best: list[0].best}
		for _, s := range list {
			sum.laps, sum.last, sum.best = sum.laps+s.laps, sum.last+s.last, min(sum.best, s.best)
			best[name] = max(best[name], s.laps)
		}
		night[name] = sum
		// Everybody drove each of the three lanes once, but for who left; who had lane 4 before it died had it besides.
		if want := 3; name != leaver && len(list) != want && !(len(list) == want+1 && (plan[0][3] == slices.Index(eveningDrivers, name)+1 || plan[1][3] == slices.Index(eveningDrivers, name)+1)) {
			t.Errorf("%s drove %d heats", name, len(list))
		}
	}
	e.checkRows("the night", got.Standings, night, best)
	for _, r := range got.Standings { // every number again by lane
		var want [4]int
		for h, seats := range plan {
			for i, driver := range seats {
				if driver == r.Driver {
					want[i] += e.worked(h+1, i+1, r.Name).laps
				}
			}
		}
		for i, laps := range r.ByLane {
			if n := want[i]; (laps == nil) != (n == 0) || laps != nil && *laps != n {
				t.Errorf("%s, lane %d: %v laps, worked out %d", r.Name, i+1, laps, n)
			}
		}
	}
	shared := 0
	for _, r := range got.Standings {
		if r.Shared {
			shared++
			if e.ranks[r.Name] != 3 {
				t.Errorf("%s shares a place", r.Name)
			}
		}
	}
	if shared != 2 {
		t.Errorf("%d share a place, want the two of the same rank", shared)
	}
	e.checkPapers(got)
}

// checkRows compares places, laps, last passes and best laps.
func (e *clubEvening) checkRows(what string, rows []rowAnswer, worked map[string]stint, best map[string]int) {
	t := e.t
	t.Helper()
	better := func(a, b string) int {
		x, y := worked[a], worked[b]
		return cmp.Or(cmp.Compare(y.laps, x.laps), cmp.Compare(x.last, y.last), cmp.Compare(best[b], best[a]), cmp.Compare(x.best, y.best))
	}
	for _, r := range rows {
		w, ok := worked[r.Name]
		if !ok {
			t.Errorf("%s: %s has a result", what, r.Name)
			continue
		}
		place, same := 1, 0
		for other := range worked {
			switch c := better(other, r.Name); {
			case c < 0:
				place++
			case c == 0:
				same++
			}
		}
		got := playedRows([]rowAnswer{r})[0]
		want := playedResult{Place: place, Shared: same > 1, Name: r.Name, Laps: w.laps, LastMS: int64(w.last), BestMS: int64(w.best)}
		if got != want {
			t.Errorf("%s: got %+v, worked out %+v", what, got, want)
		}
	}
}

// checkPapers reads what was printed.
func (e *clubEvening) checkPapers(got resultsAnswer) {
	t := e.t
	t.Helper()
	find := func(ending string) []byte {
		list, err := filepath.Glob(strings.TrimSuffix(e.store, ".lw") + ".*." + ending)
		if err != nil || len(list) != 1 {
			t.Fatalf("papers *.%s: %v, %v", ending, list, err)
		}
		data, err := os.ReadFile(list[0])
		if err != nil {
			t.Fatal(err)
		}
		return data
	}
	if pdf := find("pdf"); !strings.HasPrefix(string(pdf), "%PDF-") || len(pdf) < 10000 {
		t.Errorf("the PDF has %d bytes and begins with %q", len(pdf), pdf[:min(len(pdf), 8)])
	}
	page := string(find("html"))
	text := strings.TrimPrefix(string(find("results.csv")), "\ufeff")
	table, err := csv.NewReader(strings.NewReader(text)).ReadAll()
	if err != nil {
		t.Fatalf("results as CSV: %v", err)
	}
	var printed [][]string
	for _, row := range table[1:] {
		printed = append(printed, append([]string{row[0], row[1], row[3]}, row[9:]...))
	}
	var want [][]string
	for _, r := range got.Standings {
		place := fmt.Sprintf("P%d", r.Place)
		if r.Shared {
			place += "="
		}
		row := []string{place, r.Name, strconv.Itoa(r.Laps)}
		for _, laps := range r.ByLane {
			if laps == nil {
				row = append(row, "-")
				continue
			}
			row = append(row, strconv.Itoa(*laps))
		}
		want = append(want, row)
		// The page has the same line: its cells in this order.
		line := regexp.MustCompile(`(?s)<tr[^>]*>\s*<t[dh][^>]*>` + place + `</t[dh]>\s*<t[dh][^>]*>` + regexp.QuoteMeta(r.Name) + `</t[dh]>.*?</tr>`).FindString(page)
		if !strings.Contains(line, `>`+row[2]+`<`) {
			t.Errorf("the page does not say that %s is %s with %d laps: %q", r.Name, place, r.Laps, line)
		}
	}
	if !reflect.DeepEqual(printed, want) {
		t.Errorf("printed as CSV:\n%v\nthe night has\n%v\nof %v", printed, want, table[0])
	}
}

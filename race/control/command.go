package control

import (
	"context"
	"fmt"
	"time"

	"lanewright/race"
)

// do carries a command out or refuses it. later is true when the answer comes when a draw has been made, through answer.
func (d *desk) do(now time.Time, cmd race.Command, answer func(race.Reply)) (reply race.Reply, later bool) {
	if _, ok := cmd.(race.Enter); ok {
		var err error
		if cmd, err = d.enter(); err != nil {
			return race.Reply{Err: err, At: now}, false
		}
	}
	if m, ok := cmd.(race.MakeDraw); ok {
		if err := d.makeDraw(now, m, answer); err != nil {
			return race.Reply{Err: err, At: now}, false
		}
		return race.Reply{}, true
	}
	from := len(d.out)
	d.acting = true
	done, err := d.carryOut(now, cmd)
	d.acted(now, cmd, err == nil)
	if err != nil {
		return race.Reply{Err: err, At: now}, false
	}
	if done == "" && len(d.out) > from {
		done = d.night.Describe(d.out[len(d.out)-1].event)
	}
	return race.Reply{Done: done, At: now}, false
}

// enter is the step named in Snapshot.Next.
func (d *desk) enter() (race.Command, error) {
	switch key, _ := d.night.Next(); key {
	case "draw":
		return d.firstDraw(), nil
	case "stage":
		return race.Stage{}, nil
	case "start":
		return race.Start{}, nil
	case "resume":
		return race.Resume{}, nil
	case "finish":
		return race.FinishHeat{}, nil
	case "accept":
		return race.Accept{}, nil
	case "close-night":
		return race.CloseNight{}, nil
	}
	return nil, errSaid("enter does nothing now")
}

// firstDraw is the draw that is made when nobody says how: like the last one, else as the night was set up.
func (d *desk) firstDraw() race.MakeDraw {
	if !d.night.HasDraw() && d.rotation.Kind != "" {
		return d.rotation
	}
	return d.night.SameDraw()
}

// carryOut makes the events of a command. done is what to say, "" for the description of the last event.
func (d *desk) carryOut(now time.Time, cmd race.Command) (done string, err error) {
	s := stamp(now)
	n := d.night
	switch c := cmd.(type) {
	case race.AddDriver:
		return "", d.emit(race.DriverAdded{Stamp: s, Driver: n.NextDriver(), Name: c.Name, Short: c.Short, Class: c.Class, Group: c.Group, Car: c.Car, Register: c.Register})
	case race.DropDriver:
		return "", d.emit(race.DriverLeft{Stamp: s, Driver: c.Driver})
	case race.ReturnDriver:
		return "", d.emit(race.DriverBack{Stamp: s, Driver: c.Driver})
	case race.ShareCar:
		return "", d.emit(race.CarShared{Stamp: s, Driver: c.Driver, With: c.With})
	case race.AssignCar:
		return "", d.emit(race.CarAssigned{Stamp: s, Driver: c.Driver, Car: c.Car})
	case race.SetCard:
		return "", d.emit(race.CardSet{Stamp: s, Card: c.Card})
	case race.Stage:
		heat := c.Heat
		if heat == 0 {
			heat = n.NextHeat()
		}
		if heat == 0 {
			return "", errSaid("there is no heat ahead: make a draw")
		}
		return "", d.emit(race.HeatStaged{Stamp: s, Heat: heat})
	case race.Start:
		return "", d.startHeat(now)
	case race.CallTrack:
		return "track call", d.callTrack(now, c.Why)
	case race.Resume:
		return "", d.resume(now)
	case race.FinishHeat:
		return "", d.finishNow(now)
	case race.Accept:
		heat, _ := n.AtLine()
		if heat == 0 {
			return "", errSaid("no finished heat waits for acceptance")
		}
		if err := d.emit(race.Accepted{Stamp: s, Heat: heat}); err != nil {
			return "", err
		}
		d.plan(now, 0)
		return "", nil
	case race.VoidHeat:
		if d.night.LastRun() == 0 {
			return "", errSaid("no heat has been run yet: there is nothing to declare void")
		}
		return "", d.voidHeat(now, c)
	case race.CloseLane:
		return "", d.emit(race.LaneClosed{Stamp: s, Lane: c.Lane, Why: c.Why})
	case race.OpenLane:
		return "", d.emit(race.LaneOpened{Stamp: s, Lane: c.Lane})
	case race.Answer:
		return "", d.emit(race.Answered{Stamp: s, ID: c.Question, Yes: c.Yes, By: c.By})
	case race.Comment:
		if c.Text == "" {
			return "", errSaid("a comment needs some words")
		}
		return "", d.emit(race.Commented{Stamp: s, Lane: c.Lane, Text: c.Text})
	case race.Undo:
		return d.undo(now)
	case race.Redo:
		return d.redo(now)
	case race.StartPractice:
		if err := d.emit(race.PracticeStarted{Stamp: s}); err != nil {
			return "", err
		}
		d.powerOn()
		return "", nil
	case race.StopPractice:
		if err := d.emit(race.PracticeStopped{Stamp: s}); err != nil {
			return "", err
		}
		d.powerOff()
		return "", nil
	case race.SwitchPower:
		return d.switchPower(c.On)
	case race.CloseNight:
		return "", d.emit(race.NightClosed{Stamp: s})
	}
	return d.rule(now, cmd)
}

// rule makes the event of a ruling.
func (d *desk) rule(now time.Time, cmd race.Command) (string, error) {
	s := stamp(now)
	if d.night.LastRun() == 0 {
		return "", errSaid("no heat has been run yet: there is nothing to rule on")
	}
	switch c := cmd.(type) {
	case race.GiveLaps:
		return "", d.emit(race.LapsGiven{Stamp: s, Heat: d.heat(c.Heat), Seat: c.Lane, Laps: c.Laps, Why: c.Why, By: c.By})
	case race.StrikePass:
		heat := d.heat(c.Heat)
		pass, err := d.pass(heat, c.Lane, c.Pass)
		if err != nil {
			return "", err
		}
		return "", d.emit(race.PassStruck{Stamp: s, Heat: heat, Seat: c.Lane, Pass: pass, Why: c.Why, By: c.By})
	case race.MovePass:
		heat := d.heat(c.Heat)
		pass, err := d.pass(heat, c.Lane, c.Pass)
		if err != nil {
			return "", err
		}
		return "", d.emit(race.PassMoved{Stamp: s, Heat: heat, Seat: c.Lane, To: c.To, Pass: pass, Why: c.Why, By: c.By})
	case race.SetPart:
		heat := d.heat(c.Heat)
		part, from, err := d.night.PartOf(heat, c.Lane, c.Num, c.Den, c.Call)
		if err != nil {
			return "", err
		}
		return "", d.emit(race.PartSet{Stamp: s, Heat: heat, Seat: c.Lane, Part: part, From: from, By: c.By})
	case race.Penalise:
		return "", d.emit(race.Penalised{Stamp: s, Heat: d.heat(c.Heat), Seat: c.Lane, Laps: c.Laps, Hundredths: c.Hundredths, Why: c.Why, By: c.By})
	case race.DropStint:
		return "", d.emit(race.StintDropped{Stamp: s, Heat: d.heat(c.Heat), Seat: c.Lane, Why: c.Why, By: c.By})
	}
	return "", fmt.Errorf("command %T is unknown", cmd)
}

// heat is the heat that a ruling is about.
func (d *desk) heat(named int) int {
	if named != 0 {
		return named
	}
	return d.night.LastRun()
}

// pass is the pass that a ruling is about: the named one, or the last on the lane.
func (d *desk) pass(heat, seat int, named uint64) (uint64, error) {
	if named != 0 {
		return named, nil
	}
	if p := d.night.LastPassOn(heat, seat); p != 0 {
		return p, nil
	}
	return 0, errSaid("there is no counted pass on %d in heat %d", seat, heat)
}

func (d *desk) voidHeat(now time.Time, c race.VoidHeat) error {
	heat := d.heat(c.Heat)
	at, _ := d.night.AtLine()
	live := d.night.Phase().Live() && at == heat
	if err := d.emit(race.Voided{Stamp: stamp(now), Heat: heat, Why: c.Why}); err != nil {
		return err
	}
	if live {
		d.start, d.call, d.back, d.end = startState{}, callState{}, backState{}, endState{}
		d.lampsWait(0)
		d.powerOff()
	}
	d.plan(now, 0)
	return nil
}

func (d *desk) undo(now time.Time) (string, error) {
	of, what := d.night.UndoTop()
	if of == 0 {
		return "", errSaid("there is nothing to take back")
	}
	if err := d.emit(race.TakenBack{Stamp: stamp(now), Of: of}); err != nil {
		return "", err
	}
	return "taken back: " + what, nil
}

func (d *desk) redo(now time.Time) (string, error) {
	of, what := d.night.RedoTop()
	if of == 0 {
		return "", errSaid("there is nothing to do again")
	}
	if err := d.emit(race.DoneAgain{Stamp: stamp(now), Of: of}); err != nil {
		return "", err
	}
	return "done again: " + what, nil
}

func (d *desk) powerOn() {
	if d.night.Card().Power {
		_, _ = d.counter.Power(d.night.LanesMask()) // see powerOff
	}
}

func (d *desk) switchPower(on bool) (string, error) {
	if p := d.night.Phase(); p.Live() {
		return "", errSaid("a heat is being driven: call the track instead")
	}
	mask, word := uint32(0), "off"
	if on {
		mask, word = d.night.LanesMask(), "on"
	}
	if _, err := d.counter.Power(mask); err != nil {
		return "", fmt.Errorf("power cannot be switched: %w", err)
	}
	return "power " + word + " ordered", nil
}

// makeDraw has a draw made beside the loop.
func (d *desk) makeDraw(now time.Time, m race.MakeDraw, answer func(race.Reply)) error {
	if p := d.night.Phase(); p != race.SignOn && p != race.Idle && p != race.Over {
		return errSaid("no draw while a heat is at the line (%s)", p)
	}
	if d.draw == nil {
		return errSaid("nothing is set up to make draws")
	}
	if d.drawing {
		return errSaid("a draw is being made")
	}
	if d.night.MainsBegun() {
		return errSaid("the mains have begun and are driven to their end")
	}
	request := d.request(m)
	if len(request.Drivers) == 0 {
		return errSaid("nobody is entered: sign drivers on first")
	}
	d.drawing = true
	d.later(func(ctx context.Context) func(time.Time) {
		drawn, err := d.draw(ctx, request)
		return func(now time.Time) {
			d.drawing = false
			if err == nil {
				drawn.Stamp = stamp(now)
				if err = d.emit(drawn); err == nil {
					d.keepEvent(now, drawn)
				}
			}
			d.plan(now, 0)
			if answer != nil {
				answer(race.Reply{Done: d.night.Describe(drawn), Err: err, At: now})
			} else if err != nil {
				d.note(now, race.Commented{Stamp: stamp(now), Text: "no draw: " + err.Error()})
			}
		}
	})
	return nil
}

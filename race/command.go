package race

import "time"

// Command is what a person wants done. The control loop turns it into events, or refuses it with a sentence.
// By is who asked, "" for the race director.
type Command interface{ command() }

// The commands. Lanes, heats, drivers and cars count from 1; a driver is named by his number in the night.
type (
	// AddDriver signs a driver on; Register is the id in the register, "" for a guest.
	AddDriver struct{ Name, Short, Class, Car, Group, Register string }
	// DropDriver takes a driver out from the next heat on.
	DropDriver struct{ Driver int }
	// ReturnDriver takes him in again.
	ReturnDriver struct{ Driver int }
	// ShareCar says that two drivers share a car; With 0 ends it.
	ShareCar struct{ Driver, With int }
	// SetCard changes the rule card while no heat has been run.
	SetCard struct{ Card Card }
	// MakeDraw makes, or re-makes, the rotation of the heats not yet run. Kind: "balanced", "rolling", "short".
	MakeDraw struct {
		Kind   string
		Rounds int
		Heats  int // of a short rotation, 0 otherwise
		Seed   uint64
	}
	// Enter does the step named in Snapshot.Next.
	Enter struct{}
	// Stage calls a heat to the line; 0 the next.
	Stage struct{ Heat int }
	// Start begins the start sequence.
	Start struct{}
	// CallTrack stops the track: power off, clock held. Always possible while a heat is live.
	CallTrack struct{ Why string }
	// Resume counts down and goes on.
	Resume struct{}
	// FinishHeat ends the heat at once.
	FinishHeat struct{}
	// Accept accepts a finished heat.
	Accept struct{}
	// VoidHeat declares a heat void; it is put back into the draw.
	VoidHeat struct {
		Heat int
		Why  string
	}
	// GiveLaps gives (or, negative, takes) laps. Heat 0 is the present or last one.
	GiveLaps struct {
		Heat, Lane, Laps int
		Why, By          string
	}
	// StrikePass strikes out a pass: Pass is its journal number, 0 the last on the lane.
	StrikePass struct {
		Heat, Lane int
		Pass       uint64
		Why, By    string
	}
	// MovePass moves a pass to another lane.
	MovePass struct {
		Heat, Lane, To int
		Pass           uint64
		Why, By        string
	}
	// SetPart sets a part lap, as Num/Den of a lap (Den 0: Num is millimetres along the lane), or Call: the number of the layout's
	// call at which the car stopped.
	SetPart struct {
		Heat, Lane, Num, Den, Call int
		By                         string
	}
	// Penalise takes laps or hundredths of a lap from a driver's heat result.
	Penalise struct {
		Heat, Lane, Laps, Hundredths int
		Why, By                      string
	}
	// DropStint says that a driver's stint in a heat is not counted.
	DropStint struct {
		Heat, Lane int
		Why, By    string
	}
	// CloseLane takes a lane out of use for the rest of the night; OpenLane takes it in again.
	CloseLane struct {
		Lane int
		Why  string
	}
	// OpenLane takes a closed lane in again.
	OpenLane struct{ Lane int }
	// Answer settles a question of the judge.
	Answer struct {
		Question uint64
		Yes      bool
		By       string
	}
	// Comment writes a line into the journal.
	Comment struct {
		Lane int
		Text string
	}
	// Undo takes the last undoable thing back; Redo does it again.
	Undo struct{}
	// Redo does again what was taken back last.
	Redo struct{}
	// StartPractice and StopPractice bracket free laps.
	StartPractice struct{}
	// StopPractice ends free laps.
	StopPractice struct{}
	// SwitchPower switches the power of all lanes outside a heat. Not a safety device.
	SwitchPower struct{ On bool }
	// AssignCar gives a driver a car number on a digital night.
	AssignCar struct{ Driver, Car int }
	// CloseNight ends the night.
	CloseNight struct{}
)

func (AddDriver) command()     {}
func (DropDriver) command()    {}
func (ReturnDriver) command()  {}
func (ShareCar) command()      {}
func (SetCard) command()       {}
func (MakeDraw) command()      {}
func (Enter) command()         {}
func (Stage) command()         {}
func (Start) command()         {}
func (CallTrack) command()     {}
func (Resume) command()        {}
func (FinishHeat) command()    {}
func (Accept) command()        {}
func (VoidHeat) command()      {}
func (GiveLaps) command()      {}
func (StrikePass) command()    {}
func (MovePass) command()      {}
func (SetPart) command()       {}
func (Penalise) command()      {}
func (DropStint) command()     {}
func (CloseLane) command()     {}
func (OpenLane) command()      {}
func (Answer) command()        {}
func (Comment) command()       {}
func (Undo) command()          {}
func (Redo) command()          {}
func (StartPractice) command() {}
func (StopPractice) command()  {}
func (SwitchPower) command()   {}
func (AssignCar) command()     {}
func (CloseNight) command()    {}

// Reply says what came of a command.
type Reply struct {
	Done string // what was done, in words: "lap given to lane 3"
	Err  error  // why it was refused: one sentence with what to do
	At   time.Time
}

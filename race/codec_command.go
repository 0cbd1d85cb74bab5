package race

import (
	"encoding/json"
	"fmt"
	"reflect"
)

// commandWords names commands on tapes and in scripts.
var commandWords = map[string]Command{
	"add-driver": AddDriver{}, "drop-driver": DropDriver{}, "return-driver": ReturnDriver{}, "share-car": ShareCar{}, "set-card": SetCard{},
	"draw": MakeDraw{}, "enter": Enter{}, "stage": Stage{}, "go": Start{}, "track-call": CallTrack{}, "resume": Resume{}, "finish": FinishHeat{},
	"accept": Accept{}, "void": VoidHeat{}, "give": GiveLaps{}, "strike": StrikePass{}, "move": MovePass{}, "part": SetPart{}, "penalise": Penalise{},
	"drop-stint": DropStint{}, "close-lane": CloseLane{}, "open-lane": OpenLane{}, "answer": Answer{}, "comment": Comment{}, "undo": Undo{},
	"redo": Redo{}, "practice": StartPractice{}, "practice-over": StopPractice{}, "power": SwitchPower{}, "assign-car": AssignCar{}, "close-night": CloseNight{},
}

var wordOfCommand = func() map[reflect.Type]string {
	m := make(map[reflect.Type]string, len(commandWords))
	for w, c := range commandWords {
		m[reflect.TypeOf(c)] = w
	}
	return m
}()

// eventAction is the word for an event that is kept on a tape as it is: what opens a night, and a draw.
const eventAction = "event"

// CommandArgs names a command and its arguments for a tape.
func CommandArgs(c Command) (action string, args map[string]any) {
	action = wordOfCommand[reflect.TypeOf(c)]
	data, err := json.Marshal(c)
	if err != nil || json.Unmarshal(data, &args) != nil || len(args) == 0 {
		return action, nil
	}
	return action, args
}

// EventArgs names an event for a tape: the action "event" with kind and object.
func EventArgs(e Event) (action string, args map[string]any) {
	k, data := Encode(e)
	return eventAction, map[string]any{"kind": uint16(k), "event": json.RawMessage(data)}
}

// ParseAction is the inverse of [CommandArgs] and [EventArgs]: one of the results is not nil. Errors wrap [ErrEvent].
func ParseAction(action string, args []byte) (Command, Event, error) {
	if action == eventAction {
		var a struct {
			Kind  uint16
			Event json.RawMessage
		}
		if err := json.Unmarshal(args, &a); err != nil {
			return nil, nil, fmt.Errorf("%w: action event: %v", ErrEvent, err)
		}
		e, err := Decode(Kind(a.Kind), a.Event)
		return nil, e, err
	}
	zero, ok := commandWords[action]
	if !ok {
		return nil, nil, fmt.Errorf("%w: action %q is unknown", ErrEvent, action)
	}
	v := reflect.New(reflect.TypeOf(zero))
	if len(args) > 0 {
		if err := json.Unmarshal(args, v.Interface()); err != nil {
			return nil, nil, fmt.Errorf("%w: action %s: %v", ErrEvent, action, err)
		}
	}
	return v.Elem().Interface().(Command), nil, nil
}

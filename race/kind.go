package race

import (
	"encoding/json"
	"errors"
	"fmt"
)

// Kind is the stable code of an event type with its version: version<<8 | code. Codes are never used again for something else.
type Kind uint16

// Code returns the number of the event type; Version its version, counted from 1.
func (k Kind) Code() int { return int(k & 0xff) }

// Version returns the version of the event's form, counted from 1.
func (k Kind) Version() int { return int(k >> 8) }

// String returns the word for the event type, as printed in event lines.
func (k Kind) String() string {
	if c, ok := codecs[k]; ok {
		return c.word
	}
	return fmt.Sprintf("kind %d version %d", k.Code(), k.Version())
}

// The kinds. New ones get new codes, changed forms a new version.
const (
	v1 Kind = 1 << 8

	KindOpened          = v1 | 1
	KindDriverAdded     = v1 | 2
	KindDriverLeft      = v1 | 3
	KindDriverBack      = v1 | 4
	KindCarShared       = v1 | 5
	KindCarAssigned     = v1 | 6
	KindCardSet         = v1 | 7
	KindDrawn           = v1 | 8
	KindLaneClosed      = v1 | 9
	KindLaneOpened      = v1 | 10
	KindNightClosed     = v1 | 11
	KindHeatStaged      = v1 | 20
	KindLampsStarted    = v1 | 21
	KindStartBroken     = v1 | 22
	KindWent            = v1 | 23
	KindPassed          = v1 | 24
	KindHeld            = v1 | 25
	KindResumeStarted   = v1 | 26
	KindResumed         = v1 | 27
	KindTimeUp          = v1 | 28
	KindFinished        = v1 | 29
	KindAccepted        = v1 | 30
	KindVoided          = v1 | 31
	KindSegmentBroke    = v1 | 32
	KindPracticeStarted = v1 | 33
	KindPracticeStopped = v1 | 34
	KindLapsGiven       = v1 | 50
	KindPassStruck      = v1 | 51
	KindPassMoved       = v1 | 52
	KindPartSet         = v1 | 53
	KindPenalised       = v1 | 54
	KindStintDropped    = v1 | 55
	KindAsked           = v1 | 56
	KindAnswered        = v1 | 57
	KindTakenBack       = v1 | 58
	KindDoneAgain       = v1 | 59
	KindCommented       = v1 | 70
	KindPortNoted       = v1 | 71
	KindPassesMissing   = v1 | 72
	KindPowerNoted      = v1 | 73
	KindClockNoted      = v1 | 74
	KindDamageNoted     = v1 | 75
	KindRestarted       = v1 | 76
)

// ErrEvent is wrapped by every error of [Decode].
var ErrEvent = errors.New("not an event of this program")

type codec struct {
	word   string
	decode func([]byte) (Event, error)
}

func as[E Event](word string) codec {
	return codec{word, func(data []byte) (Event, error) {
		var e E
		if err := json.Unmarshal(data, &e); err != nil {
			return nil, err
		}
		return e, nil
	}}
}

var codecs map[Kind]codec

func init() { // not a literal: the decoders refer to Kind methods that refer to the table
	codecs = map[Kind]codec{
		KindOpened: as[Opened]("opened"), KindDriverAdded: as[DriverAdded]("driver-added"), KindDriverLeft: as[DriverLeft]("driver-left"),
		KindDriverBack: as[DriverBack]("driver-back"), KindCarShared: as[CarShared]("car-shared"), KindCarAssigned: as[CarAssigned]("car-assigned"),
		KindCardSet: as[CardSet]("card-set"), KindDrawn: as[Drawn]("drawn"), KindLaneClosed: as[LaneClosed]("lane-closed"),
		KindLaneOpened: as[LaneOpened]("lane-opened"), KindNightClosed: as[NightClosed]("night-closed"), KindHeatStaged: as[HeatStaged]("heat-staged"),
		KindLampsStarted: as[LampsStarted]("lamps-started"), KindStartBroken: as[StartBroken]("start-broken"), KindWent: as[Went]("went"),
		KindPassed: {"pass", decodePassed}, KindHeld: as[Held]("held"), KindResumeStarted: as[ResumeStarted]("resume-started"),
		KindResumed: as[Resumed]("resumed"), KindTimeUp: as[TimeUp]("time-up"), KindFinished: as[Finished]("finished"),
		KindAccepted: as[Accepted]("accepted"), KindVoided: as[Voided]("voided"), KindSegmentBroke: as[SegmentBroke]("segment-broke"),
		KindPracticeStarted: as[PracticeStarted]("practice-started"), KindPracticeStopped: as[PracticeStopped]("practice-stopped"),
		KindLapsGiven: as[LapsGiven]("laps-given"), KindPassStruck: as[PassStruck]("pass-struck"), KindPassMoved: as[PassMoved]("pass-moved"),
		KindPartSet: as[PartSet]("part-set"), KindPenalised: as[Penalised]("penalised"), KindStintDropped: as[StintDropped]("stint-dropped"),
		KindAsked: as[Asked]("asked"), KindAnswered: as[Answered]("answered"), KindTakenBack: as[TakenBack]("taken-back"),
		KindDoneAgain: as[DoneAgain]("done-again"), KindCommented: as[Commented]("commented"), KindPortNoted: as[PortNoted]("port"),
		KindPassesMissing: as[PassesMissing]("passes-missing"), KindPowerNoted: as[PowerNoted]("power"), KindClockNoted: as[ClockNoted]("clock"),
		KindDamageNoted: as[DamageNoted]("damage"), KindRestarted: as[Restarted]("restarted"),
	}
}

// Encode returns what the journal keeps of an event: its kind and a JSON object.
func Encode(e Event) (Kind, []byte) {
	if p, ok := e.(Passed); ok {
		return KindPassed, AppendPassed(nil, &p)
	}
	data, err := json.Marshal(e)
	if err != nil { // only a float that is not a number can do that; no event is made with one (Check of Opened)
		data = []byte("{}")
	}
	return e.Kind(), data
}

// Decode is the inverse of [Encode]. It never panics; errors wrap [ErrEvent].
func Decode(k Kind, data []byte) (Event, error) {
	c, ok := codecs[k]
	if !ok {
		return nil, fmt.Errorf("%w: kind %d version %d is unknown; it was written by a newer program", ErrEvent, k.Code(), k.Version())
	}
	e, err := c.decode(data)
	if err != nil {
		return nil, fmt.Errorf("%w: %s: %v", ErrEvent, c.word, err)
	}
	return e, nil
}

// AppendLine appends an event as one line of JSON without line end, for event streams:
// {"n":12,"event":"pass","v":1,...} with the members of the journal's object.
func AppendLine(b []byte, seq uint64, k Kind, data []byte) []byte {
	b = append(b, `{"n":`...)
	b = appendUint(b, seq)
	b = append(b, `,"event":"`...)
	b = append(b, k.String()...)
	b = append(b, `","v":`...)
	b = appendUint(b, uint64(k.Version()))
	if len(data) > 2 {
		b = append(b, ',')
		return append(b, data[1:]...)
	}
	return append(b, '}')
}

// Kind methods: one per event type.

func (Opened) Kind() Kind          { return KindOpened }
func (DriverAdded) Kind() Kind     { return KindDriverAdded }
func (DriverLeft) Kind() Kind      { return KindDriverLeft }
func (DriverBack) Kind() Kind      { return KindDriverBack }
func (CarShared) Kind() Kind       { return KindCarShared }
func (CarAssigned) Kind() Kind     { return KindCarAssigned }
func (CardSet) Kind() Kind         { return KindCardSet }
func (Drawn) Kind() Kind           { return KindDrawn }
func (LaneClosed) Kind() Kind      { return KindLaneClosed }
func (LaneOpened) Kind() Kind      { return KindLaneOpened }
func (NightClosed) Kind() Kind     { return KindNightClosed }
func (HeatStaged) Kind() Kind      { return KindHeatStaged }
func (LampsStarted) Kind() Kind    { return KindLampsStarted }
func (StartBroken) Kind() Kind     { return KindStartBroken }
func (Went) Kind() Kind            { return KindWent }
func (Passed) Kind() Kind          { return KindPassed }
func (Held) Kind() Kind            { return KindHeld }
func (ResumeStarted) Kind() Kind   { return KindResumeStarted }
func (Resumed) Kind() Kind         { return KindResumed }
func (TimeUp) Kind() Kind          { return KindTimeUp }
func (Finished) Kind() Kind        { return KindFinished }
func (Accepted) Kind() Kind        { return KindAccepted }
func (Voided) Kind() Kind          { return KindVoided }
func (SegmentBroke) Kind() Kind    { return KindSegmentBroke }
func (PracticeStarted) Kind() Kind { return KindPracticeStarted }
func (PracticeStopped) Kind() Kind { return KindPracticeStopped }
func (LapsGiven) Kind() Kind       { return KindLapsGiven }
func (PassStruck) Kind() Kind      { return KindPassStruck }
func (PassMoved) Kind() Kind       { return KindPassMoved }
func (PartSet) Kind() Kind         { return KindPartSet }
func (Penalised) Kind() Kind       { return KindPenalised }
func (StintDropped) Kind() Kind    { return KindStintDropped }
func (Asked) Kind() Kind           { return KindAsked }
func (Answered) Kind() Kind        { return KindAnswered }
func (TakenBack) Kind() Kind       { return KindTakenBack }
func (DoneAgain) Kind() Kind       { return KindDoneAgain }
func (Commented) Kind() Kind       { return KindCommented }
func (PortNoted) Kind() Kind       { return KindPortNoted }
func (PassesMissing) Kind() Kind   { return KindPassesMissing }
func (PowerNoted) Kind() Kind      { return KindPowerNoted }
func (ClockNoted) Kind() Kind      { return KindClockNoted }
func (DamageNoted) Kind() Kind     { return KindDamageNoted }
func (Restarted) Kind() Kind       { return KindRestarted }

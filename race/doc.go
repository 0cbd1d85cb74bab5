// Package race is what passes mean: a night with its drivers, heats, rulings and results.
//
// A night is a list of events and nothing else. What the counter said, what the director did and what the officials ruled are events; none
// is ever changed or taken out, a correction is a further event, and taking something back is an event too. [Night.Apply] folds
// events one by one into a [Night]: the same function live, after a restart, in a replay and in a test, so the same journal always
// gives the same results. A night has no clock, no goroutine, no file and no chance; the time comes inside the events.
//
// # The phases
//
//	SIGN-ON    -- Drawn -------------> READY
//	READY      -- HeatStaged --------> STAGED        (undo: back)
//	READY      -- PracticeStarted ---> PRACTICE      -- PracticeStopped --> back
//	STAGED     -- LampsStarted ------> LAMPS
//	LAMPS      -- StartBroken -------> STAGED        jump start, or somebody is not ready
//	LAMPS      -- Went --------------> GREEN
//	GREEN      -- Held --------------> TRACK CALL
//	TRACK CALL -- ResumeStarted -----> RESUMING      -- Held --> TRACK CALL
//	RESUMING   -- Resumed -----------> GREEN, or FINISHING when time was up
//	GREEN      -- TimeUp ------------> FINISHING     -- Held --> TRACK CALL
//	FINISHING  -- Finished ----------> FINISH        from GREEN, TRACK CALL and RESUMING too: ended by hand (undo: TRACK CALL)
//	FINISH     -- Accepted ----------> READY, or OVER after the last heat (undo: back)
//	any of a heat -- Voided ---------> READY         the heat is ahead again
//
// # Laps
//
// A heat's passes are kept as the counter told them. Laps follow from them, from the marks (go, track calls, time up, finish: all in
// counter time) and from the rulings in force, by the rules of the [Card]; the whole of that is in step. When a ruling is made or
// taken back the heat is counted anew from its passes, which is why taking back is exact. Passes are told apart by their journal
// number.
//
// Times within a heat are of two kinds. Heat time runs from go and does not stop. Driven time leaves the track calls out; laps, ends and
// results are in driven time. Counter time of another clock segment is related to the heat by [SegmentBroke]: laps across it
// count and have no time.
//
// Whatever decides a place is an integer: laps, parts of a lap, nanoseconds of counter time, points.
//
// # Undo
//
// Rulings and answers can be taken back at any time, last first. What arranges heats (entries, draws, staging, acceptance, a heat ended
// by hand) can be taken back until the next start.
//
// The packages below: race/rotation who drives where, race/judge which passes look wrong, race/score places and points, race/sheet the
// night sheet, race/control the live loop.
package race

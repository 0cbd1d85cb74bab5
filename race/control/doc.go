// Package control runs a race night live: the one place in race with a goroutine.
//
// A single loop owns the [race.Night]. It takes what counters say and what people want, decides, makes events, applies them, and has them
// written; a snapshot is published only when every event in it is on disk. Four parties meet here and none can make another wait:
//
//	counters   Hear puts a message into a queue without end and returns
//	people     Do puts a command there and returns a channel for the reply
//	the disk   a goroutine of its own appends one group of events at a time; while it works, the next group gathers
//	screens    get the newest snapshot through an interface that must not block
//
// Time. What decides a result is counter time. The host's clock only says when to give an order (lamps, power) and stands in where a
// counter has no time of its own. A timed heat ends at go plus its length plus the track calls, in counter time; passes up to that time
// count however late their bytes arrive, because the end is settled only after the counter has said something later. So a simulated
// night gives the same results at any speed and on a loaded machine.
//
// The desk is the loop without goroutine, clock and disk; tests and replays drive it directly.
package control

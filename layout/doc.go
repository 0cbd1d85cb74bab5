// Package layout knows what a track is: any layout a club can build, piece by piece, with exact lanes and honest closing.
//
// A [Kit] says which pieces there are and how large, a [Plan] which of them are laid in which order; both are TOML files (see FILES.md and,
// for the calls of a course, GRAMMAR.md). [Resolve] puts them together into a [Track]: where every piece of every road lies, the
// way of every lane through it, how long a lap of each lane is, which lanes are one slot, and how the ends of each road meet. What is
// to be said about a plan comes as [Finding] values with stable codes, explained in [Meanings] and on the page FINDINGS.md.
//
// The path of a plan through the files of this package:
//
//	document.go            TOML with line numbers
//	kitread.go, planread.go, callread.go    files and calls to Kit, Plan, Call
//	resolve.go             the whole of it in one page
//	lay.go, items.go, bends.go, routed.go    calls to pieces, road by road
//	strands.go             pieces to lanes
//	beliefs.go             what can be checked at a call
//	banking.go             how far banked bends can be off
//	joins.go, budget.go    closing: exact, or within the play of the joints
//	follow.go, lap.go      lanes, slots, laps
//
// Words: a road carries two to eight neighbouring lanes; roads lie side by side, road 1 leftmost. A position counts lanes on one road
// from its left edge, a lane is numbered from the left across all roads at the timing line. A ring is a curve's radius class.
//
// Lengths are millimetres, angles degrees, positive to the left; radians only inside package curve. Nothing here has a clock,
// goroutine, file or randomness, and nothing panics, whatever the input.
package layout

// Package stints turns a folded night into what the statistics take: one stint for each driver on each lane in each heat.
//
// What is left out, and why:
//
//   - Heats that are not accepted, or void: their results may still change.
//   - Seats without a counted lap: nobody can tell a driver who did not start from a lane that did not work.
//   - Stints that do not count by a ruling.
//   - Lap 1 of each stint is a standing start. It stays the first of Stint.Laps, where every figure of pace leaves it out. Where it was
//     not timed (the car left before go, or the clock broke), the slowest lap of the stint stands in its place: it is not looked at
//     for pace and can never be a best lap.
//   - Laps that are not clean: with a track call in them (the car stood still in them and started anew), across a break of the
//     counter's clock, or shorter than the card's least lap. They count for the score, not for pace.
//   - A pass that was struck out leaves one lap where two would have been; laps given and taken have no time. Both change the score
//     only. So do penalties: the score is the result as the rule card made it, pace is how quick the car went.
//   - A car that was not seen for the last three laps of a heat stopped early ([analysis.Stint].Early): its score counts, its pace
//     is left out of lane effects, because whatever stopped it was often at work before.
//
// The three laps are our own rule: a spin costs one or two, a missed pass one.
package stints

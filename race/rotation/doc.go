// Package rotation draws who drives which lane in which heat.
//
// A draw is a table of heats by lanes. Each of n drivers drives each of the L
// usable lanes r times, nobody twice in a heat, in the fewest heats there can
// be: n*r when n >= L, else L*r with L-n lanes empty in each heat (König: a
// bipartite multigraph can be edge-coloured with as many colours as its
// largest degree). Statisticians know the table as a row-column design; with
// r = 1 and all pairs meeting equally often it is a Youden square.
//
// The search takes four steps, and each leaves the earlier ones untouched:
//
//  1. blocks: who meets whom (criterion [Opponents]);
//  2. order of the blocks over the evening ([Waiting], [Evening]);
//  3. lanes inside the heats, always possible for any blocks by König's
//     theorem ([Evening] again, [Moves]);
//  4. duty: who of those sitting out stands at which post ([Marshals]).
//
// [Make] draws, [Rolling] gives the familiar rotation along a fixed circle,
// [Redraw] re-plans the rest of an evening that has begun, [Grouped] splits a
// large field. Every draw carries its [Figures], the proven [Bounds] beside
// them and a proof in words.
//
// The package is pure: the same [Problem] with the same seed gives the same
// draw on every machine, as searches are limited by numbers of moves and all
// of their arithmetic is in integers. A context can only cut a search off, and
// then the best draw so far is returned with Cut set.
package rotation

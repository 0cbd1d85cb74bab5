// Package score turns what drivers drove into results: stints into totals,
// totals into places, places into points, points into a season.
//
// Everything that decides a place is an integer or an exact fraction. Distances
// driven are counted in parts: with a resolution of 100 a part is a hundredth of
// a lap and 24 laps and 52 hundredths are 2452 parts. What falls below a part is
// cut, never rounded, and cut once, where the part lap is made ([PartLap]).
//
// The order of the input never matters: drivers who cannot be told apart by the
// rule card share a place, and within a shared place rows are listed by driver
// id. Nothing here has a clock, a file or chance; a draw by lot takes its seed
// from the rule card.
//
// Words: a stint is one driver on one lane in one heat. A round is one result
// that counts towards a season, usually a night.
package score

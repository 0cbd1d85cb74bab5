// Package chart draws what the laps say: speed along a lap, lane effects with their intervals, pace through the evening. Each picture
// comes as SVG for paper and reports, and as lines of text for a terminal.
//
// A lane is told by its number first, then by shape and dash, by colour last: black on white paper loses nothing. The looks are those of
// the drawn layout. The same data give the same bytes; there is no clock and no chance here. What cannot be drawn (not a number) is left out.
package chart

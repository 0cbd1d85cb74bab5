// Package parts says which pieces a layout needs, what of them a club is short of, and in which order to lay them.
package parts

import (
	"fmt"
	"sort"

	"lanewright/layout"
)

// Line is one kind of piece of a parts list.
type Line struct {
	Piece  string `json:"piece"`           // as kits and stocks name it: "curve 60 ring 1"
	Needed int    `json:"needed"`          // on all roads together
	ByRoad []int  `json:"by_road"`         // road 1 first; the passes of a crossroads count where they lie
	Owned  int    `json:"owned"`           // -1 where nobody said
	Short  int    `json:"short,omitempty"` // how many are missing
}

// Need counts the pieces of a track by kind, in the order of the kit and, for pieces of no kit, by name. A crossroads is passed twice and
// counted once.
//
// What the club owns comes from the plan's stock, else from the kit's.
func Need(t layout.Track) []Line {
	at := map[string]int{}
	var lines []Line
	add := func(piece string) *Line {
		i, ok := at[piece]
		if !ok {
			i = len(lines)
			at[piece] = i
			lines = append(lines, Line{Piece: piece, ByRoad: make([]int, len(t.Roads)), Owned: -1})
		}
		return &lines[i]
	}
	crossroads := map[string]bool{}
	for r, road := range t.Roads {
		for i := range road.Pieces {
			pl := &road.Pieces[i]
			l := add(pl.Part)
			l.Needed++
			l.ByRoad[r]++
			crossroads[pl.Part] = pl.Kind == layout.KindCrossroads
		}
	}
	order := map[string]int{}
	owned := map[string]int{}
	for i, p := range t.Kit.Pieces {
		order[p.Name] = i + 1
		owned[p.Name] = p.Stock
	}
	for _, s := range t.Plan.Stock {
		owned[s.Piece] = s.Count
	}
	for i := range lines {
		l := &lines[i]
		if crossroads[l.Piece] {
			l.Needed = (l.Needed + 1) / 2
		}
		if n, ok := owned[l.Piece]; ok && n >= 0 {
			l.Owned = n
			l.Short = max(0, l.Needed-n)
		}
	}
	sort.Slice(lines, func(i, j int) bool {
		a, b := order[lines[i].Piece], order[lines[j].Piece]
		if a != b {
			return a != 0 && (b == 0 || a < b)
		}
		return lines[i].Piece < lines[j].Piece
	})
	return lines
}

// Check reports the pieces a club is short of.
func Check(t layout.Track) []layout.Finding {
	var out []layout.Finding
	for _, l := range Need(t) {
		if l.Short == 0 {
			continue
		}
		out = append(out, layout.Finding{Level: layout.Error, Code: layout.CodeStockShort, File: t.Plan.File, Amount: float64(l.Short), Unit: "pieces",
			Text: fmt.Sprintf("%d of %s are needed, %d in stock: %d short", l.Needed, l.Piece, l.Owned, l.Short),
			Way:  "borrow them, or ask what else would close the layout"})
	}
	return out
}

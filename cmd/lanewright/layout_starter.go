package main

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"lanewright/layout"
)

// starterPlan writes an oval of the kit's own pieces with a comment to each line.
func starterPlan(kit layout.Kit, kitName string) string {
	var b strings.Builder
	b.WriteString("# A layout, called out in driving order from the timing line round to it.\n")
	b.WriteString("# Check it with:  lanewright layout check FILE\n")
	fmt.Fprintf(&b, "name = \"My layout\"\nkit = %q        # a built-in kit, or the file of your own\n", kitName)
	if kit.Routed {
		b.WriteString("roads = 1\nlanes = 4          # 2 to 8\nlane_spacing = 100 # mm between lanes\n")
	} else {
		b.WriteString("roads = 1          # 2 for four lanes: two roads side by side, road 1 at the left\n")
	}
	b.WriteString("\n# One call a line. Calls may share a line, with commas between them; what follows # is a remark.\ncourse = [\n")
	for _, call := range starterCourse(kit) {
		fmt.Fprintf(&b, "  %q,\n", call)
	}
	b.WriteString("]\n\n[start]            # where the middle of road 1 begins, in mm, and its heading in degrees\nx = 1200\ny = 400\nheading = 0\n")
	b.WriteString("\n[[table]]          # one for each table: its corner and its size, in mm\nat = [0, 0]\nsize = [4876.8, 2438.4]\n")
	if !kit.Routed {
		b.WriteString("\n# What the club owns; `lanewright layout parts FILE` says what is short.\n# [stock]\n# \"straight full\" = 20\n")
	}
	return b.String()
}

// starterCourse is an oval: the timing piece and a straight, half a turn, as much straight back, half a turn.
func starterCourse(kit layout.Kit) []string {
	if kit.Routed {
		return []string{"timing 300 at 150", "straight 900", "left 180 radius 800", "straight 1200", "left 180 radius 800"}
	}
	var timing float64
	straights := map[string]float64{}
	for _, p := range kit.Pieces {
		switch {
		case p.Kind == layout.KindTiming && timing == 0:
			timing = p.LengthMM
		case p.Kind == layout.KindStraight && p.Word != "":
			straights[p.Word] = p.LengthMM
		}
	}
	course := []string{"timing", "straight", "left 180 ring 1", "straight"}
	course = append(course, fill(timing, straights)...)
	return append(course, "left 180 ring 1")
}

// fill makes up a length from the kit's straights, longest first; empty if they cannot: the check then says what is missing.
func fill(lengthMM float64, straights map[string]float64) []string {
	words := make([]string, 0, len(straights))
	for w := range straights {
		words = append(words, w)
	}
	slices.SortFunc(words, func(a, b string) int {
		if d := straights[b] - straights[a]; d != 0 {
			return int(math.Copysign(1, d))
		}
		return strings.Compare(a, b)
	})
	var calls []string
	for _, w := range words {
		for lengthMM-straights[w] > -1e-9 && straights[w] > 1 {
			calls = append(calls, w)
			lengthMM -= straights[w]
		}
	}
	return calls
}

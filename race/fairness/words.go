package fairness

import (
	"fmt"
	"math"
	"strconv"
	"strings"

	"lanewright/race/analysis"
)

// sentence puts the audit into one plain sentence.
func (r *Report) sentence(main *analysis.LaneFit) string {
	if main.LaneGroups > 1 {
		return fmt.Sprintf("Lanes cannot be compared: the drivers fall into %d groups that never shared a lane, so luck cannot be told from pace.", main.DriverGroups)
	}
	if len(main.Lanes) < 2 {
		return "Only one lane was driven, so no lane luck is possible."
	}
	var clauses []string
	least, most := 0.0, 0.0
	for _, row := range r.Rows {
		if row.LaneLuck != nil {
			least, most = math.Min(least, *row.LaneLuck), math.Max(most, *row.LaneLuck)
		}
	}
	switch {
	case r.Rotation.Complete:
		clauses = append(clauses, "everybody ran every lane equally often, so lanes favoured nobody")
	case most-least < 0.005:
		clauses = append(clauses, "lanes favoured nobody by as much as a hundredth of a lap")
	default:
		clauses = append(clauses, fmt.Sprintf("lanes cost at most %s and gave at most %s over the night", laps(-least), laps(most)))
	}
	adjusted := false
	for _, row := range r.Rows {
		adjusted = adjusted || row.Adjusted != nil
	}
	switch {
	case !adjusted:
	case len(r.OnLuck) == 0:
		clauses = append(clauses, "no place rests on luck of lanes or evening")
	case len(r.OnLuck) == 1:
		clauses = append(clauses, fmt.Sprintf("place %d rests on luck of lanes or evening", r.OnLuck[0]))
	default:
		clauses = append(clauses, "places "+list(r.OnLuck)+" rest on luck of lanes or evening")
	}
	if p := r.Rows[0].BestScore; p != nil {
		clauses = append(clauses, fmt.Sprintf("the winner is truly the best with a probability of %d %%", int(math.Floor(*p*100))))
	}
	s := strings.Join(clauses, "; ")
	return strings.ToUpper(s[:1]) + s[1:] + "."
}

func laps(x float64) string {
	if x == 0 {
		return "nothing"
	}
	s := strconv.FormatFloat(x, 'f', 2, 64)
	if s == "1.00" {
		return "1.00 lap"
	}
	return s + " laps"
}

func list(n []int) string {
	s := make([]string, len(n))
	for i, v := range n {
		s[i] = strconv.Itoa(v)
	}
	return strings.Join(s[:len(s)-1], ", ") + " and " + s[len(s)-1]
}

// Text returns the sentence and the table as plain text; what cannot be told is a
// dash.
func (r *Report) Text() string {
	var b strings.Builder
	b.WriteString(r.Sentence + "\n\n")
	head := []string{"place", "driver", "laps", "ahead", "lanes", "evening", "adjusted", "place", "right", "best"}
	rows := [][]string{head}
	for _, row := range r.Rows {
		place, again := "-", "-"
		if row.Place > 0 {
			place = strconv.Itoa(row.Place)
		}
		if row.AdjustedPlace > 0 {
			again = strconv.Itoa(row.AdjustedPlace)
		}
		rows = append(rows, []string{place, row.Driver, number(&row.Laps, 2, false), number(row.Ahead, 2, false), number(row.LaneLuck, 2, true),
			number(row.EveningLuck, 2, true), number(row.Adjusted, 2, false), again, chance(row.RightScore), chance(row.BestScore)})
	}
	align(&b, rows, 1)
	b.WriteString("\n")
	rows = [][]string{{"lane", "% of a lap", "95 % interval", "laps a stint", "alike", "length s", "bends s", "rest s"}}
	for _, l := range r.Lanes {
		interval := "-"
		if l.Percent.Low != nil {
			interval = number(l.Percent.Low, 2, true) + " to " + number(l.Percent.High, 2, true)
		}
		letters := l.Letters
		if letters == "" {
			letters = "-"
		}
		rows = append(rows, []string{strconv.Itoa(l.Lane), number(l.Percent.Value, 2, true), interval, number(l.LapsPerStint, 2, true), letters,
			number(l.Length, 3, true), number(l.Par, 3, true), number(l.Rest, 3, true)})
	}
	align(&b, rows, -1)
	return b.String()
}

// align writes rows in columns: text to the left, figures to the right.
func align(b *strings.Builder, rows [][]string, textColumn int) {
	width := make([]int, len(rows[0]))
	for _, row := range rows {
		for i, c := range row {
			width[i] = max(width[i], len([]rune(c)))
		}
	}
	for _, row := range rows {
		for i, c := range row {
			pad := strings.Repeat(" ", width[i]-len([]rune(c)))
			if i > 0 {
				b.WriteString("  ")
			}
			if i == textColumn {
				b.WriteString(c + pad)
			} else {
				b.WriteString(pad + c)
			}
		}
		b.WriteString("\n")
	}
}

func number(x *float64, digits int, plus bool) string {
	if x == nil {
		return "-"
	}
	s := strconv.FormatFloat(*x, 'f', digits, 64)
	if strings.Trim(s, "-0.") == "" {
		return strings.TrimPrefix(s, "-")
	}
	if plus && *x > 0 {
		s = "+" + s
	}
	return s
}

// chance writes a probability in per cent, never claiming certainty.
func chance(p *float64) string {
	switch {
	case p == nil:
		return "-"
	case *p < 0.01:
		return "<1 %"
	case *p > 0.99:
		return ">99 %"
	}
	return strconv.Itoa(int(math.Round(*p*100))) + " %"
}

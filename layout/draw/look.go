package draw

// Look is how one lane is drawn, so that it is told apart by colour, by dash and by shape.
type Look struct {
	Lane  int
	Name  string // of the colour
	Hex   string // "#RRGGBB"
	Shape string // beside the lane's number on screens
	ASCII byte   // where the shape cannot be shown
	// Dash lists strokes and gaps in units of the line's width; empty for a solid line.
	Dash []float64
	// Gap is the colour between the strokes, a pale one of the same hue.
	Gap string
}

// looks is the palette of Okabe and Ito (Color Universal Design, 2002/2008), in the order in which the first two, four
// and six lanes differ most under simulated colour blindness.
var looks = []Look{
	{1, "vermillion", "#D55E00", "■", '#', nil, ""},
	{2, "sky", "#56B4E9", "▲", '^', []float64{6, 3}, "#D5EEFA"},
	{3, "yellow", "#F0E442", "●", 'o', []float64{2, 2}, "#FBF7C9"},
	{4, "blue", "#0072B2", "◆", '*', []float64{9, 3, 2, 3}, "#99C7E0"},
	{5, "purple", "#CC79A7", "▼", 'v', []float64{12, 4}, "#F1DAE6"},
	{6, "white", "#FFFFFF", "□", '=', []float64{4, 2, 4, 6}, "#A8A8A8"},
	{7, "green", "#009E73", "△", 'A', []float64{9, 3, 2, 3, 2, 3}, "#99D8C7"},
	{8, "orange", "#E69F00", "○", '0', []float64{2, 5}, "#F8DFA6"},
}

// LaneLook gives the look of lane n, counted from 1; beyond 8 lanes they repeat.
func LaneLook(n int) Look {
	if n < 1 {
		n = 1
	}
	l := looks[(n-1)%len(looks)]
	l.Lane = n
	return l
}

package layout

import (
	"fmt"
	"math"

	"lanewright/layout/curve"
)

// ReadKit reads a kit file; name is what messages call the file. The error, if any, is a *BadFile.
func ReadKit(name string, data []byte) (Kit, error) {
	root, bad := parseDocument(name, data)
	if bad != nil {
		return Kit{}, &BadFile{name, []Finding{*bad}}
	}
	r := &reader{file: name}
	k := r.kit(root)
	if len(r.findings) > 0 {
		return Kit{}, &BadFile{name, r.findings}
	}
	return k, nil
}

func (r *reader) kit(root *table) Kit {
	k := Kit{
		File:      r.file,
		Name:      r.text(root, "name", ""),
		Routed:    r.flag(root, "routed"),
		SpacingMM: r.need(root, "lane_spacing", lengthMM),
		Lanes:     r.whole(root, "lanes", span{2, 8, "lanes"}, 2),
		Shape:     r.shape(root, curve.TwoArcs),
	}
	k.EdgeMM = r.num(root, "edge", lengthMM, 0)
	if !k.Routed || k.EdgeMM == 0 {
		k.RoadWidthMM = r.need(root, "road_width", lengthMM)
	} else if k.RoadWidthMM = r.num(root, "road_width", lengthMM, 0); k.RoadWidthMM > 0 {
		r.add(CodeTwice, root.vals["road_width"].line, "", "a routed kit has an edge or a road width, not both")
	} else {
		k.RoadWidthMM = float64(k.Lanes-1)*k.SpacingMM + 2*k.EdgeMM
	}
	for _, t := range r.each(root, "joint") {
		k.Joint.PlayMM = r.num(t, "play", playMM, 0)
		k.Joint.AngleDeg = r.num(t, "angle", playDeg, 0)
		k.Joint.HeightMM = r.num(t, "height", playMM, k.Joint.PlayMM)
		r.rest(t, "[joint]")
	}
	for _, t := range r.each(root, "limits") {
		k.Limits = Limits{
			GradePercent: r.num(t, "grade", percent, 0),
			RadiusMM:     r.num(t, "radius", anyMM, 0),
			ClearMM:      r.num(t, "clear", anyMM, 0),
			DeckMM:       r.num(t, "deck", anyMM, 0),
		}
		r.rest(t, "[limits]")
	}
	if w := float64(k.Lanes-1) * k.SpacingMM; w >= k.RoadWidthMM && k.RoadWidthMM > 0 {
		r.add(CodeKitShape, root.vals["road_width"].line, "check both against a ruler",
			"%d lanes %s mm apart need %s mm and do not fit on a road %s mm wide", k.Lanes, trim(k.SpacingMM), trim(w), trim(k.RoadWidthMM))
	}
	for _, f := range pieceTables {
		for _, t := range r.each(root, f.key) {
			p := Piece{Line: t.line, Kind: f.kind, Shape: k.Shape}
			f.read(r, t, &k, &p)
			r.piece(t, &k, &p)
			r.rest(t, "[["+f.key+"]]")
			k.Pieces = append(k.Pieces, p)
		}
	}
	r.rest(root, "a kit")
	if k.Name == "" {
		k.Name = r.file
	}
	if k.Routed && len(k.Pieces) > 0 {
		r.add(CodeKitShape, k.Pieces[0].Line, "drop the pieces, or drop routed = true", "a routed kit has no pieces: its plans state lengths, radii and angles")
	}
	seen := map[string]int{}
	for _, p := range k.Pieces {
		if first := seen[p.Name]; first > 0 {
			r.add(CodeTwice, p.Line, "give it another name, or remove one of them", "%s stands already on line %d", p.Name, first)
		}
		seen[p.Name] = p.Line
	}
	return k
}

// pieceTables lists the kinds of pieces a kit can hold, in the order in which they are read.
var pieceTables = []struct {
	key  string
	kind Kind
	read func(*reader, *table, *Kit, *Piece)
}{
	{"straight", KindStraight, func(r *reader, t *table, _ *Kit, p *Piece) {
		p.Word = r.word(t, "name")
		p.LengthMM = r.need(t, "length", lengthMM)
		p.Name = "straight " + p.Word
	}},
	{"ramp", KindStraight, func(r *reader, t *table, _ *Kit, p *Piece) {
		p.LengthMM = r.need(t, "length", lengthMM)
		p.RiseMM = r.need(t, "rise", lengthMM)
		p.Name = "ramp"
	}},
	{"curve", KindCurve, func(r *reader, t *table, _ *Kit, p *Piece) {
		p.Ring = r.ring(t)
		r.bend(t, p)
		p.Name = fmt.Sprintf("curve %s ring %d", trim(p.AngleDeg), p.Ring)
	}},
	{"hairpin", KindCurve, func(r *reader, t *table, _ *Kit, p *Piece) {
		p.Hairpin = true
		p.RadiusMM = r.need(t, "radius", lengthMM)
		p.AngleDeg = r.num(t, "angle", turnDeg, 180)
		p.BankDeg = r.num(t, "bank", span{0, 80, "degrees"}, 0)
		p.Name = "hairpin"
	}},
	{"crossing", KindCrossing, func(r *reader, t *table, k *Kit, p *Piece) {
		p.LengthMM = r.need(t, "length", lengthMM)
		p.Shape = r.shape(t, k.Shape)
		p.Name = "crossing"
		if k.Lanes == 2 {
			p.Crosses = [2]int{1, 2}
		}
		if lanes := r.nums(t, "lanes", span{1, 8, "lanes"}); lanes != nil {
			if len(lanes) != 2 || math.Abs(lanes[0]-lanes[1]) != 1 || max(lanes[0], lanes[1]) > float64(k.Lanes) || lanes[0] != math.Trunc(lanes[0]) {
				r.add(CodeLaneMissing, t.line, "write lanes = [1, 2]", "the lanes that cross must be two neighbours of the road's %d", k.Lanes)
				return
			}
			p.Crosses = [2]int{int(min(lanes[0], lanes[1])), int(max(lanes[0], lanes[1]))}
			p.Name = fmt.Sprintf("crossing lanes %d %d", p.Crosses[0], p.Crosses[1])
		}
	}},
	{"changer", KindChanger, readChanger},
	{"narrow_in", KindPinch, func(r *reader, t *table, k *Kit, p *Piece) {
		p.LengthMM = r.need(t, "length", lengthMM)
		p.Shape = r.shape(t, k.Shape)
		p.FromMM = r.num(t, "from", lengthMM, k.SpacingMM)
		p.ToMM = r.need(t, "to", lengthMM)
		p.Name = "narrow-in"
	}},
	{"narrow_out", KindPinch, func(r *reader, t *table, k *Kit, p *Piece) {
		p.LengthMM = r.need(t, "length", lengthMM)
		p.Shape = r.shape(t, k.Shape)
		p.FromMM = r.need(t, "from", lengthMM)
		p.ToMM = r.num(t, "to", lengthMM, k.SpacingMM)
		p.Name = "narrow-out"
	}},
	{"shift", KindPinch, func(r *reader, t *table, k *Kit, p *Piece) {
		p.LengthMM = r.need(t, "length", lengthMM)
		p.Shape = r.shape(t, k.Shape)
		p.ShiftMM = r.need(t, "by", lengthMM)
		p.Name = "shift"
	}},
	{"timing", KindTiming, func(r *reader, t *table, k *Kit, p *Piece) {
		p.LengthMM = r.need(t, "length", lengthMM)
		p.Name = "timing"
		p.Sensors = [][]float64{r.places(t, "at", k, p.LengthMM)}
	}},
	{"sensor", KindSensor, func(r *reader, t *table, k *Kit, p *Piece) {
		p.LengthMM = r.need(t, "length", lengthMM)
		p.Name = "sensor"
		p.Sensors = [][]float64{r.places(t, "at", k, p.LengthMM)}
	}},
	{"trap", KindSensor, func(r *reader, t *table, k *Kit, p *Piece) {
		p.LengthMM = r.need(t, "length", lengthMM)
		p.Name = "trap"
		p.Sensors = [][]float64{r.places(t, "first", k, p.LengthMM), r.places(t, "second", k, p.LengthMM)}
		for i := range min(len(p.Sensors[0]), len(p.Sensors[1])) {
			if p.Sensors[1][i] <= p.Sensors[0][i] {
				r.add(CodeTimingPlace, t.line, "", "the second line of a speed trap must lie after the first on every lane")
				break
			}
		}
	}},
	{"crossroads", KindCrossroads, func(r *reader, t *table, k *Kit, p *Piece) {
		p.LengthMM = r.num(t, "length", lengthMM, k.RoadWidthMM)
		p.Name = "crossroads"
	}},
}

func readChanger(r *reader, t *table, k *Kit, p *Piece) {
	p.Shape = r.shape(t, k.Shape)
	switch move := r.text(t, "move", ""); move {
	case "left":
		p.Move = MoveLeft
	case "right":
		p.Move = MoveRight
	case "both", "double":
		p.Move = MoveBoth
	default:
		r.add(CodeWrongType, t.line, `write move = "left", "right" or "both"`, "a changer must say to which side a car may move")
	}
	p.MeasuredMove = r.num(t, "measured_move", lengthMM, 0)
	if _, curved := t.vals["angle"]; !curved {
		p.LengthMM = r.need(t, "length", lengthMM)
		p.Name = "changer " + p.Move.String()
		return
	}
	p.Ring = r.ring(t)
	r.bend(t, p)
	turn := r.text(t, "turn", "")
	switch turn {
	case "left":
		p.Turn = 1
	case "right":
		p.Turn = -1
	default:
		r.add(CodeWrongType, t.line, `write turn = "left" or "right"`, "a curved changer must say which way it bends")
	}
	p.Name = fmt.Sprintf("changer %s in %s %s ring %d", p.Move, turn, trim(p.AngleDeg), p.Ring)
}

func (r *reader) shape(t *table, def curve.Shape) curve.Shape {
	name := shorten(r.text(t, "shape", ""))
	if name == "" {
		return def
	}
	s, err := curve.ParseShape(name)
	if err != nil {
		r.add(CodeWrongType, t.vals["shape"].line, "", "%s", oneLine(err.Error()))
	}
	return s
}

func (r *reader) ring(t *table) int {
	r.need(t, "ring", span{1, 50, "rings"})
	return r.whole(t, "ring", span{1, 50, "rings"}, 1)
}

func (r *reader) bend(t *table, p *Piece) {
	p.RadiusMM = r.need(t, "radius", lengthMM)
	p.AngleDeg = r.need(t, "angle", turnDeg)
	p.BankDeg = r.num(t, "bank", span{0, 80, "degrees"}, 0)
}

// word reads a name that calls use: one word of letters, digits and dashes that begins with a letter and is no word of the grammar.
func (r *reader) word(t *table, key string) string {
	w := r.text(t, key, "")
	if w == "" {
		r.add(CodeMissing, t.line, `for example name = "half"`, "the piece has no %s", key)
		return "unnamed"
	}
	if !isWord(w) || reserved[w] {
		r.add(CodeWrongType, t.vals[key].line, `use a plain word such as "half"`, "%q cannot be a piece's name: one word of small letters, digits and dashes that is no word of the calls", shorten(w))
	}
	return w
}

func isWord(w string) bool {
	for i, c := range w {
		letter := c >= 'a' && c <= 'z'
		if !letter && (i == 0 || (c != '-' && (c < '0' || c > '9'))) {
			return false
		}
	}
	return w != ""
}

// places reads where on its piece a sensor sits: one number for all lanes, or one a lane.
func (r *reader) places(t *table, key string, k *Kit, length float64) []float64 {
	if _, ok := t.vals[key]; !ok {
		r.need(t, key, lengthMM)
		return nil
	}
	at := r.nums(t, key, span{0, math.Max(length, 1), "mm"})
	if len(at) == 1 {
		for len(at) < k.Lanes {
			at = append(at, at[0])
		}
	}
	if at != nil && len(at) != k.Lanes {
		r.add(CodeTimingPlace, t.vals[key].line, "give one number for all lanes, or one a lane", "%s has %d places for %d lanes", key, len(at), k.Lanes)
	}
	return at
}

// piece reads what every piece can have, and checks that it can exist.
func (r *reader) piece(t *table, k *Kit, p *Piece) {
	if _, named := t.vals["name"]; named && p.Word == "" {
		switch {
		case p.Ring > 0 || p.Hairpin || p.Kind == KindSensor:
			r.text(t, "name", "")
			r.add(CodeWrongType, t.vals["name"].line, "leave name out", "a %s cannot have a name", p.Name)
		default:
			p.Word = r.word(t, "name")
			p.Name += " " + p.Word
		}
	}
	p.Stock = r.whole(t, "stock", pieceCount, -1)
	p.MeasuredMM = r.nums(t, "measured", lengthMM)
	if n := len(p.MeasuredMM); n > 0 && n != k.Lanes {
		r.add(CodeWrongType, t.vals["measured"].line, "", "measured has %d lengths for %d lanes", n, k.Lanes)
	}
	if p.RadiusMM > 0 && p.RadiusMM <= k.RoadWidthMM/2 {
		r.add(CodeKitShape, t.line, "radius is meant to the middle of the road", "radius %s mm is no more than half the road width of %s mm", trim(p.RadiusMM), trim(k.RoadWidthMM))
	}
	side := math.Abs(p.ShiftMM)
	switch p.Kind {
	case KindCrossing, KindChanger:
		side = k.SpacingMM
	case KindPinch:
		side = math.Max(side, math.Abs(p.FromMM-p.ToMM)*float64(k.Lanes-1)/2)
	}
	along := p.LengthMM
	if p.RadiusMM > 0 {
		along = p.RadiusMM * curve.Radians(p.AngleDeg)
	}
	if along > 0 && side > along {
		r.add(CodeKitShape, t.line, "", "a sideways move of %s mm does not fit into a length of %s mm", trim(side), trim(along))
	}
	if p.Kind == KindPinch && p.ShiftMM == 0 && p.FromMM == p.ToMM && p.FromMM > 0 {
		r.add(CodeKitShape, t.line, "", "%s starts and ends with the same spacing of %s mm", p.Name, trim(p.FromMM))
	}
	if w := float64(k.Lanes-1) * math.Max(p.FromMM, p.ToMM); w >= k.RoadWidthMM && w > 0 {
		r.add(CodeKitShape, t.line, "", "lanes %s mm apart do not fit on a road %s mm wide", trim(math.Max(p.FromMM, p.ToMM)), trim(k.RoadWidthMM))
	}
}

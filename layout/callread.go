package layout

import (
	"fmt"
	"math"
	"strings"
)

// callLongest bounds the text of one call in bytes.
const callLongest = 2000

// listMost bounds the pieces listed one by one in one item.
const listMost = 500

// ParseCall reads one line of a course; the grammar is on the page GRAMMAR.md. A call that cannot be understood carries its Trouble.
func ParseCall(text string) Call {
	if len(text) > callLongest {
		return Call{Text: shorten(text), Trouble: &Finding{Level: Error, Code: CodeCallUnclear, Amount: float64(len(text)), Unit: "bytes",
			Text: fmt.Sprintf("the call has %d letters; at most %d are read", len(text), callLongest), Way: "write it as several calls"}}
	}
	c := Call{Text: shorten(text)}
	p := &callParser{toks: split(text)}
	p.call(&c)
	if p.trouble != nil {
		c.Trouble, c.Sides, c.Beliefs = p.trouble, nil, nil
	}
	return c
}

type callParser struct {
	toks    []token
	trouble *Finding
}

// fail keeps the first trouble.
func (p *callParser) fail(code, way, format string, args ...any) {
	if p.trouble == nil {
		p.trouble = &Finding{Level: Error, Code: code, Text: fmt.Sprintf(format, args...), Way: way}
	}
	p.toks = nil // nothing more can be said about this call
}

func (p *callParser) peek() string {
	if len(p.toks) == 0 {
		return ""
	}
	return p.toks[0].text
}

func (p *callParser) next() token {
	if len(p.toks) == 0 {
		return token{}
	}
	t := p.toks[0]
	p.toks = p.toks[1:]
	return t
}

// take takes the next token if it is one of the given words.
func (p *callParser) take(words ...string) bool {
	for _, w := range words {
		if len(p.toks) > 0 && p.toks[0].text == w {
			p.toks = p.toks[1:]
			return true
		}
	}
	return false
}

func (p *callParser) atNumber() bool { return len(p.toks) > 0 && p.toks[0].isNum }

// foreign are units that are neither millimetres nor degrees.
var foreign = wordSet("cm m km dm metre metres meter meters inch inches ft foot feet yd yard yards rad radian radians percent grad um micron")

// number reads a positive number and its unit, if it is one of units; the first of units is the one taken for granted.
func (p *callParser) number(what string, units ...string) float64 {
	t := p.next()
	switch {
	case t.text == "-" || t.text == "+":
		value := p.next()
		p.fail(CodeOutOfRange, "", "%s is %s%s; numbers of a call are positive and have no sign", what, t.text, shorten(value.text))
		return 0
	case !t.isNum && t.text == "":
		p.fail(CodeCallUnclear, "", "%s is missing at the end of the call", what)
		return 0
	case !t.isNum:
		p.fail(CodeCallUnclear, "", "%s should stand where %q stands", what, shorten(t.text))
		return 0
	case !(t.num > 0):
		p.fail(CodeOutOfRange, "", "%s is %s, but must be more than 0", what, t.text)
		return 0
	case t.num > 1e5:
		p.fail(CodeOutOfRange, "", "%s is %s, but can be at most 100000", what, shorten(t.text))
		return 0
	}
	p.unit(what, t, units...)
	return t.num
}

// unit takes the unit behind a number, which must be one of units where there is one.
func (p *callParser) unit(what string, t token, units ...string) {
	if len(units) > 0 && p.take(units...) {
		return
	}
	unit := p.peek()
	if foreign[unit] || unit == "%" || unit == "\"" || unit == "'" || unit == "°" || unit == "mm" || unit == "deg" || unit == "degrees" {
		want := "a plain number"
		if len(units) > 0 {
			want = "in " + units[0]
		}
		p.fail(CodeWrongUnit, "", "%s is written as %s %s, but must be %s", what, t.text, unit, want)
	}
}

func (p *callParser) mm(what string) float64 { return p.number(what, "mm") }

func (p *callParser) micro(what string) int64 {
	x := p.number(what, "degrees", "deg", "degree", "°")
	m := micro(x)
	if p.trouble == nil && m == 0 {
		p.fail(CodeOutOfRange, "", "%s is too small", what)
	}
	return m
}

// micro turns degrees into millionths of a degree.
func micro(deg float64) int64 { return int64(math.Round(deg * 1e6)) }

func (p *callParser) count(what string, most int) int {
	x := p.number(what)
	if p.trouble == nil && (x != math.Trunc(x) || x > float64(most)) {
		p.fail(CodeOutOfRange, "", "%s is %s, but must be a whole number up to %d", what, trim(x), most)
	}
	return int(x)
}

// call = side { "|" side } [ "=" belief { "," belief } ]
func (p *callParser) call(c *Call) {
	for {
		c.Sides = append(c.Sides, p.side(c))
		if !p.take("|") {
			break
		}
	}
	if len(c.Sides) > 1 {
		for _, s := range c.Sides {
			if len(s.Roads) == 0 {
				p.fail(CodeCallUnclear, "for example road 1: straight | road 2: quarter 4", "a call with several lists must say for each which road it is for")
			}
		}
	}
	if p.take("=") {
		for {
			c.Beliefs = append(c.Beliefs, p.belief())
			if !p.take(",", "and") {
				break
			}
		}
	}
	if p.trouble == nil && len(p.toks) > 0 {
		p.fail(CodeCallUnclear, "see the page on calls", "%q is not understood here", shorten(p.peek()))
	}
}

// side = [ "road" n { "and" n } ":" ] item { "," item }
func (p *callParser) side(c *Call) Side {
	var s Side
	if p.take("road", "roads") {
		for {
			s.Roads = append(s.Roads, p.count("a road's number", 4))
			if !p.take("and", "+") {
				break
			}
		}
		if p.trouble == nil && !p.take(":") {
			p.fail(CodeCallUnclear, "for example road 1: straight | road 2: quarter 4", "the list of a road begins with a colon after its number")
		}
	}
	for {
		it := p.item(c)
		if it.Verb == VerbChicane {
			s.Items = append(s.Items, chicane(it)...)
		} else {
			s.Items = append(s.Items, it)
		}
		if !p.take(",") {
			return s
		}
	}
}

func (p *callParser) item(c *Call) Item {
	var it Item
	for _, way := range []struct {
		word string
		sign float64
	}{{"rise", 1}, {"fall", -1}} {
		if p.take(way.word) {
			it.RiseMM = way.sign * p.mm("the height of a "+way.word)
			if p.trouble == nil && !p.take("over") {
				p.fail(CodeCallUnclear, "for example rise 90 over left 270 ring 2", "after %s and its height comes the word over and the stretch", way.word)
			}
			break
		}
	}
	p.piece(&it)
	for p.trouble == nil && p.option(c, &it) {
	}
	if word := misplaced(&it); word != "" {
		p.fail(CodeCallUnclear, "leave it out", "%s has no meaning with this piece", word)
	}
	return it
}

// chicane takes a chicane apart: lanes come together, run on over the straights named, and spread again. Where the call gives a length
// and a spacing, as on routed tracks, each of the three takes a third of it.
func chicane(it Item) []Item {
	in := Item{Verb: VerbNarrowIn, Road: it.Road}
	out := Item{Verb: VerbNarrowOut, Road: it.Road}
	if it.ToMM != 0 {
		third := it.Number / 3
		in.Number, in.ToMM, out.Number = third, it.ToMM, third
		return []Item{in, {Verb: VerbStraight, Number: third, Road: it.Road}, out}
	}
	if it.Word == "" && it.Number == 0 {
		return []Item{in, out}
	}
	return []Item{in, {Verb: VerbStraight, Word: it.Word, Number: it.Number, UnitMM: it.UnitMM, Road: it.Road}, out}
}

// misplaced names an option that says nothing about its piece, empty where all do.
func misplaced(it *Item) string {
	bend := it.Verb == VerbBend || it.Verb == VerbHairpin
	narrow := it.Verb == VerbNarrowIn || it.Verb == VerbNarrowOut || it.Verb == VerbChicane
	switch {
	case it.RiseMM != 0 && it.Verb == VerbChicane:
		return "a rise"
	case it.Ring != 0 && it.Verb != VerbBend:
		return "ring"
	case it.Radius != 0 && !bend:
		return "radius"
	case it.AtMM != nil && it.Verb != VerbTiming && it.Verb != VerbSensor && it.Verb != VerbTrap:
		return "at"
	case it.Lanes[0] != 0 && it.Verb != VerbCrossing && it.Move == MoveNone:
		return "lanes"
	case it.ToMM != 0 && !narrow && it.Verb != VerbShift:
		return "to"
	}
	return ""
}

func (p *callParser) piece(it *Item) {
	t := p.next()
	switch t.text {
	case "straight":
		it.Verb = VerbStraight
		p.named(it)
		p.amount(it, "the number of straights")
	case "left", "right":
		it.Verb, it.Turn = VerbBend, side(t.text)
		p.angles(it)
	case "hairpin":
		it.Verb, it.Turn = VerbHairpin, p.leftRight("a hairpin")
	case "crossing":
		it.Verb = VerbCrossing
		p.named(it)
		p.amount(it, "the length of the crossing")
	case "changer":
		it.Verb, it.Move = VerbChanger, p.move()
		if p.take("in") {
			it.Turn = p.leftRight("a changer in a bend")
			it.Verb = VerbBend
			p.angles(it)
			return
		}
		p.named(it)
		p.amount(it, "the length of the changer")
	case "narrow", "narrow-in", "narrow-out":
		it.Verb = VerbNarrowIn
		if t.text == "narrow-out" || (t.text == "narrow" && p.take("out")) {
			it.Verb = VerbNarrowOut
		} else if t.text == "narrow" && !p.take("in") {
			p.fail(CodeCallUnclear, "write narrow-in or narrow-out", "narrow must say in or out")
		}
		p.named(it)
		p.amount(it, "the length of the narrow piece")
	case "chicane":
		it.Verb = VerbChicane
		p.named(it)
		p.amount(it, "the straights of a chicane")
	case "shift":
		it.Verb, it.Turn = VerbShift, p.leftRight("a shift")
		p.named(it)
		p.amount(it, "the length of the shift")
	case "timing":
		it.Verb = VerbTiming
		p.named(it)
		p.amount(it, "the length of the timing piece")
	case "sensor", "trap":
		it.Verb = VerbSensor
		if t.text == "trap" {
			it.Verb = VerbTrap
		}
		p.named(it)
		p.amount(it, "the length of the "+t.text)
	case "crossroads":
		it.Verb = VerbCrossroads
		p.named(it)
		p.amount(it, "the length of the crossroads")
	case "ramp":
		it.Verb, it.Turn = VerbRamp, 1
		if p.take("down") {
			it.Turn = -1
		} else if !p.take("up") {
			p.fail(CodeCallUnclear, "write ramp up or ramp down", "a ramp must say up or down")
		}
		p.named(it)
		p.amount(it, "the number of ramps")
	case "":
		p.fail(CodeCallUnclear, "", "the call ends where a piece should stand")
	default:
		if !isWord(t.text) || reserved[t.text] {
			p.fail(CodeCallUnclear, "a call begins with a piece, for example straight 3 or left 120 ring 1", "%q is no piece", shorten(t.text))
			return
		}
		it.Verb, it.Word = VerbStraight, t.text
		p.amount(it, "the number of pieces")
	}
}

// named takes the name that may follow the kind of a piece: of a straight, of one of several crossings, of a sensor.
func (p *callParser) named(it *Item) {
	if w := p.peek(); isWord(w) && !reserved[w] {
		it.Word = p.next().text
	}
}

// amount takes the number that may follow a piece: a count, or on a routed track a length, with or without mm.
func (p *callParser) amount(it *Item, what string) {
	if sign := p.peek(); !p.atNumber() && sign != "-" && sign != "+" {
		return
	}
	before := len(p.toks)
	it.Number = p.number(what, "mm")
	it.UnitMM = p.trouble == nil && before-len(p.toks) == 2
}

func side(word string) int {
	if word == "left" {
		return 1
	}
	return -1
}

func (p *callParser) leftRight(what string) int {
	t := p.next()
	if t.text != "left" && t.text != "right" {
		p.fail(CodeCallUnclear, "", "%s must say left or right", what)
	}
	return side(t.text)
}

func (p *callParser) move() Move {
	switch p.next().text {
	case "left":
		return MoveLeft
	case "right":
		return MoveRight
	case "both", "double":
		return MoveBoth
	}
	p.fail(CodeCallUnclear, "for example changer left", "a changer must say left, right or both")
	return MoveNone
}

// angles = angle | [n "x"] angle { "+" [n "x"] angle }
//
// A lone angle is the whole turn and leaves the pieces to the engine; with x or + the pieces are those listed.
func (p *callParser) angles(it *Item) {
	const what = "the angle of a bend"
	listed := false
	for p.trouble == nil {
		n := 1
		if len(p.toks) > 1 && p.atNumber() && (p.toks[1].text == "x" || p.toks[1].text == "*") {
			n = p.count("how many pieces", listMost)
			p.take("x", "*")
			listed = true
		}
		m := p.micro(what)
		if len(it.Pieces)+n > listMost {
			p.fail(CodeTooManyPieces, "write it as several calls", "a bend lists more than %d pieces", listMost)
			return
		}
		for range n {
			it.Pieces = append(it.Pieces, m)
			it.Micro += m
		}
		if !p.take("+") {
			break
		}
		listed = true
	}
	if !listed {
		it.Pieces = nil
	}
}

// option reads what may follow a piece; false where nothing of that kind follows.
func (p *callParser) option(c *Call, it *Item) bool {
	switch {
	case p.take("ring"):
		it.Ring = p.count("the ring", 50)
	case p.take("radius"):
		it.Radius = p.mm("the radius")
	case p.take("road"):
		it.Road = p.count("a road's number", 4)
	case p.take("lanes", "lane"):
		it.Lanes[0] = p.count("a lane's number", 8)
		p.take("and", "-")
		it.Lanes[1] = p.count("a lane's number", 8)
	case p.take("at"):
		for p.atNumber() && len(it.AtMM) < 8 {
			it.AtMM = append(it.AtMM, p.mm("the place of a sensor"))
		}
		if len(it.AtMM) == 0 {
			p.fail(CodeCallUnclear, "for example timing at 90", "after at comes the sensor's distance from the start of its piece")
		}
	case p.take("to", "by"):
		it.ToMM = p.mm("the distance")
	case p.take("rise"):
		it.RiseMM = p.mm("the height of a rise")
	case p.take("fall"):
		it.RiseMM = -p.mm("the height of a fall")
	case p.take("with"):
	case p.take("changer"):
		if it.Verb != VerbBend {
			p.fail(CodeCallUnclear, "", "only a bend can be followed by a changer")
			return false
		}
		it.Move = p.move()
	case p.take("bridge"):
		c.Bridge = true
	case p.take("apart"):
		c.Apart = true
	default:
		return false
	}
	return p.trouble == nil
}

// belief = [ "left" | "right" ] number { "+" number } [ "pieces" | "deg" | "mm" ]
func (p *callParser) belief() Belief {
	var b Belief
	turn := 0
	if p.take("left") {
		turn = 1
	} else if p.take("right") {
		turn = -1
	}
	var nums []float64
	for {
		t := p.next()
		if !t.isNum || t.num > 1e5 {
			p.fail(CodeCallUnclear, "for example = 2+4 pieces, or = left 120", "after = comes what you believe of the call")
			return b
		}
		nums = append(nums, t.num)
		if !p.take("+") || len(nums) > 8 {
			break
		}
	}
	switch {
	case turn == 0 && p.take("pieces", "piece"):
		for _, x := range nums {
			b.Pieces = append(b.Pieces, int(x))
		}
		return b
	case turn == 0 && len(nums) == 1 && p.take("mm"):
		b.LengthMM = nums[0]
		return b
	}
	if foreign[p.peek()] || strings.ContainsAny(p.peek(), "%'\"") {
		p.fail(CodeWrongUnit, "say pieces, degrees or mm", "%q is no unit for what you believe of a call", shorten(p.peek()))
		return b
	}
	p.take("deg", "degrees", "degree", "°")
	if len(nums) != 1 {
		p.fail(CodeCallUnclear, "for example = 2+4 pieces", "numbers joined by + are pieces by road and end with the word pieces")
		return b
	}
	b.HasAngle, b.Signed, b.AngleMicro = true, turn != 0, micro(nums[0])
	if turn != 0 {
		b.AngleMicro *= int64(turn)
	}
	return b
}

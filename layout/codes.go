package layout

// The codes of findings. They are stable: programs may test for them. Each is explained in the table below.
const (
	CodeNotTOML      = "not-toml"
	CodeTooLarge     = "too-large"
	CodeUnknownKey   = "unknown-key"
	CodeWrongType    = "wrong-type"
	CodeWrongUnit    = "wrong-unit"
	CodeOutOfRange   = "out-of-range"
	CodeMissing      = "missing"
	CodeTwice        = "twice"
	CodeUnknownKit   = "unknown-kit"
	CodeRingStep     = "ring-step"
	CodeKitShape     = "kit-shape"
	CodeUnknownStock = "unknown-stock"

	CodeNoCalls       = "no-calls"
	CodeTooManyCalls  = "too-many-calls"
	CodeTooManyPieces = "too-many-pieces"
	CodeCallUnclear   = "call-unclear"
	CodePieceMissing  = "piece-missing"
	CodeRingMissing   = "ring-missing"
	CodeAngleMissing  = "angle-missing"
	CodeLengthMissing = "length-missing"
	CodeRoadMissing   = "road-missing"
	CodeRoadTwice     = "road-twice"
	CodeLaneMissing   = "lane-missing"
	CodeRadiusSmall   = "radius-small"
	CodeGradeHigh     = "grade-high"
	CodeSpacing       = "spacing-differs"
	CodeBendDisagrees = "bend-disagrees"
	CodeRoadsPart     = "roads-part"
	CodeBelief        = "belief-wrong"

	CodeTimingMissing = "timing-missing"
	CodeTimingTwice   = "timing-twice"
	CodeTimingPlace   = "timing-place"
	CodeCrossroads    = "crossroads-unpaired"
	CodeLanesJoined   = "lanes-joined"
	CodeRoadsJoined   = "roads-run-together"
	CodeOpen          = "does-not-close"
	CodeOpenHeight    = "height-open"
	CodeOpenSpacing   = "spacing-open"
	CodeForced        = "closes-with-play"
	CodeUnproved      = "closes-unproved"
	CodeBanked        = "banked-unmeasured"
	CodeSelfCheck     = "self-check"
	CodeStockShort    = "stock-short" // given by the package parts
)

// Meaning explains one code.
type Meaning struct {
	Code  string
	Input bool // the file is wrong, as opposed to the layout
	Text  string
}

// Meanings explains every code this package gives, in the order of a plan's way through it.
var Meanings = []Meaning{
	{CodeNotTOML, true, "the file is not TOML"},
	{CodeTooLarge, true, "the file is larger than is read"},
	{CodeUnknownKey, true, "a key that plans or kits do not have"},
	{CodeWrongType, true, "a value of the wrong kind, such as a text where a number belongs"},
	{CodeWrongUnit, true, "a number with a unit other than millimetres or degrees"},
	{CodeOutOfRange, true, "a number outside what can be meant"},
	{CodeMissing, true, "a value that must be there is not"},
	{CodeTwice, true, "a piece or a stock line stands twice"},
	{CodeUnknownKit, true, "neither a built-in kit nor a file"},
	{CodeRingStep, false, "rings of a kit do not lie one road width apart, so that roads laid side by side part in bends"},
	{CodeKitShape, true, "a piece that cannot exist: a curve within half a road width of its own centre, a sideways move steeper than 45 degrees"},
	{CodeUnknownStock, true, "a stock line names a piece that the kit lacks"},
	{CodeNoCalls, true, "the course is empty"},
	{CodeTooManyCalls, true, "more calls than are read"},
	{CodeTooManyPieces, true, "more pieces than are laid"},
	{CodeCallUnclear, true, "a call that cannot be understood"},
	{CodePieceMissing, true, "a piece that the kit lacks"},
	{CodeRingMissing, true, "a ring that the kit lacks, of the road called or of the road beside it"},
	{CodeAngleMissing, true, "an angle that the pieces of a ring cannot make up"},
	{CodeLengthMissing, true, "a length that the straights of the kit cannot make up, needed beside another road's piece"},
	{CodeRoadMissing, true, "a road number that the plan does not have, or a road that a call leaves out"},
	{CodeRoadTwice, true, "a call lists a road twice"},
	{CodeLaneMissing, true, "a lane number that the road does not have, or lanes that are not neighbours"},
	{CodeRadiusSmall, false, "a lane turns tighter than the kit allows, or not at all"},
	{CodeGradeHigh, false, "a lane climbs or falls more steeply than the kit allows"},
	{CodeSpacing, false, "a piece starts with another lane spacing than the piece before it ends with"},
	{CodeBendDisagrees, false, "roads side by side turn by different angles in one call"},
	{CodeRoadsPart, false, "roads side by side lie further apart, closer, or shifted along after a call"},
	{CodeBelief, false, "what the builder stated in a call is not so"},
	{CodeTimingMissing, true, "a road without a timing piece"},
	{CodeTimingTwice, true, "a road with two timing pieces"},
	{CodeTimingPlace, true, "a sensor that is not on its piece, or whose places do not match the lanes"},
	{CodeCrossroads, false, "a crossroads that is passed once, or whose passes do not lie square across each other"},
	{CodeLanesJoined, false, "lanes that run into each other: one slot of several laps"},
	{CodeRoadsJoined, false, "roads that run into each other"},
	{CodeOpen, false, "a road that does not close in plan, with gap, direction and angle"},
	{CodeOpenHeight, false, "a road that closes in plan but not in height"},
	{CodeOpenSpacing, false, "a road that closes in plan but not in lane spacing, or not in the lanes' place across the road"},
	{CodeForced, false, "a road that does not close exactly but within the play of its joints"},
	{CodeUnproved, false, "a road that closes to within rounding, where exact arithmetic cannot prove it"},
	{CodeStockShort, false, "more of a piece is needed than the club owns"},
	{CodeBanked, false, "banked pieces without measured lanes, with the most by which a lane can differ from its length as computed on the flat"},
	{CodeSelfCheck, false, "lane lengths break the parallel-curve theorem: a mistake of this program, please report it"},
}

// BadInput reports whether a code says that a file is wrong, as opposed to the layout it describes.
func BadInput(code string) bool {
	for _, m := range Meanings {
		if m.Code == code {
			return m.Input
		}
	}
	return false
}

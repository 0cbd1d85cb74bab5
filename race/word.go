package race

import "time"

// word is the newest thing known of a counter's clock and running numbers, written as a pass.
type word struct {
	said    bool
	pass    Pass
	stepped time.Duration // how far the wall clock has jumped since
	top     int           // highest clock segment
}

// heardOf notes the newest word of a source.
func (n *Night) heardOf(source int, p Pass) {
	w := &n.lastWord[source-1]
	w.said, w.pass, w.stepped, w.top = true, p, 0, max(w.top, p.Segment)
}

// powerHeard notes what an acknowledgement tells of clock and numbers.
func (n *Night) powerHeard(source int, e PowerNoted) {
	n.lastWord[source-1].top = max(n.lastWord[source-1].top, e.Segment)
	if e.Boot != 0 {
		n.heardOf(source, Pass{Source: e.Source, Segment: e.Segment, At: e.At, Ticks: e.Ticks, Serial: e.Number, Boot: e.Boot, Heard: e.Wall})
	}
}

// clockStepped notes that the wall clock has jumped: what was heard before lies further away, or closer, than its wall time tells.
func (n *Night) clockStepped(source int, by time.Duration) { n.lastWord[source-1].stepped += by }

// LastWord returns the newest word of a source as a pass (where it was no pass, lane and car are 0 and Serial is the number of the newest
// pass before), how far the wall clock has jumped since, and the highest number of its clock's segments. ok is false, and only segment
// means something, before there was one by which the counter can be asked for what came after.
func (n *Night) LastWord(source string) (p Pass, stepped time.Duration, segment int, ok bool) {
	for i, c := range n.counters {
		if c.Name == source {
			w := &n.lastWord[i]
			return w.pass, w.stepped, w.top, w.said
		}
	}
	return Pass{}, 0, 0, false
}

package describe

import (
	"slices"
	"strings"

	"lanewright/timing/wire"
)

// Match is how well one description explains a capture.
type Match struct {
	Name    string       `json:"name"` // of the description, or OurOwn
	Format  *Description `json:"-"`    // nil for our own sentences
	Frames  int          `json:"frames"`
	Covered float64      `json:"covered"` // part of the bytes that are in good lines or frames, line ends included
	Sure    float64      `json:"sure"`    // 0 to 1
	Why     string       `json:"why"`
}

// OurOwn is the name under which the sentences of timing/wire are guessed.
const OurOwn = "our own sentences"

// framesMin is how many good frames are needed to be sure at all.
const framesMin = 3

// Guess tells how well our own sentences and each of the descriptions explain the bytes
// of a capture, the best first. It does what a person would do: read the
// bytes in every way and see which way leaves the least over. A way of reading without
// check digits is believed less, as noise passes it more easily.
func Guess(capture []byte, known []*Description) []Match {
	all := []Match{ours(capture)}
	for _, d := range known {
		all = append(all, d.guess(capture))
	}
	slices.SortStableFunc(all, func(a, b Match) int {
		switch {
		case a.Sure != b.Sure:
			if a.Sure > b.Sure {
				return -1
			}
			return 1
		case a.Covered != b.Covered:
			if a.Covered > b.Covered {
				return -1
			}
			return 1
		}
		return strings.Compare(a.Name, b.Name)
	})
	// Two ways that explain the bytes about equally well make either doubtful.
	if len(all) > 1 && all[1].Sure > 0 {
		rival := all[1].Sure
		all[0].Sure = all[0].Sure * (1 - rival/2)
		if all[0].Sure < rival {
			all[0].Sure = rival
		}
		all[0].Why += "; " + all[1].Name + " is possible too"
	}
	return all
}

func ours(capture []byte) Match {
	g := Match{Name: OurOwn}
	var d wire.Decoder
	var s wire.Sentence
	good, bytes := 0, 0
	for p := capture; len(p) > 0; {
		n, ok := d.Decode(p, &s)
		p = p[n:]
		if ok && s.Kind != wire.Damaged && s.Kind != wire.Foreign {
			good++
			bytes += s.Bytes + 2
		}
	}
	g.judge(good, bytes, len(capture), 1)
	return g
}

func (d *Description) guess(capture []byte) Match {
	g := Match{Name: d.Name, Format: d}
	good, bytes := 0, 0
	dec := d.Decoder()
	dec.Feed(capture, func(ev *Event) {
		if ev.Damaged {
			return
		}
		good++
		bytes += ev.Bytes
		if d.Kind == "text" || d.Kind == "fields" {
			bytes += ends(capture, int(ev.Offset)+ev.Bytes)
		}
	})
	trust := 0.9
	switch d.Kind {
	case "fields":
		if d.Fields.Check != "" {
			trust = 1
		}
	case "frame":
		if d.Frame.Check != nil {
			trust = 1
		} else {
			trust = 0.7
		}
	case "bits":
		// Every sample is a sample. What tells noise from gates is that bits which
		// belong to no lane stay as they are, and that one gate at a time changes.
		g.samples(d, capture, good)
		return g
	}
	g.judge(good, bytes, len(capture), trust)
	return g
}

// ends counts the bytes of a line end at i.
func ends(b []byte, i int) (n int) {
	for n < 2 && i+n < len(b) && (b[i+n] == '\r' || b[i+n] == '\n') {
		n++
	}
	return n
}

func (g *Match) judge(good, bytes, total int, trust float64) {
	g.Frames = good
	if total > 0 {
		g.Covered = min(1, float64(bytes)/float64(total))
	}
	switch {
	case good == 0:
		g.Why = "nothing in it can be read in this way"
	case good < framesMin:
		g.Sure = trust * g.Covered * 0.3
		g.Why = "too few lines to be sure"
	default:
		g.Sure = trust * g.Covered * many(good)
		g.Why = "lines read and bytes left over"
	}
}

// many is how far a number of frames convinces: 3 by three quarters, 24 almost.
func many(n int) float64 { return float64(n) / float64(n+1) }

func (g *Match) samples(d *Description, capture []byte, good int) {
	c := d.Bits
	var mine uint64
	for _, b := range c.Lanes {
		mine |= 1 << b
	}
	g.Frames = good
	n := len(capture) / c.Bytes
	if n < 2*framesMin || good < framesMin {
		g.Why = "too few samples to be sure"
		return
	}
	quiet, single := 0, 0
	var last uint64
	for i := range n {
		var v uint64
		for k := range c.Bytes {
			v |= uint64(capture[i*c.Bytes+k]) << (8 * k)
		}
		if i > 0 {
			changed := v ^ last
			if changed&^mine == 0 {
				quiet++
			}
			if changed != 0 && changed&(changed-1) == 0 {
				single++
			}
		}
		last = v
	}
	g.Covered = float64(quiet) / float64(n-1)
	g.Sure = 0.6 * g.Covered * float64(single) / float64(n-1) * many(good)
	g.Why = "samples in which one gate changes and nothing else"
	if g.Covered < 0.95 { // text and other bytes change all bits
		g.Sure, g.Why = 0, "bits that belong to no lane change"
	}
}

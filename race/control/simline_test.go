package control

import (
	"bytes"
	"math/rand/v2"
	"time"
)

// simLine is the cable between the counter and the computer, one direction of it: what goes in comes out later, damaged at times.
type simLine struct {
	rnd   *rand.Rand
	delay time.Duration // of every sentence at least
	batch time.Duration // the chip gives what it has only so often; 0 at once
	noise float64       // how many sentences are damaged
	queue []simChunk
	hurt  map[string]int // damages done, by kind
}

// simChunk comes out in one piece.
type simChunk struct {
	due time.Time
	b   []byte
}

// put sends sentences.
func (l *simLine) put(now time.Time, sentences [][]byte) {
	for _, s := range sentences {
		if l.rnd.Float64() < l.noise {
			l.damage(now, s)
			continue
		}
		l.send(now, s, 0)
	}
}

func (l *simLine) send(now time.Time, b []byte, late time.Duration) {
	due := now.Add(l.delay + late + time.Duration(l.rnd.Int64N(int64(time.Millisecond))))
	if l.batch > 0 {
		due = due.Truncate(l.batch).Add(l.batch)
	}
	if n := len(l.queue); n > 0 && !due.After(l.queue[n-1].due) {
		l.queue[n-1].b = append(l.queue[n-1].b, b...) // bytes do not overtake each other
		return
	}
	l.queue = append(l.queue, simChunk{due, append([]byte(nil), b...)})
}

// damage sends a sentence that does not come through whole.
func (l *simLine) damage(now time.Time, s []byte) {
	kind := [...]string{"dropped", "flipped", "inserted", "duplicated", "cut", "split"}[l.rnd.IntN(6)]
	l.hurt[kind]++
	b := bytes.Clone(s)
	switch kind {
	case "dropped":
		return
	case "flipped":
		b[l.rnd.IntN(len(b))] ^= 1 << l.rnd.IntN(8)
	case "inserted":
		junk := make([]byte, 1+l.rnd.IntN(20))
		for i := range junk {
			junk[i] = byte(l.rnd.Uint32())
		}
		at := l.rnd.IntN(len(b) + 1)
		b = append(b[:at:at], append(junk, b[at:]...)...)
	case "duplicated":
		b = append(b, s...)
	case "cut":
		from := l.rnd.IntN(len(b))
		b = append(b[:from:from], b[from+1+l.rnd.IntN(len(b)-from):]...)
	case "split":
		at := 1 + l.rnd.IntN(len(b)-1)
		l.send(now, b[:at], 0)
		l.send(now, b[at:], time.Duration(l.rnd.Int64N(int64(120*time.Millisecond))))
		return
	}
	l.send(now, b, 0)
}

// take returns what has come out by now.
func (l *simLine) take(now time.Time) [][]byte {
	var out [][]byte
	for len(l.queue) > 0 && !l.queue[0].due.After(now) {
		out = append(out, l.queue[0].b)
		l.queue = l.queue[1:]
	}
	return out
}

// next is when something will come out.
func (l *simLine) next() (time.Time, bool) {
	if len(l.queue) == 0 {
		return time.Time{}, false
	}
	return l.queue[0].due, true
}

// tear pulls the plug: what was under way is gone but for a piece of it.
func (l *simLine) tear() []byte {
	var piece []byte
	if len(l.queue) > 0 {
		piece = l.queue[0].b[:l.rnd.IntN(len(l.queue[0].b)+1)]
	}
	l.queue = nil
	return piece
}

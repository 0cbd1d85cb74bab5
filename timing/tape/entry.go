// Package tape is the capture file: everything that came over a line with the time
// of its receipt, and what the director did, as JSON Lines that a person can
// read and a program can play again. It is a second record of a night,
// independent of the journal: results can be worked out from it alone.
//
// The file is only ever appended to. Each line is one object with the member t,
// seconds since the start that the line before with the member tape tells:
//
//	{"t":0,"tape":1,"start":"2026-03-14T19:30:00.25Z"}
//	{"t":0.01,"src":"counter","port":"silent","why":"/dev/ttyUSB0"}
//	{"t":0.0213,"src":"counter","sent":"244C57514350..."}
//	{"t":0.0247,"src":"counter","hex":"244C57434150..."}
//	{"t":12.5,"do":"go","args":{"heat":1}}
//
// hex is what was heard, sent what was said to the counter, port a change of the
// line's state, do an action of the director, step by how many seconds the wall
// clock was seen to jump against t: it was set, or the computer slept. src may be
// missing where there is one source. Members that a reader does not know are no error. A line
// that holds t and no more says that the program was alive then and did what
// was due. Every run of the program begins with a line of its own with tape and start.
package tape

import (
	"bytes"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"math"
	"strconv"
	"strings"
	"time"
)

// Version is the format that is written and the highest that is read.
const Version = 1

// Entry is one line of a tape. One of Start, Heard, Sent, Port, Do and Step says what it
// is; if none does, it tells only that time went on.
type Entry struct {
	T      time.Duration // since the start of the run
	At     time.Time     // the same, on the calendar; from the Unix epoch if the tape tells no start
	Source string

	Start  bool // first line of a run; At is its start
	Heard  []byte
	Sent   []byte
	Port   string // a state as timing.State prints it
	Detail string // why, for Port
	Do     string
	Args   json.RawMessage // for Do; may be missing
	Step   time.Duration   // jump of the wall clock; T goes on without it, and so does At
}

// ErrLine is wrapped by every error about the text of a tape.
var ErrLine = errors.New("not a line of a tape")

// line is an Entry as JSON.
type line struct {
	T     json.Number     `json:"t"`
	Tape  *int            `json:"tape,omitempty"`
	Start string          `json:"start,omitempty"`
	Src   string          `json:"src,omitempty"`
	Hex   *string         `json:"hex,omitempty"`
	Sent  *string         `json:"sent,omitempty"`
	Port  string          `json:"port,omitempty"`
	Why   string          `json:"why,omitempty"`
	Do    string          `json:"do,omitempty"`
	Args  json.RawMessage `json:"args,omitempty"`
	Step  json.Number     `json:"step,omitempty"`
}

// Append appends e as a line with its newline. The times of a Start are those of
// At; of all others T counts. It fails only if Args is no JSON.
func Append(dst []byte, e *Entry) ([]byte, error) {
	l := line{T: json.Number(Seconds(e.T)), Src: e.Source, Port: e.Port, Why: e.Detail, Do: e.Do, Args: e.Args}
	switch {
	case e.Start:
		v := Version
		l.T, l.Tape, l.Start = "0", &v, e.At.UTC().Format(time.RFC3339Nano)
	case e.Heard != nil:
		h := strings.ToUpper(hex.EncodeToString(e.Heard))
		l.Hex = &h
	case e.Sent != nil:
		h := strings.ToUpper(hex.EncodeToString(e.Sent))
		l.Sent = &h
	}
	if e.Step != 0 {
		l.Step = json.Number(Seconds(e.Step))
	}
	text, err := json.Marshal(l)
	if err != nil {
		return dst, fmt.Errorf("tape: %w", err)
	}
	return append(append(dst, text...), '\n'), nil
}

// parse reads one line, start being that of the run.
func parse(text []byte, start time.Time) (Entry, error) {
	var l line
	if err := json.Unmarshal(text, &l); err != nil {
		return Entry{}, fmt.Errorf("%w: %w", ErrLine, err)
	}
	t, err := duration(string(l.T))
	if err != nil {
		return Entry{}, err
	}
	e := Entry{T: t, Source: l.Src, Port: l.Port, Detail: l.Why, Do: l.Do}
	if len(l.Args) > 0 && !bytes.Equal(l.Args, []byte("null")) {
		e.Args = l.Args
	}
	kinds := 0
	if l.Tape != nil {
		kinds++
		if *l.Tape < 1 || *l.Tape > Version {
			return Entry{}, fmt.Errorf("%w: tape %d: expected a version up to %d; a newer program has written it", ErrLine, *l.Tape, Version)
		}
		if e.At, err = time.Parse(time.RFC3339Nano, l.Start); err != nil {
			return Entry{}, fmt.Errorf("%w: start: %w", ErrLine, err)
		}
		e.Start, e.T = true, 0
	}
	for _, h := range []struct {
		name string
		text *string
		to   *[]byte
	}{{"hex", l.Hex, &e.Heard}, {"sent", l.Sent, &e.Sent}} {
		if h.text == nil {
			continue
		}
		kinds++
		if *h.to, err = hex.DecodeString(*h.text); err != nil {
			return Entry{}, fmt.Errorf("%w: %s: %w", ErrLine, h.name, err)
		}
	}
	if l.Port != "" {
		kinds++
	}
	if l.Do != "" {
		kinds++
	}
	if l.Step != "" {
		kinds++
		if e.Step, err = duration(string(l.Step)); err != nil {
			return Entry{}, fmt.Errorf("step: %w", err)
		}
	}
	if kinds > 1 {
		return Entry{}, fmt.Errorf("%w: it has several of tape, hex, sent, port, do and step: expected one", ErrLine)
	}
	if !e.Start {
		e.At = start.Add(e.T)
	}
	return e, nil
}

// Seconds writes d as decimal seconds, exactly.
func Seconds(d time.Duration) string {
	sign, u := "", uint64(d)
	if d < 0 {
		sign, u = "-", -u
	}
	whole, frac := u/1e9, u%1e9
	if frac == 0 {
		return sign + strconv.FormatUint(whole, 10)
	}
	return sign + strconv.FormatUint(whole, 10) + "." + strings.TrimRight(fmt.Sprintf("%09d", frac), "0")
}

// duration reads decimal seconds, exactly if there are no more than nine decimals.
func duration(s string) (time.Duration, error) {
	bad := func() (time.Duration, error) {
		return 0, fmt.Errorf("%w: t is %q: expected seconds, up to 292 years", ErrLine, s)
	}
	if s == "" {
		return 0, fmt.Errorf("%w: t is missing: expected seconds", ErrLine)
	}
	whole, frac, _ := strings.Cut(s, ".")
	if len(frac) > 9 || strings.ContainsAny(s, "eE") {
		f, err := strconv.ParseFloat(s, 64)
		if err != nil || math.Abs(f) > 9e9 {
			return bad()
		}
		return time.Duration(math.Round(f * 1e9)), nil
	}
	n, err := strconv.ParseInt(whole+frac+strings.Repeat("0", 9-len(frac)), 10, 64)
	if err != nil {
		return bad()
	}
	return time.Duration(n), nil
}

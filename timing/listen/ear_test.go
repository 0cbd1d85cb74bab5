package listen

import (
	"fmt"
	"slices"
	"strings"
	"testing"
	"time"

	"lanewright/timing"
	"lanewright/timing/wire"
)

var noon = time.Date(2026, 3, 14, 12, 0, 0, 0, time.UTC)

// script drives an ear: each line is "seconds what", what being a sentence's body
// (framed here), "=state", "~bytes" (raw) or "wake".
func script(e *Ear, text string) (said, told []string) {
	for line := range strings.Lines(text) {
		line = strings.TrimSpace(line)
		if line == "" || line[0] == '#' {
			continue
		}
		var s float64
		fmt.Sscan(line, &s)
		_, what, _ := strings.Cut(line, " ")
		at := noon.Add(time.Duration(s * 1e9))
		switch {
		case what[0] == '=':
			st, _ := timing.ParseState(what[1:])
			e.Port(st, "", at)
		case what[0] == '~':
			e.Hear([]byte(what[1:]), at)
		case what == "wake":
			e.Wake(at)
		default:
			body := "LW" + what
			e.Hear(fmt.Appendf(nil, "$%s*%02X\r\n", body, wire.Check([]byte(body))), at)
		}
		for _, b := range e.Say() {
			said = append(said, strings.TrimSpace(string(b[3:len(b)-5])))
		}
		for _, m := range e.Messages() {
			told = append(told, brief(m))
		}
	}
	return said, told
}

// brief prints a message in a few words.
func brief(m timing.Message) string {
	switch m := m.(type) {
	case timing.Pass:
		s := fmt.Sprintf("pass %d lane %d %v/%d", m.Serial, m.Lane, m.At, m.Segment)
		if m.Again {
			s += " again"
		}
		return s
	case timing.Beat:
		return fmt.Sprintf("beat %d %v/%d", m.Last, m.At, m.Segment)
	case timing.Status:
		return fmt.Sprintf("status %s %d", m.Name, m.Boot)
	case timing.PowerAck:
		return fmt.Sprintf("power %d %X %v/%d", m.ID, m.Lanes, m.At, m.Segment)
	case timing.LampAck:
		return fmt.Sprintf("lamps %d %d %d %v/%d", m.ID, m.Lit, m.Go, m.At, m.Segment)
	case timing.Missing:
		return fmt.Sprintf("missing %d-%d %d: %s", m.First, m.Last, m.Count, m.Why)
	case timing.Port:
		return "port " + m.State.String()
	case timing.Reset:
		return fmt.Sprintf("reset %d: %s", m.Segment, m.Why)
	case timing.Damaged:
		return fmt.Sprintf("damaged %d: %s", m.Bytes, m.Why)
	case timing.ClockStep:
		return fmt.Sprintf("clock step %v", m.By)
	case timing.Drift:
		return fmt.Sprintf("drift %.0f", m.PPM)
	case timing.Unanswered:
		return fmt.Sprintf("unanswered %d %s: %s", m.ID, m.What, m.Why)
	}
	return fmt.Sprintf("%#v", m)
}

// caps is a counter with a tick of a millisecond; boot and ring to fill in.
const caps = "CAP,1,%d,shed,4,1,1000,1,32,%d,1,5"

func TestEar(t *testing.T) {
	for _, c := range []struct {
		name   string
		conf   EarConfig
		in     string
		said   []string
		told   []string
		before func(e *Ear)
	}{
		{name: "first contact asks who it is and for the newest number, not for old passes",
			in: `0 =silent
			     0.1 ` + fmt.Sprintf(caps, 3, 256) + `
			     0.2 END,9999999999,41,40
			     1 PAS,41,1,2,0,5000
			     2 BEA,3,41,6000`,
			said: []string{"QCP", "AGN,9999999999"},
			told: []string{"port silent", "port talking", "status shed 3", "pass 41 lane 2 5s/1", "beat 41 6s/1"}},
		{name: "what comes before the rate is known waits for it",
			in: `0 =silent
			     0.1 PAS,1,1,2,0,5000
			     0.2 PWR,0,03,5100
			     0.6 wake
			     0.7 ` + fmt.Sprintf(caps, 3, 256),
			said: []string{"QCP", "QCP", "AGN,2"},
			told: []string{"port silent", "port talking", "status shed 3", "pass 1 lane 2 5s/1", "power 0 3 5.1s/1"}},
		{name: "a gap is asked for, later things wait their turn",
			in: `0 =silent
			     0 ` + fmt.Sprintf(caps, 3, 256) + `
			     0 END,9999999999,1,0
			     1 PAS,1,1,1,0,1000
			     2 PAS,3,1,3,0,2000
			     2.1 PWR,0,0F,2100
			     2.2 PAS,2,1,2,0,1900
			     2.2 PAS,3,1,3,0,2000
			     2.3 END,2,2,3
			     3 BEA,3,3,3000`,
			said: []string{"QCP", "AGN,9999999999", "AGN,2"},
			told: []string{"port silent", "port talking", "status shed 3", "pass 1 lane 1 1s/1", "pass 2 lane 2 1.9s/1 again",
				"pass 3 lane 3 2s/1", "power 0 F 2.1s/1", "beat 3 3s/1"}},
		{name: "the loss of the last pass is noticed by the beat",
			in: `0 =silent
			     0 ` + fmt.Sprintf(caps, 3, 256) + `
			     0 END,9999999999,1,0
			     2 BEA,3,1,2000
			     2.1 PAS,1,1,2,0,1900
			     2.1 END,1,1,1`,
			said: []string{"QCP", "AGN,9999999999", "AGN,1"},
			told: []string{"port silent", "port talking", "status shed 3", "pass 1 lane 2 1.9s/1 again", "beat 1 2s/1"}},
		{name: "what the counter no longer holds is reported with its count",
			in: `0 =silent
			     0 ` + fmt.Sprintf(caps, 3, 2) + `
			     0 END,9999999999,1,0
			     9 PAS,5,1,1,0,9000
			     9.1 PAS,4,1,2,0,8000
			     9.1 PAS,5,1,1,0,9000
			     9.1 END,1,4,5`,
			said: []string{"QCP", "AGN,9999999999", "AGN,1"},
			told: []string{"port silent", "port talking", "status shed 3", "missing 1-3 3: the counter no longer holds them",
				"pass 4 lane 2 8s/1 again", "pass 5 lane 1 9s/1"}},
		{name: "a counter without ring cannot be asked",
			in: `0 =silent
			     0 ` + fmt.Sprintf(caps, 3, 0) + `
			     1 PAS,7,1,1,0,1000
			     2 PAS,9,1,2,0,2000`,
			said: []string{"QCP"},
			told: []string{"port silent", "port talking", "status shed 3", "pass 7 lane 1 1s/1",
				"missing 8-8 1: the counter cannot say passes again", "pass 9 lane 2 2s/1"}},
		{name: "a counter that does not answer is asked five times",
			in: `0 =silent
			     0 ` + fmt.Sprintf(caps, 3, 256) + `
			     0 END,9999999999,1,0
			     1 PAS,2,1,1,0,1000
			     1.5 wake
			     2.5 wake
			     4.5 wake
			     8.5 wake
			     16.4 wake
			     16.5 wake
			     17 PAS,1,1,3,0,900
			     18 PAS,4,1,1,0,18000
			     18.5 wake
			     19 PAS,3,1,1,0,17000
			     20 END,4,5,4
			     21 PAS,6,1,1,0,21000
			     21.5 wake`,
			said: []string{"QCP", "AGN,9999999999", "AGN,1", "AGN,1", "AGN,1", "AGN,1", "AGN,1", "AGN,3", "AGN,5", "AGN,5"},
			told: []string{"port silent", "port talking", "status shed 3", "port silent",
				"missing 1-1 1: the counter did not say them again", "pass 2 lane 1 1s/1",
				"port talking", "pass 1 lane 3 900ms/1 again",
				// It is deaf: half a second must do. Once it has answered it is trusted again.
				"missing 3-3 1: the counter did not say them again", "pass 4 lane 1 18s/1", "pass 3 lane 1 17s/1 again"}},
		{name: "a number that is too high and well checked is damage",
			in: `0 =silent
			     0 ` + fmt.Sprintf(caps, 3, 256) + `
			     0 END,9999999999,1,0
			     1 PAS,1,1,1,0,1000
			     2 PAS,200000,1,1,0,2000
			     2.1 PAS,2,1,1,0,2000
			     2.1 END,2,2,2
			     3 PAS,3,1,1,0,3000`,
			said: []string{"QCP", "AGN,9999999999", "AGN,2"},
			told: []string{"port silent", "port talking", "status shed 3", "pass 1 lane 1 1s/1", "pass 2 lane 1 2s/1 again",
				"damaged 27: a number above the newest pass, 2", "pass 3 lane 1 3s/1"}},
		{name: "ticks that cannot be are asked for again",
			in: `0 =silent
			     0 ` + fmt.Sprintf(caps, 3, 256) + `
			     0 END,9999999999,1,0
			     1 PAS,1,1,1,0,1000
			     2 PAS,2,1,1,0,900002000
			     2.1 PAS,2,1,1,0,2000
			     2.1 END,2,2,2`,
			said: []string{"QCP", "AGN,9999999999", "AGN,2"},
			told: []string{"port silent", "port talking", "status shed 3", "pass 1 lane 1 1s/1", "damaged 27: its ticks do not fit the clock; asked for again",
				"pass 2 lane 1 2s/1 again"}},
		{name: "a restart that is announced begins a segment and asks from 1",
			in: `0 =silent
			     0 ` + fmt.Sprintf(caps, 3, 256) + `
			     0 END,9999999999,1,0
			     1 PAS,1,1,1,0,51000
			     1.5 PAS,3,1,1,0,51500
			     2 ` + fmt.Sprintf(caps, 4, 256) + `
			     2 END,1,1,0
			     3 PAS,1,1,2,0,900
			     4 BEA,4,1,1900`,
			said: []string{"QCP", "AGN,9999999999", "AGN,2", "AGN,1"},
			told: []string{"port silent", "port talking", "status shed 3", "pass 1 lane 1 51s/1",
				"missing 2-2 1: the counter restarted before it could say them again", "pass 3 lane 1 51.5s/1", "status shed 4",
				"reset 2: the counter restarted (boot number 4, was 3)", "pass 1 lane 2 900ms/2", "beat 1 1.9s/2"}},
		{name: "a restart whose announcement was lost shows in the beat",
			in: `0 =silent
			     0 ` + fmt.Sprintf(caps, 3, 256) + `
			     0 END,9999999999,1,0
			     1 PAS,1,1,1,0,51000
			     3 PAS,1,1,2,0,900
			     4 BEA,4,1,1900
			     4.1 ` + fmt.Sprintf(caps, 4, 256) + `
			     4.1 PAS,1,1,2,0,900
			     4.1 END,1,1,1`,
			said: []string{"QCP", "AGN,9999999999", "QCP", "AGN,1"},
			told: []string{"port silent", "port talking", "status shed 3", "pass 1 lane 1 51s/1", "damaged 21: number 1 was said before with ticks 51000",
				"status shed 4", "reset 2: the counter restarted (boot number 4, was 3)", "pass 1 lane 2 900ms/2 again", "beat 1 1.9s/2"}},
		{name: "a restart without boot number shows in the running number",
			in: `0 =silent
			     0 ` + fmt.Sprintf(caps, 0, 256) + `
			     0 END,9999999999,8,7
			     1 PAS,8,1,1,0,51000
			     3 PAS,1,1,2,0,900
			     4 PAS,2,1,2,0,1900`,
			said: []string{"QCP", "AGN,9999999999"},
			told: []string{"port silent", "port talking", "status shed 0", "pass 8 lane 1 51s/1",
				"reset 2: the running numbers of the counter began anew", "pass 1 lane 2 900ms/2", "pass 2 lane 2 1.9s/2"}},
		{name: "messages that are seconds late are no restart",
			in: `0 =silent
			     0 ` + fmt.Sprintf(caps, 0, 256) + `
			     0 END,9999999999,1,0
			     1 PAS,1,1,1,0,1000
			     9 PAS,2,1,1,0,2000
			     9 PAS,3,1,1,0,8900
			     9 BEA,0,3,9000`,
			said: []string{"QCP", "AGN,9999999999"},
			told: []string{"port silent", "port talking", "status shed 0", "pass 1 lane 1 1s/1", "pass 2 lane 1 2s/1", "pass 3 lane 1 8.9s/1", "beat 3 9s/1"}},
		{name: "an earlier run is continued: same segment, and what passed meanwhile is asked for",
			conf: EarConfig{After: &timing.Pass{Serial: 6, Boot: 3, Timed: true, Ticks: 4294967000, At: 4294967 * time.Second, Segment: 2, Heard: noon.Add(-10 * time.Second)}},
			in: `0 =silent
			     0.1 ` + fmt.Sprintf(caps, 3, 256) + `
			     0.2 PAS,7,1,1,0,1704
			     0.2 PAS,8,1,2,0,2704
			     0.2 END,7,7,8`,
			said: []string{"QCP", "AGN,7"},
			told: []string{"port silent", "port talking", "status shed 3", "pass 7 lane 1 1193h2m49s/2", "pass 8 lane 2 1193h2m50s/2"}},
		{name: "an earlier run is not continued behind a restart of the counter",
			conf: EarConfig{After: &timing.Pass{Serial: 6, Boot: 2, Timed: true, Ticks: 5000, At: 5 * time.Second, Segment: 2, Heard: noon.Add(-10 * time.Second)}},
			in: `0 =silent
			     0.1 ` + fmt.Sprintf(caps, 3, 256) + `
			     0.2 PAS,1,1,1,0,1704
			     0.2 END,1,1,1`,
			said: []string{"QCP", "AGN,1"},
			told: []string{"port silent", "port talking", "reset 3: the counter has restarted since the program ran before (boot number 3, was 2)",
				"status shed 3", "pass 1 lane 1 1.704s/3"}},
		{name: "a cut drops the half line and asks anew",
			in: `0 =silent
			     0 ` + fmt.Sprintf(caps, 3, 256) + `
			     0 END,9999999999,1,0
			     1 ~$LWPAS,1,1,1
			     1.1 =lost
			     2 =silent
			     2 ~,0,1000*00
			     2.1 ` + fmt.Sprintf(caps, 3, 256) + `
			     2.2 PAS,1,1,1,0,1000
			     2.2 END,1,1,1`,
			said: []string{"QCP", "AGN,9999999999", "QCP", "AGN,1"},
			told: []string{"port silent", "port talking", "status shed 3", "damaged 12: not a whole sentence", "port lost", "port silent",
				"damaged 10: stray bytes", "port talking", "status shed 3", "pass 1 lane 1 1s/1"}},
		{name: "silence is noticed",
			in: `0 =silent
			     0 ` + fmt.Sprintf(caps, 3, 256) + `
			     2.9 wake
			     3 wake`,
			said: []string{"QCP", "AGN,9999999999", "AGN,9999999999"},
			told: []string{"port silent", "port talking", "status shed 3", "port silent"}},
	} {
		t.Run(c.name, func(t *testing.T) {
			said, told := script(NewEar(c.conf), c.in)
			if !slices.Equal(said, c.said) {
				t.Errorf("said %q\nwant %q", said, c.said)
			}
			if !slices.Equal(told, c.told) {
				t.Errorf("told\n  %s\nwant\n  %s", strings.Join(told, "\n  "), strings.Join(c.told, "\n  "))
			}
		})
	}
}

func TestCommands(t *testing.T) {
	at := 9 * time.Second
	fresh := func() *Ear {
		e := NewEar(EarConfig{FirstID: 7})
		script(e, "0 =silent\n0 "+fmt.Sprintf(caps, 3, 256)+"\n0 END,9999999999,1,0\n0 BEA,3,0,1000")
		return e
	}
	power := func(e *Ear, mask uint32, s float64, at *time.Duration) {
		if _, err := e.Power(mask, at, noon.Add(time.Duration(s*1e9))); err != nil {
			t.Fatal(err)
		}
	}
	for _, c := range []struct {
		name       string
		do         func(e *Ear)
		in         string
		said, told []string
	}{
		{"acknowledged", func(e *Ear) { power(e, 15, 0.1, nil) }, "0.2 PWR,7,0F,1150\n0.3 PWR,7,0F,1150\n1 wake",
			[]string{"SPW,7,0F"}, []string{"power 7 F 1.15s/1"}},
		{"repeated until acknowledged", func(e *Ear) { power(e, 15, 0, nil) }, "0.5 wake\n1.5 wake\n1.6 PWR,7,0F,2000\n9 wake",
			[]string{"SPW,7,0F", "SPW,7,0F", "SPW,7,0F"}, []string{"power 7 F 2s/1", "port silent"}},
		{"never acknowledged", func(e *Ear) { power(e, 15, 0, nil) }, "0.5 wake\n1.5 wake\n3.5 wake\n7.5 wake\n15.5 wake\n30 wake",
			[]string{"SPW,7,0F", "SPW,7,0F", "SPW,7,0F", "SPW,7,0F", "SPW,7,0F"}, []string{"port silent", "unanswered 7 lane power 0F: the counter did not acknowledge it"}},
		{"refused", func(e *Ear) { power(e, 15, 0, nil) }, "0.1 NOT,7", []string{"SPW,7,0F"},
			[]string{"unanswered 7 lane power 0F: the counter says that it cannot"}},
		{"for later: noted, not repeated", func(e *Ear) { power(e, 0, 0, &at) }, "0.1 NTD,7\n1 BEA,3,0,2000\n2 BEA,3,0,3000\n4 BEA,3,0,5000\n6 BEA,3,0,7000\n8 BEA,3,0,9000\n8 PWR,7,00,9000",
			[]string{"SPW,7,00,9000"}, []string{"beat 0 2s/1", "beat 0 3s/1", "beat 0 5s/1", "beat 0 7s/1", "beat 0 9s/1", "power 7 0 9s/1"}},
		{"for later behind one for now", func(e *Ear) { power(e, 15, 0, nil); power(e, 0, 0, &at) }, "0.1 PWR,7,0F,1100\n0.2 NTD,8",
			[]string{"SPW,7,0F", "SPW,8,00,9000"}, []string{"power 7 F 1.1s/1"}},
		{"for now replaces one for later", func(e *Ear) { power(e, 0, 0, &at); power(e, 0, 0, nil) }, "0.1 PWR,8,00,1100",
			[]string{"SPW,7,00,9000", "SPW,8,00"}, []string{"unanswered 7 lane power 00: replaced by a newer command", "power 8 0 1.1s/1"}},
		{"said again on a new line", func(e *Ear) { power(e, 15, 0, nil) }, "0.1 =lost\n0.6 wake\n2 =silent",
			[]string{"SPW,7,0F", "QCP", "SPW,7,0F"}, []string{"port lost", "port silent"}},
		{"not said to a counter that has restarted", func(e *Ear) { power(e, 15, 0, nil) }, "0.1 " + fmt.Sprintf(caps, 4, 256) + "\n0.5 wake",
			[]string{"SPW,7,0F", "AGN,1"}, []string{"unanswered 7 lane power 0F: the counter restarted", "status shed 4"}},
	} {
		t.Run(c.name, func(t *testing.T) {
			e := fresh()
			c.do(e)
			said, told := script(e, "0 wake\n"+c.in)
			if !slices.Equal(said, c.said) {
				t.Errorf("said %q\nwant %q", said, c.said)
			}
			if !slices.Equal(told, c.told) {
				t.Errorf("told %q\nwant %q", told, c.told)
			}
		})
	}
	e := fresh()
	if _, err := e.Lamps(6, timing.Start, nil, noon); err == nil {
		t.Error("six of five lamps lit")
	}
	if _, err := NewEar(EarConfig{}).Power(1, &at, noon); err == nil {
		t.Error("a time was given to an unknown clock")
	}
}

// TestHeardIsTheFirstByte: a pass is stamped with the read that brought its '$'.
func TestHeardIsTheFirstByte(t *testing.T) {
	e := NewEar(EarConfig{})
	at := noon
	line := func(body string) []byte {
		return fmt.Appendf(nil, "$LW%s*%02X\r\n", body, wire.Check([]byte("LW"+body)))
	}
	stream := append(line(fmt.Sprintf(caps, 3, 256)), line("END,9999999999,1,0")...)
	e.Hear(stream, at)
	for i := range 20 {
		want := at.Add(time.Second)
		for _, c := range line(fmt.Sprintf("PAS,%d,1,1,0,%d", i+1, 1000*i)) {
			at = at.Add(time.Millisecond)
			if c == '$' {
				want = at
			}
			e.Hear([]byte{c}, at)
		}
		got := passesOf(e)
		if len(got) != 1 || !got[0].Heard.Equal(want) {
			t.Fatalf("pass %d: %+v, want it heard at %v", i+1, got, want)
		}
	}
}

func passesOf(e *Ear) []timing.Pass { return passes(e.Messages()) }

func TestSleepAndClockSteps(t *testing.T) {
	e := NewEar(EarConfig{})
	now := time.Now() // with a monotonic reading
	e.Port(timing.Silent, "", now)
	say := func(body string, at time.Time) []string {
		e.Hear(fmt.Appendf(nil, "$LW%s*%02X\n", body, wire.Check([]byte("LW"+body))), at)
		var told []string
		for _, m := range e.Messages() {
			told = append(told, brief(m))
		}
		return told
	}
	say(fmt.Sprintf(caps, 0, 256), now)
	say("END,9999999999,1,0", now)
	say("BEA,0,0,5000", now)
	// An hour of sleep moves the wall clock alone; in Go that is seen by comparing
	// both readings. A time without monotonic reading compares by the wall clock, so a
	// time an hour on without one stands for waking up.
	woke := now.Round(0).Add(time.Hour)
	e.skew = -time.Hour // as if the monotonic clock had stood still
	got := say("BEA,0,0,3605000", woke)
	if want := []string{"clock step 1h0m0s", "beat 0 1h0m5s/1"}; !slices.Equal(got, want) {
		t.Errorf("told %q, want %q", got, want)
	}
}

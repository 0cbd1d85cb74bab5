package race

import (
	"encoding/json"
	"math"
	"strconv"
	"testing"
	"time"

	"pgregory.net/rapid"
)

func TestEightDigitsAsStrconvReadsThem(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		b := []byte(rapid.StringMatching(`[0-9/:a-f\-]{8}`).Draw(t, "text"))
		want, err := strconv.ParseUint(string(b), 10, 64)
		if got, ok := eight(b); ok != (err == nil) || ok && got != want {
			t.Fatalf("%q: got %d %v, strconv %d %v", b, got, ok, want, err)
		}
	})
}

func TestPassSurvivesItsLine(t *testing.T) {
	extreme := rapid.OneOf(rapid.Int64(), rapid.SampledFrom([]int64{0, -1, math.MinInt64, math.MaxInt64, 99999999, 100000000, 9999999999999999, 10000000000000000}))
	extremeU := rapid.OneOf(rapid.Uint64(), rapid.SampledFrom([]uint64{0, math.MaxUint64, math.MaxUint64 - 1, 18446744073709551610}))
	rapid.Check(t, func(t *rapid.T) {
		p := Passed{Stamp{Wall(extreme.Draw(t, "wall"))}, Pass{rapid.String().Draw(t, "source"), int(extreme.Draw(t, "segment")), rapid.Int().Draw(t, "sensor"), rapid.Int().Draw(t, "lane"),
			rapid.Int().Draw(t, "car"), time.Duration(extreme.Draw(t, "at")), extremeU.Draw(t, "ticks"), extremeU.Draw(t, "serial"), extremeU.Draw(t, "boot"), rapid.Bool().Draw(t, "untimed"),
			rapid.Bool().Draw(t, "again"), Wall(extreme.Draw(t, "heard")), rapid.String().Draw(t, "raw")}}
		line := AppendPassed(nil, &p)
		var q, r Passed
		if !ReadPassed(line, &q) || q != p {
			t.Fatalf("%s\nread as %+v\nwant    %+v", line, q, p)
		}
		if !SkimPassed(line, &r) {
			t.Fatalf("%s cannot be skimmed", line)
		}
		r.Raw = p.Raw
		if r != p {
			t.Fatalf("%s\nskimmed as %+v", line, r)
		}
		// Against the library: the same object by encoding/json.
		var f passForm
		if err := json.Unmarshal(line, &f); err != nil || f.Raw != p.Raw || f.At != p.At || f.Ticks != p.Ticks || f.Source != p.Source {
			t.Fatalf("%s\nencoding/json reads %+v, %v", line, f, err)
		}
	})
}

func TestPassLineOfAnotherFormIsNotMisread(t *testing.T) {
	good := string(AppendPassed(nil, &Passed{Pass: Pass{Source: "c", Raw: "x"}}))
	for _, line := range []string{"", "{}", good[:len(good)-1], good + " ", `{"wall":01` + good[9:], `{"wall":18446744073709551616` + good[9:], `{"wall":-0` + good[9:], `{"wall":+1` + good[9:]} {
		var p Passed
		if ReadPassed([]byte(line), &p) {
			t.Errorf("%s was read", line)
		}
	}
}

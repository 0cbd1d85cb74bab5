package layout

import (
	"fmt"
	"strings"
	"testing"
)

// bigPlan is a four-road layout of the given number of pieces on all roads together: stadiums of long straights and bends that go
// out by rings, wound so that it closes.
func bigPlan(tb testing.TB, pieces int) (Plan, Kit) {
	var kit strings.Builder
	kit.WriteString("road_width = 180\nlane_spacing = 84\n[[straight]]\nname = \"full\"\nlength = 360\n[[timing]]\nlength = 180\nat = 90\n[[crossing]]\nlength = 360\n" +
		"[[straight]]\nname = \"half\"\nlength = 180\n[joint]\nplay = 0.5\nangle = 0.25\n[limits]\ngrade = 8\n")
	for ring := 1; ring <= 4; ring++ {
		fmt.Fprintf(&kit, "[[curve]]\nring = %d\nradius = %d\nangle = 30\n", ring, 90+180*ring)
	}
	k, err := ReadKit("big-kit.toml", []byte(kit.String()))
	if err != nil {
		tb.Fatal(err)
	}
	p := Plan{Roads: 4, Calls: []Call{ParseCall("timing"), ParseCall("half"), ParseCall("crossing 2")}}
	// each half: straights and six bends of 30 degrees on every road
	per := pieces/4 - 4 - 12
	for range per / 2 {
		p.Calls = append(p.Calls, ParseCall("straight"))
	}
	p.Calls = append(p.Calls, ParseCall("left 90 ring 1"), ParseCall("left 90 ring 1"))
	for range per/2 + 3 {
		p.Calls = append(p.Calls, ParseCall("straight"))
	}
	p.Calls = append(p.Calls, ParseCall("left 180 ring 1"))
	return p, k
}

func BenchmarkResolve(b *testing.B) {
	for _, pieces := range []int{200, 800} {
		b.Run(fmt.Sprintf("%d pieces on four roads", pieces), func(b *testing.B) {
			p, k := bigPlan(b, pieces)
			track, findings := Resolve(p, k)
			if len(findings) > 0 || !track.Closes {
				b.Fatal(findings, track.Joins)
			}
			n := 0
			for _, r := range track.Roads {
				n += len(r.Pieces)
			}
			b.ReportAllocs()
			before := cpuTime()
			for b.Loop() {
				Resolve(p, k)
			}
			b.ReportMetric(float64(n), "pieces")
			b.ReportMetric(float64(cpuTime()-before)/float64(b.N), "cpu-ns/op") // garbage collection included
		})
	}
}

func BenchmarkReadPlan(b *testing.B) {
	data, _ := Example("saltmarsh four")
	b.ReportAllocs()
	for b.Loop() {
		if _, err := ReadPlan("saltmarsh-four.toml", data); err != nil {
			b.Fatal(err)
		}
	}
}

func BenchmarkReadKit(b *testing.B) {
	data, _ := BuiltinKitFile("module 90")
	b.ReportAllocs()
	for b.Loop() {
		if _, err := ReadKit("module-90.toml", data); err != nil {
			b.Fatal(err)
		}
	}
}

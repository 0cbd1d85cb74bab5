package cell

import (
	"strings"
	"testing"

	"github.com/charmbracelet/x/ansi"
	"pgregory.net/rapid"
)

// The quick way of measuring agrees with the library for every character it claims to know.
func TestNarrowCharactersAreOneCell(t *testing.T) {
	for r := rune(0x20); r < 0x3000; r++ {
		if narrow(r) && ansi.StringWidth(string(r)) != 1 {
			t.Errorf("%U is %d cells wide", r, ansi.StringWidth(string(r)))
		}
	}
}

var texts = rapid.OneOf(rapid.String(), rapid.StringMatching(`[a-zà-ÿ■●陳大文🏁 é\x{0301}\x{200d}א-תก-๙]{0,30}`))

// Whatever is written wherever: lines are as wide as the grid at most, and there are as many as it has rows.
func TestNothingLeavesTheGrid(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		w, h := rapid.IntRange(0, 40).Draw(t, "w"), rapid.IntRange(0, 12).Draw(t, "h")
		g := NewGrid(w, h)
		for range rapid.IntRange(1, 12).Draw(t, "writes") {
			text := Clean(texts.Draw(t, "text"))
			x, y, room := rapid.IntRange(-5, 45).Draw(t, "x"), rapid.IntRange(-3, 15).Draw(t, "y"), rapid.IntRange(-2, 50).Draw(t, "room")
			if used := g.Put(max(x, 0), y, room, Style{Fg: Ink(rapid.IntRange(0, int(inks)-1).Draw(t, "ink")), Attr: Attr(rapid.IntRange(0, 15).Draw(t, "attr"))}, text); used > max(room, 0) {
				t.Fatalf("%d cells used of %d", used, room)
			}
		}
		for _, out := range []string{g.Text(), g.Render(NewPalette(TrueColour, false)), g.Render(NewPalette(NoColour, true))} {
			lines := strings.Split(out, "\n")
			if len(lines) > max(h, 1) {
				t.Fatalf("%d lines in %d rows", len(lines), h)
			}
			for _, l := range lines {
				if n := ansi.StringWidth(l); n > w {
					t.Fatalf("a line of %d cells in %d: %q", n, w, l)
				}
			}
		}
	})
}

func TestTextFromOutsideIsMadeFit(t *testing.T) {
	for in, want := range map[string]string{
		"Zoe\u0308":              "Zoë",
		"\x1b[31mred\x1b[0m":     "red",
		"a\x00b\x07c\x7fd":       "abcd",
		"two\nlines\tand":        "two lines and",
		"\u202eevil\u202c":       "evil",
		"\x1b]0;title\x07x":      "x",
		"bad \xff\xfe bytes":     "bad  bytes",
		"\u2066iso\u2069\ufeffl": "isol",
	} {
		if got := Clean(in); got != want {
			t.Errorf("Clean(%q) = %q, want %q", in, got, want)
		}
	}
}

func FuzzClean(f *testing.F) {
	for _, s := range []string{"", "Zoë", "\x1b[31m", "\u202e", "陳大文", "\xff", "a\u0301\u0301\u0301"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		c := Clean(s)
		if Clean(c) != c {
			t.Errorf("%q is cleaned twice to something else: %q, %q", s, c, Clean(c))
		}
		if strings.ContainsAny(c, "\x1b\n\r\x00\x07\u202e") {
			t.Errorf("%q leaves %q", s, c)
		}
		if n := Width(Cut(c, 10)); n > 10 {
			t.Errorf("%q cut to %d", c, n)
		}
	})
}

func TestCutsEndInAnEllipsis(t *testing.T) {
	for _, c := range []struct {
		in   string
		w    int
		want string
	}{{"Zoë Winter", 10, "Zoë Winter"}, {"Zoë Winter", 5, "Zoë …"}, {"陳大文", 5, "陳大…"}, {"陳大文", 4, "陳…"}, {"abc", 0, ""}, {"abc", 1, "…"}} {
		if got := Cut(c.in, c.w); got != c.want {
			t.Errorf("Cut(%q, %d) = %q, want %q", c.in, c.w, got, c.want)
		}
	}
}

// A wide character that is covered in part is gone as a whole.
func TestHalvesOfWideCharactersDoNotRemain(t *testing.T) {
	g := NewGrid(8, 1)
	g.Put(0, 0, 8, Normal, "陳大文")
	g.Put(1, 0, 1, Normal, "x")
	g.Put(4, 0, 1, Normal, "y")
	if got := g.Text(); got != " x大y" {
		t.Errorf("got %q", got)
	}
}

func TestClicksFindTheUppermostZone(t *testing.T) {
	g := NewGrid(10, 4)
	g.Zone(Box{0, 0, 10, 4}, "below")
	g.Zone(Box{2, 1, 3, 1}, "above")
	g.Zone(Box{0, 0, 0, 9}, "empty")
	if g.Hit(3, 1) != "above" || g.Hit(5, 1) != "below" || g.Hit(20, 1) != "" {
		t.Error(g.Hit(3, 1), g.Hit(5, 1), g.Hit(20, 1))
	}
}

func TestPalettes(t *testing.T) {
	chip := Chip(1)
	for _, c := range []struct {
		d    Depth
		want string
	}{{TrueColour, "\x1b[1;38;2;0;0;0;48;2;213;94;0m"}, {Table256, "\x1b[1;38;5;231;48;5;124m"}, {Table16, "\x1b[1;7m"}, {NoColour, "\x1b[1;7m"}} {
		if got := NewPalette(c.d, false).Start(chip); got != c.want {
			t.Errorf("depth %d: chip is %q, want %q", c.d, got, c.want)
		}
	}
	if got := NewPalette(NoColour, false).Start(Dim); got != "" {
		t.Errorf("without colours quiet text is %q", got)
	}
}

func BenchmarkRender160x45(b *testing.B) {
	g := NewGrid(160, 45)
	for y := range 45 {
		for x := 0; x < 160; x += 20 {
			g.Put(x, y, 20, Style{Fg: Ink(1 + (x/20+y)%5)}, "lane 3 5.301 Łukasz")
		}
	}
	p := NewPalette(TrueColour, false)
	b.ReportAllocs()
	for b.Loop() {
		g.Render(p)
	}
}

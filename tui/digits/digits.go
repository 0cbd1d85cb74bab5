// Package digits writes figures and words so large that they are read from the other side of a hall: characters drawn in dots,
// every dot as wide and as high as the room allows, on half blocks. A dot's height counts in half rows, because a half row is
// about as high as a column is wide.
package digits

// Size is how a text is written large.
type Size struct {
	font   *font
	kx, ky int // columns a dot, half rows a dot
	W, H   int // cells of the whole text
}

// None is the size of a text that does not fit.
var None = Size{}

// Rows is the height in cells of a font of high dots at ky half rows a dot.
func rows(high, ky int) int { return (high*ky + 1) / 2 }

// width in dots of a text with one dot between characters, -1 if the font lacks one of them.
func (f *font) width(text string) int {
	w := 0
	for _, r := range text {
		g, ok := f.glyph[r]
		if !ok {
			return -1
		}
		w += len(g[0]) + 1
	}
	return max(0, w-1)
}

// worth is how much the height of a font counts, in percent: characters of more dots are read at a smaller height. A judgement of
// the eye, no source.
var worth = map[*font]int{&tall: 100, &short: 90, &small: 82}

// Fit returns the size at which a text that takes at most w columns and h rows is read best: the tallest first, fonts with few
// dots counting for less, of equally good ones that whose dots are nearest to square. Sizes of at least so many rows go before
// all others. It is None if nothing fits or a character is unknown.
func Fit(text string, w, h, least int) Size {
	best := None
	bad, most := 0, 0
	for _, f := range fonts {
		dots := f.width(text)
		if dots <= 0 {
			continue
		}
		for ky := 1; rows(f.high, ky) <= h; ky++ {
			kx := min(w/dots, ky)
			if kx < 1 {
				break
			}
			high, off := rows(f.high, ky), 4*(ky-kx)
			if off < 0 {
				off = -off
			}
			if kx*3 < ky { // thinner than a third is no easier to read for being tall
				continue
			}
			good := high * worth[f]
			if high >= least {
				good += 1 << 20
			}
			if good > most || good == most && off < bad {
				best, bad, most = Size{f, kx, ky, dots * kx, high}, off, good
			}
		}
	}
	return best
}

// Like returns the size of another text written in the same font and dots.
func (s Size) Like(text string) Size {
	if s.font == nil {
		return None
	}
	dots := s.font.width(text)
	if dots < 0 {
		return None
	}
	return Size{s.font, s.kx, s.ky, dots * s.kx, s.H}
}

// Each calls put for every cell of the text that is not blank: x and y from its upper left, and one of the three blocks.
func (s Size) Each(text string, put func(x, y int, block string)) {
	if s.font == nil {
		return
	}
	left := 0
	for _, r := range text {
		g := s.font.glyph[r]
		if g == nil {
			continue
		}
		EachDot(g, s.kx, s.ky, func(x, y int, block string) { put(left+x, y, block) })
		left += (len(g[0]) + 1) * s.kx
	}
}

// EachDot draws rows of dots ('#') with kx columns and ky half rows a dot.
func EachDot(dots []string, kx, ky int, put func(x, y int, block string)) {
	if len(dots) == 0 || kx < 1 || ky < 1 {
		return
	}
	half := len(dots) * ky
	on := func(x, hy int) bool { return hy < half && dots[hy/ky][x/kx] == '#' }
	for y := 0; y*2 < half; y++ {
		for x := range len(dots[0]) * kx {
			up, down := on(x, 2*y), on(x, 2*y+1)
			switch {
			case up && down:
				put(x, y, "█")
			case up:
				put(x, y, "▀")
			case down:
				put(x, y, "▄")
			}
		}
	}
}

// Gap says whether the last row is half empty, so that another text may stand right below.
func (s Size) Gap() bool { return s.font != nil && s.font.high*s.ky%2 == 1 }

// Dots returns how many columns and half rows a dot has.
func (s Size) Dots() (kx, ky int) { return s.kx, s.ky }

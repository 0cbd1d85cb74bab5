// Package figure writes the numbers of a race night as people read them: times cut, never rounded, to the digits that their
// source deserves; what is unknown is a dash, never a blank and never a zero.
package figure

import (
	"strconv"
	"time"
)

// Form is how figures are written for one reader.
type Form struct {
	Comma bool // decimal comma instead of point; screens only, files always have a point
	Mph   bool // miles an hour instead of kilometres
}

// point puts the reader's decimal mark.
func (f Form) point() string {
	if f.Comma {
		return ","
	}
	return "."
}

// Lap writes a lap time with so many digits after the mark (3 if digits is outside 1..3): 5.301, 1:05.301. An unknown lap,
// zero or less, is -.---.
func (f Form) Lap(d time.Duration, digits int) string {
	if digits < 1 || digits > 3 {
		digits = 3
	}
	if d <= 0 {
		return "-" + f.point() + "---"[:digits]
	}
	ms := d.Milliseconds()
	frac := pad(ms%1000, 3)[:digits]
	s := ms / 1000
	if s < 60 {
		return strconv.FormatInt(s, 10) + f.point() + frac
	}
	return strconv.FormatInt(s/60, 10) + ":" + pad(s%60, 2) + f.point() + frac
}

// Left writes the time left of a heat: 1:23, and tenths for the last ten seconds: 9.4. Time that has run out is 0.0.
func (f Form) Left(d time.Duration) string {
	d = max(d, 0)
	if d < 10*time.Second {
		t := d.Milliseconds() / 100
		return strconv.FormatInt(t/10, 10) + f.point() + strconv.FormatInt(t%10, 10)
	}
	return f.Clock(d)
}

// Clock writes a span in minutes and seconds, from an hour on with hours: 12:05, 1:02:05.
func (f Form) Clock(d time.Duration) string {
	s := int64(max(d, 0) / time.Second)
	if s < 3600 {
		return strconv.FormatInt(s/60, 10) + ":" + pad(s%60, 2)
	}
	return strconv.FormatInt(s/3600, 10) + ":" + pad(s/60%60, 2) + ":" + pad(s%60, 2)
}

// Gap writes how far a driver is behind the leader: leader, +0.482, +1 lap, +9 laps, or - if it is not known.
func (f Form) Gap(place, behind int, gap time.Duration, known bool) string {
	switch {
	case place == 1 && behind == 0 && gap <= 0:
		return "leader"
	case behind == 1:
		return "+1 lap"
	case behind > 1:
		return "+" + strconv.Itoa(behind) + " laps"
	case known && gap >= 0:
		ms := gap.Milliseconds()
		return "+" + strconv.FormatInt(ms/1000, 10) + f.point() + pad(ms%1000, 3)
	}
	return "-"
}

// Place writes a position: P1, P2= when it is shared, - when there is none.
func Place(place int, shared bool) string {
	switch {
	case place < 1:
		return "-"
	case shared:
		return "P" + strconv.Itoa(place) + "="
	}
	return "P" + strconv.Itoa(place)
}

// Laps writes laps with their part: 128, 128.37. The part is in 1/of; it is shown in tenths or hundredths where that is exact,
// otherwise as a fraction. A negative part is none.
func (f Form) Laps(laps, part, of int) string {
	s := strconv.Itoa(laps)
	switch {
	case of <= 1 || part < 0:
		return s
	case of == 10:
		return s + f.point() + pad(int64(part), 1)
	case 100%of == 0:
		return s + f.point() + pad(int64(part*(100/of)), 2)
	case of == 1000:
		return s + f.point() + pad(int64(part), 3)
	}
	return s + " " + strconv.Itoa(part) + "/" + strconv.Itoa(of)
}

// Metres writes a length given in millimetres, cut to whole millimetres: 12.346 m.
func (f Form) Metres(mm float64) string {
	if !(mm > 0) || mm > 1e9 {
		return "-"
	}
	n := int64(mm)
	return strconv.FormatInt(n/1000, 10) + f.point() + pad(n%1000, 3) + " m"
}

// Speed writes a scale speed with its scale: 38.2 km/h at 1:32.
func (f Form) Speed(kmh float64, scale int) string {
	if !(kmh > 0) || kmh > 1e6 {
		return "-"
	}
	unit := " km/h"
	if f.Mph {
		kmh, unit = kmh/1.609344, " mph" // the international mile of 1959
	}
	t := int64(kmh * 10)
	s := strconv.FormatInt(t/10, 10) + f.point() + strconv.FormatInt(t%10, 10) + unit
	if scale > 0 {
		s += " at 1:" + strconv.Itoa(scale)
	}
	return s
}

// Moment writes a time of day as the wall shows it.
func Moment(t time.Time) string {
	if t.IsZero() {
		return "-"
	}
	return t.Format("15:04:05")
}

// Count writes a number of things with its word: 1 lap, 3 laps.
func Count(n int, word string) string {
	if n == 1 || n == -1 {
		return strconv.Itoa(n) + " " + word
	}
	return strconv.Itoa(n) + " " + word + "s"
}

// pad writes n with leading zeros.
func pad(n int64, width int) string {
	s := strconv.FormatInt(n, 10)
	for len(s) < width {
		s = "0" + s
	}
	return s
}

package figure

import (
	"testing"
	"time"
)

func TestNumbersAreWrittenAsPeopleReadThem(t *testing.T) {
	f := Form{}
	us := time.Microsecond
	for _, c := range []struct{ got, want string }{
		{f.Lap(5301999*us, 3), "5.301"}, {f.Lap(65301*time.Millisecond, 3), "1:05.301"}, {f.Lap(0, 3), "-.---"}, {f.Lap(59999999*us, 3), "59.999"},
		{f.Lap(5390*time.Millisecond, 1), "5.3"}, {f.Lap(-1, 2), "-.--"}, {Form{Comma: true}.Lap(5301*time.Millisecond, 3), "5,301"},
		{f.Left(83999 * time.Millisecond), "1:23"}, {f.Left(9499 * time.Millisecond), "9.4"}, {f.Left(-time.Second), "0.0"}, {f.Left(10 * time.Second), "0:10"},
		{f.Clock(3725 * time.Second), "1:02:05"},
		{f.Gap(1, 0, 0, true), "leader"}, {f.Gap(2, 0, 482999*us, true), "+0.482"}, {f.Gap(2, 1, 0, false), "+1 lap"}, {f.Gap(4, 9, 0, true), "+9 laps"}, {f.Gap(0, 0, 0, false), "-"},
		{Place(1, false), "P1"}, {Place(2, true), "P2="}, {Place(0, false), "-"},
		{f.Laps(128, 37, 100), "128.37"}, {f.Laps(128, -1, 100), "128"}, {f.Laps(7, 4, 10), "7.4"}, {f.Laps(7, 5, 20), "7.25"}, {f.Laps(7, 5, 24), "7 5/24"},
		{f.Metres(12346.9), "12.346 m"}, {f.Metres(0), "-"}, {f.Speed(38.29, 32), "38.2 km/h at 1:32"}, {Form{Mph: true}.Speed(160.9344, 0), "100.0 mph"}, {f.Speed(0, 32), "-"},
		{Moment(time.Date(2031, 3, 6, 20, 14, 7, 9, time.UTC)), "20:14:07"}, {Moment(time.Time{}), "-"},
		{Count(1, "lap"), "1 lap"}, {Count(0, "lap"), "0 laps"}, {Count(-1, "lap"), "-1 lap"},
	} {
		if c.got != c.want {
			t.Errorf("got %q, want %q", c.got, c.want)
		}
	}
}

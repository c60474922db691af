// Package civil holds the days, weeks and month arithmetic that the whole
// program counts in.
//
// A civil day is a square on a wall calendar: it has no hour and no time zone.
// Everything a service shop promises (due days, windows, shop weeks, legal
// expiries) is a civil day, so nothing here can shift by an hour when the
// clocks change. Only an appointment has a clock time, and turning a day into
// an instant needs the shop's zone ([Day.At]). The package never asks the
// clock; it is used by every room and imports none of them.
package civil

import (
	"fmt"
	"strconv"
	"time"
)

// Day is a civil date in the proleptic Gregorian calendar, counted in days:
// 1 is Monday 1 January of year 1 (the "Rata Die" of the calendar literature).
// The zero Day means "no day". Days compare and subtract as numbers.
type Day int32

// unixEpoch is the Day of 1970-01-01, the bridge to package time.
const unixEpoch = 719163

// Of returns the day of a date. Out-of-range months and days roll over as they
// do in [time.Date]; use [Day.AddMonths] for arithmetic that must not.
func Of(year int, month time.Month, day int) Day {
	if year >= 1 && month >= 1 && month <= 12 && day >= 1 && day <= daysIn(year, month) {
		return rataDie(year, int(month), day)
	}
	return FromTime(time.Date(year, month, day, 0, 0, 0, 0, time.UTC))
}

// rataDie counts the days of a date that exists, by starting each year in March
// so that the leap day comes last. Plans of a large fleet ask for millions.
func rataDie(y, m, d int) Day {
	if m < 3 {
		y--
		m += 12
	}
	return Day(365*y + y/4 - y/100 + y/400 + (153*(m-3)+2)/5 + d - 306)
}

// daysIn is how many days a month has.
func daysIn(year int, m time.Month) int {
	switch {
	case m == time.February && year%4 == 0 && (year%100 != 0 || year%400 == 0):
		return 29
	case m == time.February:
		return 28
	case m == time.April || m == time.June || m == time.September || m == time.November:
		return 30
	}
	return 31
}

// FromTime returns the day that the instant falls on in its own location.
func FromTime(t time.Time) Day {
	y, m, d := t.Date()
	secs := time.Date(y, m, d, 0, 0, 0, 0, time.UTC).Unix()
	return Day(floorDiv(secs, 86400) + unixEpoch)
}

// floorDiv divides rounding down, so that days before 1970 come out right.
func floorDiv(a, b int64) int64 {
	q := a / b
	if a%b < 0 {
		q--
	}
	return q
}

// Parse reads a day written YYYY-MM-DD, the only form the program's own files
// and commands use. Days that do not exist (2026-02-30) are refused.
func Parse(s string) (Day, error) {
	t, err := time.Parse(time.DateOnly, s)
	if err != nil || t.Year() < 1 {
		return 0, fmt.Errorf("day %q: want YYYY-MM-DD, for example 2027-04-12", s)
	}
	return FromTime(t), nil
}

// Date splits the day into year, month and day of the month.
func (d Day) Date() (year int, month time.Month, day int) { return d.utc().Date() }

// Year returns the calendar year of the day.
func (d Day) Year() int { return d.utc().Year() }

// Month returns the month of the day.
func (d Day) Month() time.Month { return d.utc().Month() }

// Weekday returns the day of the week.
func (d Day) Weekday() time.Weekday { return time.Weekday(((int(d)%7 + 7) % 7)) }

func (d Day) utc() time.Time {
	return time.Unix((int64(d)-unixEpoch)*86400, 0).UTC()
}

// At returns the instant at which the clock on the shop's wall shows h:min on
// that day. An hour that the spring change skips becomes the instant right
// after the gap; of an hour that happens twice the first one is taken.
func (d Day) At(h, min int, loc *time.Location) time.Time {
	y, m, day := d.Date()
	t := time.Date(y, m, day, h, min, 0, 0, loc)
	if t.Hour() == h && t.Minute() == min {
		// Of two instants with the same wall clock, time.Date does not promise
		// which one it gives; an hour earlier may read the same.
		for _, back := range []time.Duration{time.Hour, 30 * time.Minute} {
			if e := t.Add(-back); e.Hour() == h && e.Minute() == min {
				return e
			}
		}
		return t
	}
	// In a gap time.Date answers with one of the two offsets; both land off the
	// asked wall time. The gap's end is where the offset changes.
	lo := t.Add(-2 * time.Hour)
	_, before := lo.Zone()
	for e := lo; e.Before(t.Add(3 * time.Hour)); e = e.Add(time.Minute) {
		if _, off := e.Zone(); off != before {
			return e
		}
	}
	return t
}

// AddMonths moves the day by n calendar months. A day that the target month
// does not have becomes that month's last: 31 August + 6 months is 28 or
// 29 February, 29 February + 12 months is 28 February. Anchor repeated
// intervals on the original day, not on the last clamped one.
func (d Day) AddMonths(n int) Day {
	y, m, day := d.Date()
	months := 12*y + int(m) - 1 + n
	y, m = months/12, time.Month(months%12+1)
	return Of(y, m, min(day, daysIn(y, m)))
}

// String writes YYYY-MM-DD, and "" for no day.
func (d Day) String() string {
	if d == 0 {
		return ""
	}
	return d.utc().Format(time.DateOnly)
}

// MarshalText writes YYYY-MM-DD; no day is the empty text.
func (d Day) MarshalText() ([]byte, error) { return []byte(d.String()), nil }

// UnmarshalText reads YYYY-MM-DD; the empty text is no day.
func (d *Day) UnmarshalText(b []byte) error {
	if len(b) == 0 {
		*d = 0
		return nil
	}
	v, err := Parse(string(b))
	if err != nil {
		return err
	}
	*d = v
	return nil
}

// Week is a shop week, Monday to Sunday, numbered as ISO 8601 numbers weeks.
// The zero Week means "no week".
type Week int32

// Week returns the shop week that the day lies in.
func (d Day) Week() Week { return Week((int(d) + 6) / 7) }

// Monday returns the first day of the week.
func (w Week) Monday() Day { return Day(int(w)*7 - 6) }

// Sunday returns the last day of the week.
func (w Week) Sunday() Day { return w.Monday() + 6 }

// String writes the ISO form YYYY-Www, for example 2027-W18; "" for no week.
func (w Week) String() string {
	if w == 0 {
		return ""
	}
	y, n := w.Monday().utc().ISOWeek()
	return fmt.Sprintf("%04d-W%02d", y, n)
}

// MarshalText writes YYYY-Www; no week is the empty text.
func (w Week) MarshalText() ([]byte, error) { return []byte(w.String()), nil }

// UnmarshalText reads YYYY-Www; the empty text is no week.
func (w *Week) UnmarshalText(b []byte) error {
	if len(b) == 0 {
		*w = 0
		return nil
	}
	v, err := ParseWeek(string(b))
	if err != nil {
		return err
	}
	*w = v
	return nil
}

// ParseWeek reads the ISO form YYYY-Www. A week that its year does not have
// (2027-W53) is refused.
func ParseWeek(s string) (Week, error) {
	bad := fmt.Errorf("week %q: want YYYY-Www, for example 2027-W18", s)
	if len(s) != 8 || s[4:6] != "-W" {
		return 0, bad
	}
	y, err1 := strconv.ParseUint(s[:4], 10, 16)
	n, err2 := strconv.ParseUint(s[6:], 10, 8)
	if err1 != nil || err2 != nil || y < 1 || n < 1 {
		return 0, bad
	}
	// 4 January always lies in week 1.
	w := Of(int(y), time.January, 4).Week() + Week(n-1)
	if w.String() != s {
		return 0, fmt.Errorf("week %q: %d has no week %d", s, y, n)
	}
	return w, nil
}

// MonthDay is a day of any year, such as a launch day: 15 May.
// The zero value means "none".
type MonthDay struct {
	Month time.Month
	Day   int
}

// ParseMonthDay reads MM-DD. 02-29 is accepted and becomes 28 February in a
// common year.
func ParseMonthDay(s string) (MonthDay, error) {
	t, err := time.Parse(time.DateOnly, "2024-"+s)
	if err != nil {
		return MonthDay{}, fmt.Errorf("day of the year %q: want MM-DD, for example 05-15", s)
	}
	return MonthDay{t.Month(), t.Day()}, nil
}

// In returns the day in the given year, clamped to the month's last day.
func (md MonthDay) In(year int) Day {
	if md == (MonthDay{}) {
		return 0
	}
	return Of(year, md.Month, min(md.Day, daysIn(year, md.Month)))
}

// IsZero reports whether no day of the year is set.
func (md MonthDay) IsZero() bool { return md == MonthDay{} }

// String writes MM-DD, and "" for none.
func (md MonthDay) String() string {
	if md.IsZero() {
		return ""
	}
	return fmt.Sprintf("%02d-%02d", md.Month, md.Day)
}

// MarshalText writes MM-DD; none is the empty text.
func (md MonthDay) MarshalText() ([]byte, error) { return []byte(md.String()), nil }

// UnmarshalText reads MM-DD; the empty text is none.
func (md *MonthDay) UnmarshalText(b []byte) error {
	if len(b) == 0 {
		*md = MonthDay{}
		return nil
	}
	v, err := ParseMonthDay(string(b))
	if err != nil {
		return err
	}
	*md = v
	return nil
}

package returns

import (
	"fmt"
	"strconv"
	"time"

	"bellbuoy/schedule/civil"
)

// Half is the half of a year that a season visit falls into.
type Half string

// The two seasons of a year: the fit-out's, February to July, and the lay-up's,
// August to January. Whole months, so that months add up to seasons; January is
// the end of the autumn of the year before, for late lay-ups.
const (
	Spring Half = "spring"
	Autumn Half = "autumn"
)

// Season is one half of a year. An autumn has the year in which it began. The
// zero Season is none.
type Season struct {
	Year int
	Half Half
}

// SeasonOf returns the season that a day lies in.
func SeasonOf(d civil.Day) Season {
	y, m, _ := d.Date()
	switch {
	case m < time.February:
		return Season{y - 1, Autumn}
	case m < time.August:
		return Season{y, Spring}
	}
	return Season{y, Autumn}
}

// First is the season's first day.
func (s Season) First() civil.Day {
	if s.Half == Spring {
		return civil.Of(s.Year, time.February, 1)
	}
	return civil.Of(s.Year, time.August, 1)
}

// Last is the season's last day.
func (s Season) Last() civil.Day { return s.Next().First() - 1 }

// Next is the season after.
func (s Season) Next() Season {
	if s.Half == Spring {
		return Season{s.Year, Autumn}
	}
	return Season{s.Year + 1, Spring}
}

// Before reports whether the season comes before another.
func (s Season) Before(t Season) bool { return s.First() < t.First() }

// String writes "2027-spring", and "" for none.
func (s Season) String() string {
	if s.Year == 0 {
		return ""
	}
	return fmt.Sprintf("%04d-%s", s.Year, s.Half)
}

// Title is how people read it: "Spring 2027".
func (s Season) Title() string {
	if s.Half == Spring {
		return "Spring " + strconv.Itoa(s.Year)
	}
	return "Autumn " + strconv.Itoa(s.Year)
}

// MarshalText writes the season as String does.
func (s Season) MarshalText() ([]byte, error) { return []byte(s.String()), nil }

// UnmarshalText reads what MarshalText writes.
func (s *Season) UnmarshalText(b []byte) (err error) {
	if len(b) == 0 {
		*s = Season{}
		return nil
	}
	*s, err = ParseSeason(string(b))
	return err
}

// ParseSeason reads YYYY-spring or YYYY-autumn.
func ParseSeason(s string) (Season, error) {
	if len(s) == len("2027-spring") && s[4] == '-' {
		year, err := strconv.ParseUint(s[:4], 10, 16)
		half := Half(s[5:])
		if err == nil && year > 0 && (half == Spring || half == Autumn) {
			return Season{int(year), half}, nil
		}
	}
	return Season{}, fmt.Errorf("season %q: want YYYY-spring or YYYY-autumn, for example 2027-autumn", s)
}

// Month is a calendar month, counted from January of year 0. The zero Month
// means "no month".
type Month int

// MonthOf returns the month that a day lies in.
func MonthOf(d civil.Day) Month {
	y, m, _ := d.Date()
	return Month(12*y + int(m) - 1)
}

// First is the month's first day.
func (m Month) First() civil.Day { return civil.Of(int(m)/12, time.Month(int(m)%12+1), 1) }

// Last is the month's last day.
func (m Month) Last() civil.Day { return (m + 1).First() - 1 }

// Year is the calendar year of the month.
func (m Month) Year() int { return int(m) / 12 }

// Short is "May 27" of May 2027.
func (m Month) Short() string {
	return fmt.Sprintf("%s %02d", time.Month(int(m)%12 + 1).String()[:3], int(m)/12%100)
}

// Title is "May 2027".
func (m Month) Title() string {
	return fmt.Sprintf("%s %d", time.Month(int(m)%12+1), int(m)/12)
}

// String writes "2027-05", and "" for none.
func (m Month) String() string {
	if m == 0 {
		return ""
	}
	return fmt.Sprintf("%04d-%02d", int(m)/12, int(m)%12+1)
}

// MarshalText writes the month as String does.
func (m Month) MarshalText() ([]byte, error) { return []byte(m.String()), nil }

// UnmarshalText reads what MarshalText writes.
func (m *Month) UnmarshalText(b []byte) (err error) {
	if len(b) == 0 {
		*m = 0
		return nil
	}
	*m, err = ParseMonth(string(b))
	return err
}

// ParseMonth reads YYYY-MM.
func ParseMonth(s string) (Month, error) {
	d, err := civil.Parse(s + "-01")
	if err != nil || len(s) != len("2027-05") {
		return 0, fmt.Errorf("month %q: want YYYY-MM, for example 2027-05", s)
	}
	return MonthOf(d), nil
}

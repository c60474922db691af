package forecast_test

import (
	"math"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"

	"bellbuoy/schedule/civil"
	"bellbuoy/schedule/forecast"
)

// even makes every month's running alike, flat every day's.
var (
	even = [12]float64{1, 1, 1, 1, 1, 1, 1, 1, 1, 1, 1, 1}
	flat = [12]float64{}
)

func monthDay(t testing.TB, s string) civil.MonthDay {
	t.Helper()
	if s == "" {
		return civil.MonthDay{}
	}
	md, err := civil.ParseMonthDay(s)
	if err != nil {
		t.Fatal(err)
	}
	return md
}

func season(t testing.TB, launch, haulOut string, profile [12]float64) *forecast.Season {
	t.Helper()
	s, err := forecast.NewSeason(monthDay(t, launch), monthDay(t, haulOut), profile)
	if err != nil {
		t.Fatal(err)
	}
	return s
}

func TestExposure(t *testing.T) {
	half := [12]float64{4: 1, 6: 3} // May and July only
	for _, c := range []struct {
		name            string
		launch, haulOut string
		profile         [12]float64
		from, to        string
		want            float64
	}{
		{"a whole season", "05-01", "10-01", even, "2026-05-01", "2026-10-01", 1},
		{"a winter", "05-01", "10-01", even, "2026-10-01", "2027-05-01", 0},
		{"three seasons", "05-01", "10-01", even, "2024-01-01", "2027-01-01", 3},
		{"one of five even months", "05-01", "10-01", even, "2026-06-01", "2026-07-01", 0.2},
		{"a day of a month of thirty", "05-01", "10-01", even, "2026-06-10", "2026-06-11", 0.2 / 30},
		{"a month of the profile's weight", "05-01", "10-01", half, "2026-07-01", "2026-08-01", 0.75},
		{"a month cut in half by the launch", "06-16", "08-01", even, "2026-06-16", "2026-07-01", 0.5 / 1.5},
		{"backwards", "05-01", "10-01", even, "2027-01-01", "2026-01-01", -1},
		{"the same day", "05-01", "10-01", even, "2026-07-01", "2026-07-01", 0},
		{"all year, by days", "", "", flat, "2026-01-01", "2026-01-02", 1.0 / 365},
		{"all year, a leap year's day", "", "", flat, "2028-03-01", "2028-03-02", 1.0 / 366},
		{"all year, a leap February weighs as any", "", "", even, "2028-02-01", "2028-03-01", 1.0 / 12},
		{"a launch without a haul-out says nothing", "05-01", "", even, "2026-01-01", "2026-02-01", 1.0 / 12},
		{"south of the line, over new year", "10-01", "05-01", even, "2026-10-01", "2027-05-01", 1},
		{"south of the line, the winter", "10-01", "05-01", even, "2026-05-01", "2026-10-01", 0},
		{"launch on a leap day", "02-29", "04-01", even, "2027-02-28", "2027-03-01", 1.0 / 28 / (1 + 1.0/28)},
	} {
		t.Run(c.name, func(t *testing.T) {
			s := season(t, c.launch, c.haulOut, c.profile)
			if got := s.Exposure(day(t, c.from), day(t, c.to)); math.Abs(got-c.want) > 1e-12 {
				t.Errorf("exposure from %s to %s = %.6f, want %.6f", c.from, c.to, got, c.want)
			}
		})
	}
}

func TestDayAfter(t *testing.T) {
	s := season(t, "05-01", "10-01", even)
	for _, c := range []struct {
		name, from string
		exposure   float64
		want       string
	}{
		{"nothing to wait for", "2026-12-24", 0, "2026-12-24"},
		{"less than nothing", "2026-12-24", -1, "2026-12-24"},
		{"a season is complete at the haul-out", "2026-05-01", 1, "2026-10-01"},
		{"and not a year later when asked in winter", "2026-01-15", 1, "2026-10-01"},
		{"two months of five", "2026-05-01", 0.4, "2026-07-01"},
		{"a little, asked in winter", "2026-11-01", 0.001, "2027-05-02"},
		{"over a winter", "2026-09-01", 0.4, "2027-06-01"},
	} {
		t.Run(c.name, func(t *testing.T) {
			if got := s.DayAfter(day(t, c.from), c.exposure); got.String() != c.want {
				t.Errorf("%g seasons after %s = %s, want %s", c.exposure, c.from, got, c.want)
			}
		})
	}
	january := season(t, "01-02", "01-12", flat)
	from, to := day(t, "2000-01-07"), day(t, "2004-02-05")
	if got := january.DayAfter(from, january.Exposure(from, to)); got.String() != "2004-01-12" {
		t.Errorf("a sum a hair over whole seasons leads to %s, want 2004-01-12", got)
	}
	if got, want := s.DayAfter(day(t, "2026-01-01"), math.Inf(1)), day(t, "3025-10-01"); got != want {
		t.Errorf("an endless exposure ends on %s, want %s", got, want)
	}
}

func TestNewSeasonRefuses(t *testing.T) {
	may, oct := monthDay(t, "05-01"), monthDay(t, "10-01")
	for _, c := range []struct {
		name            string
		launch, haulOut civil.MonthDay
		profile         [12]float64
		want            string
	}{
		{"a haul-out alone", civil.MonthDay{}, oct, even, "no launch"},
		{"launch and haul-out on one day", may, may, even, "both 05-01"},
		{"a thirteenth month", civil.MonthDay{Month: 13, Day: 1}, oct, even, "not a day of the year"},
		{"a day that no month has", may, civil.MonthDay{Month: time.October, Day: 32}, even, "not a day of the year"},
		{"a negative share", may, oct, [12]float64{5: 1, 6: -1}, "July is -1"},
		{"a share that is no number", may, oct, [12]float64{math.NaN()}, "January is NaN"},
		{"all running while ashore", may, oct, [12]float64{1}, "no running between 05-01 and 10-01"},
	} {
		t.Run(c.name, func(t *testing.T) {
			_, err := forecast.NewSeason(c.launch, c.haulOut, c.profile)
			if err == nil || !strings.Contains(err.Error(), c.want) {
				t.Errorf("error %v, want one with %q", err, c.want)
			}
		})
	}
}

// drawSeason draws any season with running in it.
func drawSeason(t *rapid.T) *forecast.Season {
	launch := civil.Day(rapid.IntRange(1, 365).Draw(t, "launch"))
	length := civil.Day(rapid.IntRange(10, 355).Draw(t, "length"))
	base := civil.Of(2001, time.January, 1) - 1
	md := func(d civil.Day) civil.MonthDay {
		_, m, dd := (base + (d-1)%365 + 1).Date()
		return civil.MonthDay{Month: m, Day: dd}
	}
	var profile [12]float64
	for i := range profile {
		profile[i] = rapid.Float64Range(0.1, 30).Draw(t, "share")
	}
	from, to := md(launch), md(launch+length)
	if rapid.Bool().Draw(t, "all year") {
		from, to = civil.MonthDay{}, civil.MonthDay{}
	}
	s, err := forecast.NewSeason(from, to, profile)
	if err != nil {
		t.Fatal(err)
	}
	return s
}

func drawDay(t *rapid.T, name string) civil.Day {
	return civil.Of(2000, time.January, 1) + civil.Day(rapid.IntRange(0, 50*365).Draw(t, name))
}

func TestExposureAddsUp(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s := drawSeason(t)
		a, b, c := drawDay(t, "a"), drawDay(t, "b"), drawDay(t, "c")
		if got, want := s.Exposure(a, b)+s.Exposure(b, c), s.Exposure(a, c); math.Abs(got-want) > 1e-9 {
			t.Fatalf("%s to %s to %s: %v, but straight %v", a, b, c, got, want)
		}
		if a < b && s.Exposure(a, b) < 0 {
			t.Fatalf("%s to %s: %v is negative", a, b, s.Exposure(a, b))
		}
		y := a.Year()
		if got := s.Exposure(civil.Of(y, 1, 1), civil.Of(y+1, 1, 1)); math.Abs(got-1) > 1e-12 {
			t.Fatalf("the year %d has %v seasons", y, got)
		}
	})
}

func TestDayAfterInvertsExposure(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s, from := drawSeason(t), drawDay(t, "from")
		e := rapid.Float64Range(1e-6, 20).Draw(t, "exposure")
		d := s.DayAfter(from, e)
		if got := s.Exposure(from, d); got < e-1e-9 {
			t.Fatalf("%v seasons after %s: %s has only %v", e, from, d, got)
		}
		if got := s.Exposure(from, d-1); got >= e+1e-9 {
			t.Fatalf("%v seasons after %s: the day before %s has %v already", e, from, d, got)
		}
		to := from + civil.Day(rapid.IntRange(1, 8000).Draw(t, "days"))
		back := s.DayAfter(from, s.Exposure(from, to))
		if back > to || math.Abs(s.Exposure(back, to)) > 1e-9 {
			t.Fatalf("the running of %s to %s leads to %s", from, to, back)
		}
	})
}

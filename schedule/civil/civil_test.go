package civil_test

import (
	"testing"
	"time"

	"pgregory.net/rapid"

	"bellbuoy/schedule/civil"
)

func day(t testing.TB, s string) civil.Day {
	t.Helper()
	d, err := civil.Parse(s)
	if err != nil {
		t.Fatal(err)
	}
	return d
}

func TestAddMonthsClamps(t *testing.T) {
	for _, c := range []struct {
		name, from string
		months     int
		want       string
	}{
		{"end of August into a common February", "2026-08-31", 6, "2027-02-28"},
		{"end of August into a leap February", "2027-08-31", 6, "2028-02-29"},
		{"leap day, a year on", "2028-02-29", 12, "2029-02-28"},
		{"leap day, four years on", "2024-02-29", 48, "2028-02-29"},
		{"plain three years", "2024-04-12", 36, "2027-04-12"},
		{"back over a year's end", "2026-01-31", -2, "2025-11-30"},
		{"no move", "2026-01-31", 0, "2026-01-31"},
	} {
		t.Run(c.name, func(t *testing.T) {
			if got := day(t, c.from).AddMonths(c.months).String(); got != c.want {
				t.Errorf("%s + %d months = %s, want %s", c.from, c.months, got, c.want)
			}
		})
	}
}

func TestDayAgreesWithPackageTime(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		d := civil.Day(rapid.IntRange(1, 1_500_000).Draw(t, "day"))
		y, m, dd := d.Date()
		ref := time.Date(y, m, dd, 0, 0, 0, 0, time.UTC)
		if civil.Of(y, m, dd) != d || civil.FromTime(ref) != d {
			t.Fatalf("%d does not survive the round trip", d)
		}
		if d.Weekday() != ref.Weekday() {
			t.Fatalf("%s: weekday %s, want %s", d, d.Weekday(), ref.Weekday())
		}
		iy, iw := ref.ISOWeek()
		wk, err := civil.ParseWeek(d.Week().String())
		if err != nil || wk != d.Week() {
			t.Fatalf("%s: week %s read back as %s: %v", d, d.Week(), wk, err)
		}
		if gy, gw := d.Week().Monday().At(12, 0, time.UTC).ISOWeek(); gy != iy || gw != iw {
			t.Fatalf("%s: ISO week %d-%d, want %d-%d", d, gy, gw, iy, iw)
		}
		if d < d.Week().Monday() || d > d.Week().Sunday() {
			t.Fatalf("%s is outside its own week %s", d, d.Week())
		}
		if back, err := civil.Parse(d.String()); y <= 9999 && (err != nil || back != d) {
			t.Fatalf("%s parsed back as %s: %v", d, back, err)
		}
	})
}

func TestParseRefuses(t *testing.T) {
	for _, s := range []string{"", "2026-02-30", "12/04/2027", "2027-4-12", "2027-04-12T00:00:00Z", "0000-01-01", "2027-04-12 "} {
		if d, err := civil.Parse(s); err == nil {
			t.Errorf("Parse(%q) = %s, want an error", s, d)
		}
	}
	for _, s := range []string{"", "2027-18", "2027-W53", "2027-W00", "2027-w18", "2026-W54"} {
		if w, err := civil.ParseWeek(s); err == nil {
			t.Errorf("ParseWeek(%q) = %s, want an error", s, w)
		}
	}
	for _, s := range []string{"", "5-15", "02-30", "13-01"} {
		if md, err := civil.ParseMonthDay(s); err == nil {
			t.Errorf("ParseMonthDay(%q) = %s, want an error", s, md)
		}
	}
}

func TestAtAcrossClockChanges(t *testing.T) {
	ny, err := time.LoadLocation("America/New_York")
	if err != nil {
		t.Skip("no time zone data on this machine")
	}
	for _, c := range []struct {
		name, day string
		h, min    int
		want      string
	}{
		{"plain", "2027-04-12", 9, 0, "2027-04-12T13:00:00Z"},
		{"in the spring gap: right after it", "2026-03-08", 2, 30, "2026-03-08T07:00:00Z"},
		{"in the autumn overlap: the first", "2026-11-01", 1, 30, "2026-11-01T05:30:00Z"},
	} {
		t.Run(c.name, func(t *testing.T) {
			if got := day(t, c.day).At(c.h, c.min, ny).UTC().Format(time.RFC3339); got != c.want {
				t.Errorf("got %s, want %s", got, c.want)
			}
		})
	}
}

func TestMonthDay(t *testing.T) {
	md, err := civil.ParseMonthDay("02-29")
	if err != nil {
		t.Fatal(err)
	}
	if got := md.In(2027).String(); got != "2027-02-28" {
		t.Errorf("02-29 in 2027 = %s, want 2027-02-28", got)
	}
	if got := md.In(2028).String(); got != "2028-02-29" {
		t.Errorf("02-29 in 2028 = %s, want 2028-02-29", got)
	}
}

func FuzzParse(f *testing.F) {
	for _, s := range []string{"2027-04-12", "2028-02-29", "", "9999-12-31", "2027-W18", "02-29", "2-9"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		if d, err := civil.Parse(s); err == nil && d.String() != s {
			t.Errorf("Parse(%q) prints back as %q", s, d)
		}
		if w, err := civil.ParseWeek(s); err == nil && w.String() != s {
			t.Errorf("ParseWeek(%q) prints back as %q", s, w)
		}
		if md, err := civil.ParseMonthDay(s); err == nil && md.String() != s {
			t.Errorf("ParseMonthDay(%q) prints back as %q", s, md)
		}
	})
}

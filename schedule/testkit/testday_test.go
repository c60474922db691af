package testkit

import (
	"testing"

	"bellbuoy/schedule/civil"
)

func TestDaysMoveByWholeYears(t *testing.T) {
	for _, c := range []struct {
		years    int
		from, to string
	}{
		{5, "2026-11-25", "2031-11-25"},
		{-5, "2024-02-29", "2019-02-28"},
		{4, "2024-02-29", "2028-02-29"},
		{5, "2028-02-29", "2033-02-28"},
	} {
		d, err := civil.Parse(c.from)
		if err != nil {
			t.Fatal(err)
		}
		if got := move(d, c.years).String(); got != c.to {
			t.Errorf("%s moved by %d years is %s, want %s", c.from, c.years, got, c.to)
		}
	}
}

func TestDaysOfATextMove(t *testing.T) {
	const in = "PERCH,2024-02-29,2016,555-0100,2024-13-01,12024-01-01\nfrom 2027-04-12T09:30 in 2027-W17 or 2027-spring, month=2026-10, 2026-02-30"
	for years, want := range map[int]string{
		0:  in,
		5:  "PERCH,2029-02-28,2016,555-0100,2024-13-01,12024-01-01\nfrom 2032-04-12T09:30 in 2032-W17 or 2032-spring, month=2031-10, 2031-02-30",
		-5: "PERCH,2019-02-28,2016,555-0100,2024-13-01,12024-01-01\nfrom 2022-04-12T09:30 in 2022-W17 or 2022-spring, month=2021-10, 2021-02-30",
	} {
		if got := text(in, years); got != want {
			t.Errorf("%+d years:\n%s\nwant\n%s", years, got, want)
		}
	}
}

func TestWholeYearsOnly(t *testing.T) {
	for said, want := range map[string]int{"+5y": 5, "-5y": -5, "+12y": 12} {
		if got, err := parse(said); err != nil || got != want {
			t.Errorf("%s: %d, %v", said, got, err)
		}
	}
	for _, said := range []string{"5y", "+5", "+0y", "y", "+5d", "+1.5y", "+500y"} {
		if _, err := parse(said); err == nil {
			t.Errorf("%q is taken", said)
		}
	}
}

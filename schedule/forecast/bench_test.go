package forecast_test

import (
	"testing"
	"time"

	"bellbuoy/schedule/civil"
	"bellbuoy/schedule/forecast"
)

// lake is a season on a freezing lake; the profile is invented.
func lake(t testing.TB) *forecast.Season {
	t.Helper()
	s, err := forecast.NewSeason(civil.MonthDay{Month: time.May, Day: 10}, civil.MonthDay{Month: time.October, Day: 15},
		[12]float64{0, 0, 0, 5, 12, 20, 28, 24, 9, 2, 0, 0})
	if err != nil {
		t.Fatal(err)
	}
	return s
}

// family is the prior that most tests use: owners differ by a factor of two or so.
func family() forecast.Prior { return forecast.Prior{MeanHours: 40, Weight: 0.25, OutingHours: 2.5} }

func day(t testing.TB, s string) civil.Day {
	t.Helper()
	d, err := civil.Parse(s)
	if err != nil {
		t.Fatal(err)
	}
	return d
}

func sixReadings(t testing.TB) []forecast.Reading {
	return []forecast.Reading{
		{Day: day(t, "2021-05-03"), Hours: 212}, {Day: day(t, "2021-10-12"), Hours: 251.5},
		{Day: day(t, "2022-10-08"), Hours: 287}, {Day: day(t, "2023-10-14"), Hours: 330.4},
		{Day: day(t, "2024-10-11"), Hours: 371}, {Day: day(t, "2025-10-09"), Hours: 409.2},
	}
}

func BenchmarkNew(b *testing.B) {
	s, rs := lake(b), sixReadings(b)
	b.ReportAllocs()
	for b.Loop() {
		forecast.New(family(), s, rs, 0)
	}
}

func BenchmarkLaterThan(b *testing.B) {
	m, _ := forecast.New(family(), lake(b), sixReadings(b), 0)
	for _, c := range []struct{ name, day string }{
		{"bound decides", "2026-06-15"}, {"one incomplete beta", "2027-09-01"},
	} {
		on := day(b, c.day)
		b.Run(c.name, func(b *testing.B) {
			for b.Loop() {
				m.LaterThan(500, 0.25, on)
			}
		})
	}
}

func BenchmarkDayReached(b *testing.B) {
	m, _ := forecast.New(family(), lake(b), sixReadings(b), 0)
	for b.Loop() {
		m.DayReached(500, 0.25)
	}
}

func BenchmarkExpected(b *testing.B) {
	m, _ := forecast.New(family(), lake(b), sixReadings(b), 0)
	on := day(b, "2026-07-20")
	for b.Loop() {
		m.Expected(on)
	}
}

func BenchmarkRange(b *testing.B) {
	m, _ := forecast.New(family(), lake(b), sixReadings(b), 0)
	on := day(b, "2026-07-20")
	for b.Loop() {
		m.Range(on, 0.5)
	}
}

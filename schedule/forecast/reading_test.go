package forecast_test

import (
	"math"
	"slices"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"bellbuoy/schedule/civil"
	"bellbuoy/schedule/forecast"
)

// read makes a reading; a day ending in "*" is the first of a new meter.
func read(t testing.TB, on string, hours float64) forecast.Reading {
	t.Helper()
	plain, fresh := strings.CutSuffix(on, "*")
	return forecast.Reading{Day: day(t, plain), Hours: hours, NewMeter: fresh}
}

func TestFaults(t *testing.T) {
	type reading struct {
		on    string
		hours float64
	}
	for _, c := range []struct {
		name     string
		readings []reading
		faulty   float64 // the first figure refused, if there is a reason
		reason   string
	}{
		{"nothing wrong", []reading{{"2025-05-01", 100}, {"2025-10-01", 140}}, 0, ""},
		{"given out of order", []reading{{"2025-10-01", 140}, {"2025-05-01", 100}}, 0, ""},
		{"the same twice", []reading{{"2025-05-01", 100}, {"2025-05-01", 100}}, 0, ""},
		{"unchanged over the winter", []reading{{"2025-10-01", 140}, {"2026-05-01", 140}}, 0, ""},
		{"backwards: the earlier stands", []reading{{"2025-05-01", 140}, {"2025-10-01", 104}}, 104, "below the 140.0 h read on 2025-05-01"},
		{"one slip too low", []reading{{"2024-10-01", 130}, {"2025-05-01", 13}, {"2025-10-01", 160}}, 13, "below the 130.0 h"},
		{"one slip too high, among more", []reading{{"2024-05-01", 1300}, {"2024-10-01", 150}, {"2025-05-01", 160}}, 1300, "above the 150.0 h read later, on 2024-10-01"},
		{"more than the days have", []reading{{"2025-05-01", 100}, {"2025-05-05", 230}}, 230, "130.0 h more than on 2025-05-01"},
		{"as much as two days have", []reading{{"2025-05-01", 100}, {"2025-05-02", 148}}, 0, ""},
		{"two figures on one day", []reading{{"2025-05-01", 100}, {"2025-05-01", 101}}, 101, "both 100.0 h and 101.0 h on 2025-05-01"},
		{"a new meter", []reading{{"2025-05-01", 140}, {"2025-06-01*", 0}, {"2025-10-01", 20}}, 0, ""},
		{"old and new read on the day", []reading{{"2025-05-01", 140}, {"2025-06-01*", 0}, {"2025-06-01", 152}}, 0, ""},
		{"a record repeats the new meter's figure", []reading{{"2025-05-01", 140}, {"2025-06-01*", 0}, {"2025-06-01", 0}}, 0, ""},
		{"below the new meter's first", []reading{{"2025-06-01*", 5}, {"2025-07-01", 3}, {"2025-08-01", 4}, {"2025-09-01", 9}}, 3, "below the 5.0 h"},
		{"below nothing", []reading{{"2025-05-01", -1}}, -1.0, "not a meter figure"},
		{"no number", []reading{{"2025-05-01", math.Inf(1)}}, math.Inf(1), "not a meter figure"},
	} {
		t.Run(c.name, func(t *testing.T) {
			var rs []forecast.Reading
			for _, r := range c.readings {
				rs = append(rs, read(t, r.on, r.hours))
			}
			_, faults := forecast.New(family(), lake(t), rs, 0)
			if c.reason == "" {
				if len(faults) != 0 {
					t.Fatalf("faults %v, want none", faults)
				}
				return
			}
			if len(faults) == 0 || faults[0].Reading.Hours != c.faulty || !strings.Contains(faults[0].Reason, c.reason) {
				t.Fatalf("faults %v, want %v refused with %q", faults, c.faulty, c.reason)
			}
		})
	}
}

func TestReadingWithoutDayIsAFault(t *testing.T) {
	m, faults := forecast.New(family(), lake(t), []forecast.Reading{{Hours: 10}}, 0)
	if m.Known() || len(faults) != 1 || !strings.Contains(faults[0].Reason, "no day") {
		t.Errorf("known %v, faults %v", m.Known(), faults)
	}
}

// drawReadings draws a muddle of readings in which many contradict each other.
func drawReadings(t *rapid.T) []forecast.Reading {
	rs := make([]forecast.Reading, rapid.IntRange(0, 12).Draw(t, "readings"))
	for i := range rs {
		rs[i] = forecast.Reading{
			Day:      civil.Of(2024, 1, 1) + civil.Day(rapid.IntRange(0, 40).Draw(t, "day")*20),
			Hours:    float64(rapid.IntRange(-1, 60).Draw(t, "hours")),
			NewMeter: rapid.IntRange(0, 7).Draw(t, "new meter") == 0,
		}
	}
	return rs
}

func TestFaultsNeverChangeTheModel(t *testing.T) {
	s := lake(t)
	rapid.Check(t, func(t *rapid.T) {
		rs := drawReadings(t)
		start := civil.Day(0)
		if rapid.Bool().Draw(t, "start known") {
			start = civil.Of(2023, 6, 1)
		}
		m, faults := forecast.New(family(), s, rs, start)
		clean := slices.Clone(rs)
		for _, f := range faults {
			if f.Reason == "" {
				t.Fatalf("no reason against %v", f.Reading)
			}
			if !slices.Contains(rs, f.Reading) {
				t.Fatalf("a fault that was never read: %v", f.Reading)
			}
			clean = slices.DeleteFunc(clean, func(r forecast.Reading) bool { return r == f.Reading })
		}
		again, more := forecast.New(family(), s, clean, start)
		if len(more) != 0 {
			t.Fatalf("without the faults there are new ones: %v", more)
		}
		compareModels(t, m, again)
	})
}

// compareModels fails if two models say different things anywhere one looks.
func compareModels(t *rapid.T, a, b *forecast.Model) {
	da, ha := a.LastReading()
	db, hb := b.LastReading()
	if da != db || ha != hb || a.Rate() != b.Rate() {
		t.Fatalf("last %s %v at %v, against %s %v at %v", da, ha, a.Rate(), db, hb, b.Rate())
	}
	for d := civil.Of(2023, 1, 1); d < civil.Of(2029, 1, 1); d += 37 {
		if a.Expected(d) != b.Expected(d) || a.ReachedBy(70, d) != b.ReachedBy(70, d) {
			t.Fatalf("%s: %v h against %v h", d, a.Expected(d), b.Expected(d))
		}
	}
}

func TestOrderOfReadingsDoesNotMatter(t *testing.T) {
	s := lake(t)
	rapid.Check(t, func(t *rapid.T) {
		rs := drawReadings(t)
		a, _ := forecast.New(family(), s, rs, 0)
		b, _ := forecast.New(family(), s, rapid.Permutation(rs).Draw(t, "order"), 0)
		compareModels(t, a, b)
	})
}

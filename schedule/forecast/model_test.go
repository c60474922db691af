package forecast_test

import (
	"math"
	"testing"

	"pgregory.net/rapid"

	"bellbuoy/schedule/civil"
	"bellbuoy/schedule/forecast"
)

func model(t testing.TB, start string, readings ...forecast.Reading) *forecast.Model {
	t.Helper()
	from := civil.Day(0)
	if start != "" {
		from = day(t, start)
	}
	m, faults := forecast.New(family(), season(t, "05-01", "10-01", even), readings, from)
	if len(faults) != 0 {
		t.Fatalf("faults %v", faults)
	}
	return m
}

func near(t testing.TB, what string, got, want, tol float64) {
	t.Helper()
	if !(math.Abs(got-want) <= tol) {
		t.Errorf("%s = %.6f, want %.6f", what, got, want)
	}
}

func TestRate(t *testing.T) {
	for _, c := range []struct {
		name     string
		start    string
		readings []forecast.Reading
		want     float64
	}{
		{"nothing known: the prior", "", nil, 40},
		{"one reading says nothing of the rate", "", []forecast.Reading{read(t, "2025-06-01", 300)}, 40},
		{"one reading and the day of 0 h", "2025-05-01", []forecast.Reading{read(t, "2025-10-01", 20)}, (10 + 20) / 1.25},
		{"two readings, two seasons", "", []forecast.Reading{read(t, "2024-01-01", 100), read(t, "2026-01-01", 300)}, (10 + 200) / 2.25},
		{"what ran unseen between two meters is left out", "", []forecast.Reading{
			read(t, "2024-01-01", 100), read(t, "2025-01-01", 160), read(t, "2026-01-01*", 0), read(t, "2027-01-01", 60)}, (10 + 120) / 2.25},
		{"even if the new meter starts where the old one stood", "", []forecast.Reading{
			read(t, "2024-01-01", 100), read(t, "2025-01-01", 160), read(t, "2026-01-01*", 160), read(t, "2027-01-01", 220)}, (10 + 120) / 2.25},
		{"a start after the first reading is no start", "2025-07-01", []forecast.Reading{read(t, "2025-06-01", 20)}, 40},
		{"nor is one that the hours do not fit", "2025-05-30", []forecast.Reading{read(t, "2025-06-01", 300)}, 40},
		{"nor one before a new meter", "2020-05-01", []forecast.Reading{read(t, "2025-06-01*", 0)}, 40},
	} {
		t.Run(c.name, func(t *testing.T) {
			near(t, "rate", model(t, c.start, c.readings...).Rate(), c.want, 1e-9)
		})
	}
}

func TestExpected(t *testing.T) {
	m := model(t, "2024-05-01", read(t, "2025-05-01", 40), read(t, "2026-05-01", 70), read(t, "2026-12-01*", 5), read(t, "2026-12-24", 6))
	rate := (10 + 70 + 1) / 2.25
	for _, c := range []struct {
		name, on string
		want     float64
	}{
		{"on the day of the last reading", "2026-12-24", 6},
		{"the same all winter", "2027-05-01", 6},
		{"after a season", "2027-10-01", 6 + rate},
		{"after a fifth of one", "2027-06-01", 6 + rate/5},
		{"run out of season: by days", "2026-12-12", 5 + 11.0/23},
		{"on the present meter before it was fitted", "2026-05-01", 5},
		{"between readings, by running time", "2025-06-01", 5 - 70 + 40 + 30.0/5},
		{"between readings, in winter", "2026-02-01", 5},
		{"before the first: not below 0 in total", "2020-01-01", 5 - 70},
	} {
		t.Run(c.name, func(t *testing.T) {
			near(t, "hours on "+c.on, m.Expected(day(t, c.on)), c.want, 1e-9)
		})
	}
	back := model(t, "", read(t, "2026-05-01", 100))
	near(t, "hours a season before the only reading", back.Expected(day(t, "2025-05-01")), 60, 1e-9)
}

func TestUnknownEngine(t *testing.T) {
	bad, _ := forecast.New(forecast.Prior{}, lake(t), sixReadings(t), 0)
	for name, m := range map[string]*forecast.Model{"no reading, no start": model(t, ""), "a prior of nothing": bad} {
		t.Run(name, func(t *testing.T) {
			on := day(t, "2026-07-01")
			lo, hi := m.Range(on, 0.5)
			last, _ := m.LastReading()
			if m.Known() || last != 0 || m.Expected(on) != 0 || lo != 0 || hi != 0 || m.ReachedBy(0, on) != 0 {
				t.Error("an unknown engine has hours")
			}
			if _, ok := m.DayReached(100, 0.5); ok || !m.LaterThan(100, 0.5, on) {
				t.Error("an unknown engine reaches a limit")
			}
			if !m.NeedsReading(on, 100, 30) {
				t.Error("nobody asks for a reading")
			}
			near(t, "figure", m.ToCurrent(12, on), 12, 0)
			near(t, "figure", m.Total(12), 12, 0)
		})
	}
}

func TestPriorCheck(t *testing.T) {
	if err := family().Check(); err != nil {
		t.Errorf("a sound prior: %v", err)
	}
	for _, p := range []forecast.Prior{{}, {40, 0, 2.5, 0}, {40, 1, -1, 0}, {math.NaN(), 1, 2.5, 0}, {math.Inf(1), 1, 2.5, 0}, {40, 1, 2.5, -0.1}, {40, 1, 2.5, 25}} {
		if p.Check() == nil {
			t.Errorf("%v passes", p)
		}
	}
	near(t, "spread", family().Spread(), 0.5, 1e-12)
}

func TestMeters(t *testing.T) {
	m := model(t, "", read(t, "2024-05-01", 300), read(t, "2025-05-01", 340), read(t, "2025-06-01*", 2), read(t, "2025-10-01", 32))
	for _, c := range []struct {
		name, on string
		figure   float64
		want     float64
	}{
		{"the old meter", "2024-06-01", 310, -28},
		{"the old meter, before the first reading", "2023-06-01", 250, -88},
		{"the new meter", "2025-08-01", 20, 20},
		{"the new meter, after the last reading", "2026-08-01", 50, 50},
		{"between the two: nearer the old", "2025-05-20", 341, 3},
		{"between the two: nearer the new", "2025-05-20", 0, 0},
		{"on the day: the old", "2025-06-01", 340, 2},
		{"on the day: the new", "2025-06-01", 2, 2},
	} {
		t.Run(c.name, func(t *testing.T) {
			near(t, "figure", m.ToCurrent(c.figure, day(t, c.on)), c.want, 1e-9)
		})
	}
	near(t, "total", m.Total(32), 370, 1e-9)
}

func TestRateLiesBetweenPriorAndReadings(t *testing.T) {
	s := lake(t)
	rapid.Check(t, func(t *rapid.T) {
		p := forecast.Prior{
			MeanHours:   rapid.Float64Range(5, 300).Draw(t, "mean"),
			Weight:      rapid.Float64Range(0.05, 5).Draw(t, "weight"),
			OutingHours: rapid.Float64Range(0.5, 10).Draw(t, "outing"),
			Yearly:      rapid.Float64Range(0, 1).Draw(t, "yearly"),
		}
		from := drawDay(t, "from")
		to := from + civil.Day(rapid.IntRange(365, 4000).Draw(t, "days"))
		run := rapid.Float64Range(0, 3000).Draw(t, "hours")
		m, _ := forecast.New(p, s, []forecast.Reading{{Day: from, Hours: 10}, {Day: to, Hours: 10 + run}}, 0)
		data := run / s.Exposure(from, to)
		lo, hi := min(data, p.MeanHours), max(data, p.MeanHours)
		if r := m.Rate(); r < lo-1e-9 || r > hi+1e-9 {
			t.Fatalf("rate %v is not between %v and %v", r, lo, hi)
		}
	})
}

func TestSharedEngines(t *testing.T) {
	busy := []forecast.Reading{read(t, "2023-01-01", 100), read(t, "2026-01-01", 340)} // 80 h a season for 3
	port := model(t, "", busy...)
	alone := model(t, "", read(t, "2026-01-01", 500))
	twin := model(t, "", read(t, "2023-01-01", 90), read(t, "2026-01-01", 330))
	for _, c := range []struct {
		name   string
		sister *forecast.Model
		want   float64 // the rate of the sister
		port   float64
	}{
		{"a twin never read twice borrows at a discount", alone, (10 + 0.8*240) / (0.25 + 0.8*3), port.Rate()},
		{"twins read alike learn nothing new", twin, twin.Rate(), port.Rate()},
		{"nor from an engine without a reading", model(t, ""), (10 + 0.8*240) / (0.25 + 0.8*3), port.Rate()},
	} {
		t.Run(c.name, func(t *testing.T) {
			before := c.sister.Rate()
			both := forecast.Shared(port, c.sister)
			near(t, "port", both[0].Rate(), c.port, 1e-9)
			near(t, "sister", both[1].Rate(), c.want, 1e-9)
			near(t, "the model given", c.sister.Rate(), before, 0)
			_, kept := c.sister.LastReading()
			_, got := both[1].LastReading()
			near(t, "the sister's own meter", got, kept, 0)
		})
	}
	if got := forecast.Shared(); len(got) != 0 {
		t.Errorf("no engines make %d", len(got))
	}
	near(t, "a single engine", forecast.Shared(port)[0].Rate(), port.Rate(), 0)
}

package forecast_test

import (
	"testing"

	"pgregory.net/rapid"

	"bellbuoy/schedule/civil"
	"bellbuoy/schedule/forecast"
)

func TestDayReachedInThePast(t *testing.T) {
	m := model(t, "", read(t, "2024-05-01", 100), read(t, "2024-10-01", 150), read(t, "2025-01-10", 150), read(t, "2025-02-10", 152))
	for _, c := range []struct {
		name  string
		hours float64
		want  string
	}{
		{"before the first reading: dated to it", 60, "2024-05-01"},
		{"at the first reading", 100, "2024-05-01"},
		{"between two, by running time", 110, "2024-06-01"},
		{"at a reading that a winter repeats", 150, "2024-10-01"},
		{"run out of season: by days", 151, "2025-01-26"},
		{"at the last", 152, "2025-02-10"},
	} {
		t.Run(c.name, func(t *testing.T) {
			got, ok := m.DayReached(c.hours, 0.25)
			if !ok || got.String() != c.want {
				t.Errorf("%g h on %s, want %s", c.hours, got, c.want)
			}
			if p := m.ReachedBy(c.hours, got); p != 1 {
				t.Errorf("%g h by %s has chance %v, want 1", c.hours, got, p)
			}
			if c.hours > 100 && m.ReachedBy(c.hours, got-1) != 0 {
				t.Errorf("%g h was reached before %s", c.hours, got)
			}
		})
	}
}

func TestDayReachedEnds(t *testing.T) {
	m := model(t, "", read(t, "2025-05-01", 100))
	if d, ok := m.DayReached(100+40*40, 0.5); ok {
		t.Errorf("forty seasons of hours by %s", d)
	}
	if d, ok := m.DayReached(120, 1); ok {
		t.Errorf("certain by %s", d)
	}
	if d, ok := m.DayReached(120, 0); !ok || d != day(t, "2025-05-01") {
		t.Errorf("possible from %s, want the day of the reading", d)
	}
}

// drawModel draws an engine with believable readings, and its last reading.
func drawModel(t *rapid.T, s *forecast.Season) (*forecast.Model, civil.Day, float64) {
	p := forecast.Prior{
		MeanHours:   rapid.Float64Range(5, 200).Draw(t, "mean"),
		Weight:      rapid.Float64Range(0.05, 3).Draw(t, "weight"),
		OutingHours: rapid.Float64Range(0.5, 8).Draw(t, "outing"),
		Yearly:      rapid.SampledFrom([]float64{0, 0.25}).Draw(t, "yearly"),
	}
	r := forecast.Reading{Day: civil.Of(2020, 1, 1), Hours: 30}
	rs := []forecast.Reading{r}
	for range rapid.IntRange(0, 5).Draw(t, "more readings") {
		r.Day += civil.Day(rapid.IntRange(10, 500).Draw(t, "days"))
		r.Hours += rapid.Float64Range(0, 100).Draw(t, "run")
		rs = append(rs, r)
	}
	m, faults := forecast.New(p, s, rs, 0)
	if len(faults) != 0 {
		t.Fatalf("faults %v", faults)
	}
	return m, r.Day, r.Hours
}

func TestDayReachedIsMonotone(t *testing.T) {
	s := lake(t)
	rapid.Check(t, func(t *rapid.T) {
		m, _, last := drawModel(t, s)
		hours := last + rapid.Float64Range(-50, 400).Draw(t, "hours")
		more := hours + rapid.Float64Range(0, 50).Draw(t, "more")
		p := rapid.Float64Range(0.01, 0.98).Draw(t, "p")
		q := rapid.Float64Range(p, 0.99).Draw(t, "q")
		d, ok := m.DayReached(hours, p)
		if e, ok2 := m.DayReached(hours, q); ok2 && (!ok || e < d) {
			t.Fatalf("%v h: %s at %v, but %s at %v", hours, d, p, e, q)
		}
		if e, ok2 := m.DayReached(more, p); ok2 && (!ok || e < d) {
			t.Fatalf("at %v: %v h by %s, but %v h by %s", p, hours, d, more, e)
		}
	})
}

func TestDayReachedAgreesWithReachedBy(t *testing.T) {
	s := lake(t)
	rapid.Check(t, func(t *rapid.T) {
		m, from, last := drawModel(t, s)
		hours := last + rapid.Float64Range(0.1, 300).Draw(t, "hours")
		p := rapid.Float64Range(0.01, 0.99).Draw(t, "p")
		d, ok := m.DayReached(hours, p)
		if !ok {
			if got := m.ReachedBy(hours, from+15*365-2); got >= p {
				t.Fatalf("%v h at %v: no day, but chance %v after 15 years", hours, p, got)
			}
			return
		}
		if got := m.ReachedBy(hours, d); got < p-1e-6 {
			t.Fatalf("%v h by %s has chance %v, want %v", hours, d, got, p)
		}
		if got := m.ReachedBy(hours, d-1); got > p+1e-6 {
			t.Fatalf("%v h has chance %v a day before %s, want under %v", hours, got, d, p)
		}
		on := from + civil.Day(rapid.IntRange(-100, 4000).Draw(t, "on"))
		if near := on == d || on == d-1; !near && m.LaterThan(hours, p, on) != (d > on) {
			t.Fatalf("%v h at %v by %s: later than %s is %v", hours, p, d, on, m.LaterThan(hours, p, on))
		}
	})
}

func TestRangeAgreesWithReachedBy(t *testing.T) {
	s := lake(t)
	rapid.Check(t, func(t *rapid.T) {
		m, from, last := drawModel(t, s)
		on := from + civil.Day(rapid.IntRange(-200, 3000).Draw(t, "on"))
		p := rapid.Float64Range(0.05, 0.95).Draw(t, "p")
		lo, hi := m.Range(on, p)
		if lo > hi {
			t.Fatalf("from %v to %v h", lo, hi)
		}
		if on <= from {
			if x := m.Expected(on); x < lo-1e-9 || x > hi+1e-9 {
				t.Fatalf("%v h expected outside %v to %v", x, lo, hi)
			}
			return
		}
		if hi > last {
			if got := m.ReachedBy(hi, on); got < (1-p)/2-1e-6 || got > (1-p)/2+1e-6 {
				t.Fatalf("the upper end has chance %v, want %v", got, (1-p)/2)
			}
		}
		if lo > last {
			if got := m.ReachedBy(lo, on); got < (1+p)/2-1e-6 || got > (1+p)/2+1e-6 {
				t.Fatalf("the lower end has chance %v, want %v", got, (1+p)/2)
			}
		}
	})
}

func TestNeedsReading(t *testing.T) {
	used := []forecast.Reading{read(t, "2023-10-01", 100), read(t, "2025-10-01", 180)}
	for _, c := range []struct {
		name, today string
		hours       float64
		lead        int
		want        bool
	}{
		{"the limit may be near and the range is wide", "2026-07-15", 205, 14, true},
		{"the range is narrower than the lead time", "2026-07-15", 205, 300, false},
		{"the limit is far", "2026-07-15", 900, 14, false},
		{"the limit is passed", "2026-07-15", 150, 14, false},
		{"the meter was read the other day", "2025-10-08", 185, 14, false},
		{"not afloat since the last reading", "2026-03-01", 181, 14, false},
	} {
		t.Run(c.name, func(t *testing.T) {
			if got := model(t, "", used...).NeedsReading(day(t, c.today), c.hours, c.lead); got != c.want {
				t.Errorf("got %v, want %v", got, c.want)
			}
		})
	}
}

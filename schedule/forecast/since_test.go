package forecast_test

import (
	"testing"

	"pgregory.net/rapid"

	"bellbuoy/schedule/civil"
	"bellbuoy/schedule/forecast"
)

// TestWhatIsRunSinceWorkIsRunAfterIt: however old the last reading, hours that
// count from work are not reached before it, and are reached as late as if the
// meter had been read at what was expected.
func TestWhatIsRunSinceWorkIsRunAfterIt(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		first := day(t, "2022-06-01")
		m := model(t, "", read(t, "2022-06-01", 330))
		work := first + civil.Day(rapid.IntRange(1, 5*365).Draw(rt, "work"))
		hours := rapid.Float64Range(20, 300).Draw(rt, "hours")
		p := rapid.Float64Range(0.05, 0.9).Draw(rt, "chance")
		s := m.Since(work)
		from := s.Expected(work)
		if from != m.Expected(work) {
			rt.Fatalf("%v h on %s, the forecast before said %v", from, work, m.Expected(work))
		}
		got, ok := s.DayReached(from+hours, p)
		if ok && got < work {
			rt.Fatalf("%v h after work on %s are reached by %s", hours, work, got)
		}
		fresh := model(t, "", read(t, "2022-06-01", 330))
		if whole, wholeOK := fresh.DayReached(330+hours, p); ok && wholeOK && got-work > (whole-first)+370 {
			rt.Fatalf("%v h take %d days from work and %d from a reading", hours, got-work, whole-first)
		}
	})
	m := model(t, "", read(t, "2024-05-01", 100), read(t, "2025-05-01", 150))
	for _, d := range []string{"2023-01-01", "2024-08-01", "2025-05-01"} {
		if m.Since(day(t, d)) != m {
			t.Errorf("work on %s, not after the last reading, changed the forecast", d)
		}
	}
	var unknown forecast.Model
	if unknown.Since(day(t, "2025-05-01")).Known() {
		t.Error("work makes an engine known")
	}
}

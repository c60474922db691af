package kernel

import (
	"testing"

	"pgregory.net/rapid"

	"bellbuoy/schedule/civil"
)

func TestDaysReadAsTheCalendarReadsThem(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		d := civil.Day(rapid.IntRange(1, 3_652_059).Draw(t, "day"))
		got, err := ParseDay(d.String())
		if err != nil || got != d {
			t.Fatalf("%s reads as %s, %v", d, got, err)
		}
	})
	for _, s := range []string{"", "2026-13-01", "2026-02-29", "20260-1-01", "2026-01-0x", "0000-01-01"} {
		if d, err := ParseDay(s); err == nil {
			t.Errorf("%q reads as %s", s, d)
		}
	}
}

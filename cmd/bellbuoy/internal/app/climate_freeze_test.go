package app_test

import (
	"testing"

	"bellbuoy/schedule/civil"
	"bellbuoy/schedule/climate"
	"bellbuoy/store/freeze"
)

// TestPlacesKnowTheHardFreeze: a station's record that counts hard freezes says
// when this autumn's first one was; one that counts from 32 °F on does not.
func TestPlacesKnowTheHardFreeze(t *testing.T) {
	a := workedApp(t, "10-09", 1)
	first := d("2026-10-29")
	for _, c := range []struct {
		threshold climate.Threshold
		want      civil.Day
	}{{climate.HardFreeze, first}, {climate.Frost, 0}} {
		pc := freeze.Climate{Place: "Our lake", LayUp: civil.MonthDay{Month: 10, Day: 9}, Percentile: 10, Freeze: climate.Freeze{
			Threshold: c.threshold,
			Autumns:   []climate.Autumn{{Year: 2025, First: d("2025-11-02"), Froze: true, Used: true}, {Year: 2026, First: first, Froze: true}},
		}}
		if err := freeze.SetClimate(t.Context(), a.Writer(), d("2026-11-10").At(9, 0, a.Config.Zone()), "test", pc); err != nil {
			t.Fatal(err)
		}
		pl, err := a.Place(t.Context(), "Our lake")
		if err != nil || pl.HardFreeze != c.want {
			t.Errorf("by a record of %s the first hard freeze was %s, %v; want %s", c.threshold.Fahrenheit(), pl.HardFreeze, err, c.want)
		}
	}
}

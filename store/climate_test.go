package store_test

import (
	"errors"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"bellbuoy/schedule/civil"
	"bellbuoy/schedule/climate"
	"bellbuoy/store"
	"bellbuoy/store/freeze"
)

func TestClimateOfAPlaceIsKept(t *testing.T) {
	db := open(t)
	take(t, db, small())
	clean(t, db)
	october := civil.MonthDay{Month: time.October, Day: 3}
	pc := freeze.Climate{
		Place: "Pine Cove", Percentile: 10, LayUp: october, File: "pine.csv", LoadedAt: noon,
		Freeze: climate.Freeze{
			Station: "ST1", Name: "Pine Cove pier", Threshold: climate.HardFreeze, FreezesInPercent: 96.5, LastSeen: day(t, "2026-07-31"),
			Autumns:     []climate.Autumn{{Year: 2024, First: day(t, "2024-10-01"), Froze: true, Missing: 2, Used: true}, {Year: 2025, Missing: 90, Reason: "90 of 153 days are missing"}},
			Percentiles: []climate.Percentile{{P: 10, Day: october}},
			Dropped:     []climate.Drop{{Flag: "QFLAG S", Count: 4, Meaning: "failed the spatial consistency check"}},
			Notes:       []string{"Only 1 autumn."},
		},
	}
	if err := freeze.SetClimate(t.Context(), db, noon, "test", pc); err != nil {
		t.Fatal(err)
	}
	got, err := freeze.Climates(t.Context(), db.Reader)
	if err != nil {
		t.Fatal(err)
	}
	if diff := cmp.Diff([]freeze.Climate{pc}, got); diff != "" {
		t.Error(diff)
	}
	if n := len(dirty(t, db)); n != 3 {
		t.Errorf("%d boats to be planned anew, want the three at Pine Cove", n)
	}
	clean(t, db)
	mild := freeze.Climate{Place: "Palm Basin", Percentile: 10, LoadedAt: noon}
	if err := freeze.SetClimate(t.Context(), db, noon, "test", mild); err != nil {
		t.Fatal(err)
	}
	if n := len(dirty(t, db)); n != 0 {
		t.Errorf("%d boats to be planned anew for a place where none floats", n)
	}
	if err := freeze.RemoveClimate(t.Context(), db, noon, "test", "Pine Cove"); err != nil {
		t.Fatal(err)
	}
	if n := len(dirty(t, db)); n != 3 {
		t.Errorf("%d boats to be planned anew after the climate was forgotten, want three", n)
	}
	if err := freeze.RemoveClimate(t.Context(), db, noon, "test", "Pine Cove"); !errors.Is(err, store.ErrNotFound) {
		t.Errorf("forgotten twice: %v", err)
	}
}

func dirty(t *testing.T, db *store.DB) []string {
	t.Helper()
	ids, err := db.DirtyBoats(t.Context(), 100)
	if err != nil {
		t.Fatal(err)
	}
	return ids
}

// clean has every boat planned, with an empty plan.
func clean(t *testing.T, db *store.DB) {
	t.Helper()
	seen, err := db.FactsVersion(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	var plans []store.NewPlan
	for _, id := range dirty(t, db) {
		plans = append(plans, store.NewPlan{BoatID: id, Seen: seen})
	}
	if _, err := db.SavePlans(t.Context(), noon, plans); err != nil {
		t.Fatal(err)
	}
}

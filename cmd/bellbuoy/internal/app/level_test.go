package app_test

import (
	"testing"

	"bellbuoy/cmd/bellbuoy/internal/app"
	"bellbuoy/schedule"
	"bellbuoy/schedule/civil"
	"bellbuoy/schedule/level"
)

// TestDemoShopIsLevel holds the demo shop's autumn to what the desk was
// promised: the busiest week is calmer than if every boat came when it liked,
// and no boat with raw water in it and no roof over it waits past its deadline
// while some week before that had hours for it.
func TestDemoShopIsLevel(t *testing.T) {
	if testing.Short() {
		t.Skip("levels a whole shop")
	}
	for _, c := range []struct {
		name   string
		crew   int
		enough bool // for every boat to be in time
	}{{"enough technicians", 7, true}, {"too few", 3, false}} {
		t.Run(c.name, func(t *testing.T) {
			today := d("2026-08-03")
			a := demoApp(t, c.crew, 400, 3, today)
			settle(t, a, today)
			w, err := a.Fit(t.Context(), today)
			if err != nil {
				t.Fatal(err)
			}
			t.Logf("before levelling peak %.2f, mean %.2f; after %.2f, %.2f; %d at risk, %d weeks short",
				w.BeforePeak, w.BeforeMean, w.Peak, w.Mean(), len(w.AtRisk), len(w.Short))
			if w.Peak >= w.BeforePeak || w.Peak > 1 {
				t.Errorf("levelled to a peak of %.2f, unlevelled it is %.2f", w.Peak, w.BeforePeak)
			}
			if c.enough != (len(w.AtRisk) == 0) {
				t.Errorf("%d visits at risk", len(w.AtRisk))
			}
			rawInTime(t, a, w, today, c.enough)
		})
	}
}

// lastGoodWeek is the last week in which the shop works on or before a day.
func lastGoodWeek(t testing.TB, a *app.App, d civil.Day) civil.Week {
	for ; ; d-- {
		works, err := a.Works(t.Context(), d)
		if err != nil {
			t.Fatal(err)
		}
		if works {
			return d.Week()
		}
	}
}

// rawInTime looks at every raw-water boat outdoors.
func rawInTime(t *testing.T, a *app.App, w *app.Weeks, today civil.Day, enough bool) {
	free := make(map[civil.Week]int)
	for _, l := range w.Load {
		free[l.Week] = l.Capacity[level.Labor] - l.Booked[level.Labor] - l.Pencilled[level.Labor]
	}
	raw, late := 0, 0
	for _, v := range visits(t, a) {
		if v.Kind != schedule.LayUp || v.Priority < schedule.PriorityRawOutdoors || v.Booked() || v.Lapsed || v.Deadline < today.Week().Sunday() {
			continue
		}
		raw++
		if v.Week != 0 && v.Week <= lastGoodWeek(t, a, v.Deadline) {
			continue
		}
		late++
		for week := max(v.Open.Week(), today.Week()); week.Sunday() <= v.Deadline; week++ {
			if free[week] >= v.Labour {
				t.Errorf("%s (%d min) is pencilled for %s, after its deadline %s, while %s has %d min free", v.ID, v.Labour, v.Week, v.Deadline, week, free[week])
			}
		}
	}
	if raw < 50 {
		t.Fatalf("only %d lay-ups of raw-water boats outdoors: the test looks at nothing", raw)
	}
	if enough && late > 0 {
		t.Errorf("%d raw-water boats late though there are hours for all", late)
	}
	t.Logf("%d lay-ups of raw-water boats outdoors, %d late for want of hours", raw, late)
}

// TestOneRecordMovesOnlyItsBoat: while there are hours, one recorded service
// changes no other boat's week, and the boat's own only where its visits did.
func TestOneRecordMovesOnlyItsBoat(t *testing.T) {
	if testing.Short() {
		t.Skip("levels a whole shop")
	}
	today := d("2026-08-03")
	a := demoApp(t, 8, 400, 3, today)
	settle(t, a, today)
	before := visits(t, a)
	ids, err := a.DB.BoatIDs(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	moved := 0
	for i := 0; i < len(ids); i += 40 {
		f, err := a.Facts(t.Context(), ids[i])
		if err != nil {
			t.Fatal(err)
		}
		r := schedule.Record{BoatID: f.Boat.ID, Day: today, Service: "engine-oil", By: schedule.ByShop}
		if _, err := a.Writer().AddRecord(t.Context(), today.At(10, 0, a.Config.Zone()), "test", r); err != nil {
			t.Fatal(err)
		}
		done := settle(t, a, today)
		after := visits(t, a)
		for id, v := range after {
			if old, ok := before[id]; ok && v.Week != old.Week {
				moved++
				if v.BoatID != f.Boat.ID {
					t.Errorf("a record of boat %s moved %s from %s to %s", f.Boat.ID, id, old.Week, v.Week)
				}
			}
		}
		if done.Boats != 1 || done.Moved > 2 {
			t.Errorf("boat %s: %d boats planned, %d visits moved", f.Boat.ID, done.Boats, done.Moved)
		}
		before = after
	}
	t.Logf("%d records moved %d visits", (len(ids)+39)/40, moved)
}

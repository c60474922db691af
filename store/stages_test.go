package store_test

import (
	"errors"
	"slices"
	"testing"
	"time"

	"bellbuoy/schedule"
	"bellbuoy/schedule/civil"
	"bellbuoy/store"
	"bellbuoy/store/report"
)

// TestADayHasItsVisitsInOrderAndTheirStages: by the hour, any hour last, and before
// them what is still with us; a stage goes one press at a time and leaves the plan
// alone.
func TestADayHasItsVisitsInOrderAndTheirStages(t *testing.T) {
	db := open(t)
	take(t, db, small())
	now := time.Unix(1_800_000_000, 0)
	monday := civil.Of(2027, 5, 3)
	planned(t, db, "B1", map[string]string{"early": "2027-05-20", "late": "2027-05-20", "any": "2027-05-20", "before": "2027-05-20", "gone": "2027-05-20"})
	for _, b := range []schedule.Booking{
		{VisitID: "any", Day: monday, Minute: -1}, {VisitID: "late", Day: monday, Minute: 900}, {VisitID: "early", Day: monday, Minute: 480},
		{VisitID: "before", Day: monday - 3, Minute: -1}, {VisitID: "gone", Day: monday - 3, Minute: -1},
	} {
		b.BoatID, b.Kind = "B1", schedule.FitOut
		if err := db.Book(t.Context(), now, "desk", b, nil, nil); err != nil {
			t.Fatal(err)
		}
	}
	press := func(visit string, was, is store.Stage) error {
		return db.SetStage(t.Context(), now, "Ruth", visit, was, is)
	}
	for _, p := range []struct {
		visit   string
		was, is store.Stage
		err     error
	}{
		{"before", store.StageBooked, store.StageHere, nil},
		{"before", store.StageHere, store.StageWaiting, nil},
		{"gone", store.StageBooked, store.StageHere, nil},
		{"gone", store.StageHere, store.StageReady, nil},
		{"gone", store.StageReady, store.StagePickedUp, nil},
		{"early", store.StageBooked, store.StageHere, nil},
		{"early", store.StageBooked, store.StageReady, store.ErrStale}, // somebody was faster
		{"late", store.StageBooked, "lost", store.ErrRefused},
		{"never booked", store.StageBooked, store.StageHere, store.ErrNotFound},
	} {
		if err := press(p.visit, p.was, p.is); !errors.Is(err, p.err) {
			t.Errorf("%s to %s: %v, want %v", p.visit, p.is, err, p.err)
		}
	}
	if err := db.AssignVisit(t.Context(), now, "Inge", "late", "Ruth"); err != nil {
		t.Fatal(err)
	}
	list := func(yard bool) (got []string) {
		rows, err := db.Day(t.Context(), monday, yard)
		if err != nil {
			t.Fatal(err)
		}
		for _, r := range rows {
			got = append(got, r.VisitID+" "+string(r.Stage)+" "+r.Technician)
		}
		return got
	}
	today := []string{"early here ", "late booked Ruth", "any booked "}
	if got := list(false); !slices.Equal(got, today) {
		t.Errorf("the day has %q, want %q", got, today)
	}
	if got, want := list(true), append([]string{"before waiting "}, today...); !slices.Equal(got, want) {
		t.Errorf("today has %q, want %q", got, want)
	}

	if n, err := db.ReleaseMissed(t.Context(), now, "bellbuoy", monday); err != nil || n != 1 {
		t.Errorf("released %d, %v; want only the one that was picked up", n, err)
	}
	if got := list(true); got[0] != "before waiting " {
		t.Errorf("a boat that waits for parts lost its booking: %q", got)
	}
	log, err := report.Changes(t.Context(), db.Reader, "B1", 0, 1000)
	if err != nil || !slices.ContainsFunc(log, func(c report.Change) bool { return c.Actor == "Ruth" && c.What == "the day" }) {
		t.Errorf("the change history does not have the presses: %v", err)
	}
}

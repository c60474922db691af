package store_test

import (
	"errors"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"bellbuoy/schedule"
	"bellbuoy/schedule/civil"
	"bellbuoy/store"
	"bellbuoy/store/report"
)

// onFile is all that taking something back must bring back.
type onFile struct {
	Facts  schedule.Facts
	Owners []schedule.Ownership
	Found  []store.Measurement
}

func fileOf(t *testing.T, db *store.DB, boat string) onFile {
	t.Helper()
	f, err := db.Facts(t.Context(), boat)
	if err != nil {
		t.Fatal(err)
	}
	owners, err := db.Ownerships(t.Context(), boat)
	if err != nil {
		t.Fatal(err)
	}
	m, err := db.Measurements(t.Context(), boat)
	if err != nil {
		t.Fatal(err)
	}
	return onFile{f, owners, m}
}

// TestTakeBackWork: a winterization of a boat that we store is taken back with its
// haul-out and the reading, once, and stands in the change history.
func TestTakeBackWork(t *testing.T) {
	db := open(t)
	take(t, db, small())
	before := fileOf(t, db, "B2")
	day := civil.Of(2026, time.October, 6)
	w := store.Work{
		BoatID:   "B2",
		Records:  []schedule.Record{{BoatID: "B2", Day: day, Service: schedule.LayUp, By: schedule.ByShop, Amount: 31000}},
		Readings: []schedule.Reading{{ComponentID: "E2", Day: day, Hours: 1200, ReadBy: "shop"}},
	}
	if err := db.RecordWork(t.Context(), noon, "desk", "form-1", w); err != nil {
		t.Fatal(err)
	}
	if got := len(fileOf(t, db, "B2").Facts.Records); got != 2 {
		t.Fatalf("%d records, want the winterization and its haul-out", got)
	}
	m := store.Mistake{BoatID: "B2", Records: w.Records, Readings: w.Readings}
	if err := db.TakeBackWork(t.Context(), noon, "desk", "form-2", m); err != nil {
		t.Fatal(err)
	}
	if diff := cmp.Diff(before, fileOf(t, db, "B2")); diff != "" {
		t.Errorf("not as before (-want +got):\n%s", diff)
	}
	if err := db.TakeBackWork(t.Context(), noon, "desk", "form-2", m); !errors.Is(err, store.ErrRefused) {
		t.Errorf("a second press: %v", err)
	}
	if err := db.TakeBackWork(t.Context(), noon, "desk", "form-3", m); !errors.Is(err, store.ErrNotFound) {
		t.Errorf("what is not there: %v", err)
	}
	gone, err := db.TakenBackOf(t.Context(), "B2")
	if err != nil || len(gone) != 2 || gone[1].Record.Service != schedule.LayUp || gone[1].Actor != "desk" {
		t.Errorf("taken back %+v (%v)", gone, err)
	}
	changes, err := report.Changes(t.Context(), db.Reader, "B2", 0, 100)
	if err != nil || len(changes) < 6 {
		t.Errorf("%d changes in the history (%v)", len(changes), err)
	}
}

// TestTakeBackOwner undoes each way in which a boat changes hands.
func TestTakeBackOwner(t *testing.T) {
	day := civil.Of(2026, time.October, 6)
	for name, change := range map[string]func(db *store.DB) error{
		"traded in": func(db *store.DB) error {
			_, err := db.HandOver(t.Context(), noon, "desk", store.Handover{BoatID: "B2", Day: day})
			return err
		},
		"inactive": func(db *store.DB) error {
			_, err := db.HandOver(t.Context(), noon, "desk", store.Handover{BoatID: "B2", Day: day, Gone: true})
			return err
		},
		"another owner": func(db *store.DB) error {
			_, err := db.HandOver(t.Context(), noon, "desk", store.Handover{BoatID: "B2", Day: day, To: schedule.Customer{ID: "C3"}})
			return err
		},
	} {
		t.Run(name, func(t *testing.T) {
			db := open(t)
			take(t, db, small())
			before := fileOf(t, db, "B2")
			if err := change(db); err != nil {
				t.Fatal(err)
			}
			owners := fileOf(t, db, "B2").Owners
			newest := owners[len(owners)-1]
			stale := newest
			stale.CustomerID = "C1"
			if err := db.TakeBackOwner(t.Context(), noon, "desk", "form-0", "B2", stale); !errors.Is(err, store.ErrStale) {
				t.Errorf("what somebody saw before: %v", err)
			}
			if err := db.TakeBackOwner(t.Context(), noon, "desk", "form-1", "B2", newest); err != nil {
				t.Fatal(err)
			}
			if diff := cmp.Diff(before, fileOf(t, db, "B2")); diff != "" {
				t.Errorf("not as before (-want +got):\n%s", diff)
			}
			if err := db.TakeBackOwner(t.Context(), noon, "desk", "form-1", "B2", newest); !errors.Is(err, store.ErrRefused) {
				t.Errorf("a second press: %v", err)
			}
		})
	}
}

// TestTakeBackSale undoes a sale of a trade-in with all that its form wrote, and
// leaves what was written down before and after.
func TestTakeBackSale(t *testing.T) {
	db := open(t)
	take(t, db, small())
	day := civil.Of(2026, time.October, 6)
	if _, err := db.HandOver(t.Context(), noon, "desk", store.Handover{BoatID: "B2", Day: day - 30}); err != nil {
		t.Fatal(err)
	}
	before := fileOf(t, db, "B2")
	b := before.Facts.Boat
	b.WarrantyUntil = day + 90
	sold, err := db.Sell(t.Context(), noon.Add(time.Hour), "desk", store.Sale{
		Form: "sale", Day: day, Buyer: schedule.Customer{ID: "C3"}, Boat: b,
		Work: store.Work{
			Records:      []schedule.Record{{Day: day, Service: "impeller", ComponentID: "E2", By: schedule.ByBeforeSale}},
			Readings:     []schedule.Reading{{ComponentID: "E2", Day: day, Hours: 1200, ReadBy: "shop"}},
			Measurements: []store.Measurement{{ComponentID: "E2", Day: day, Kind: store.MeasureCompression, Figures: []float64{150, 148}}},
		},
	})
	if err != nil || sold.BoatID != "B2" {
		t.Fatal(sold, err)
	}
	owners := fileOf(t, db, "B2").Owners
	if err := db.TakeBackOwner(t.Context(), noon.Add(2*time.Hour), "desk", "form-1", "B2", owners[len(owners)-1]); err != nil {
		t.Fatal(err)
	}
	if diff := cmp.Diff(before, fileOf(t, db, "B2")); diff != "" {
		t.Errorf("not as before (-want +got):\n%s", diff)
	}
}

// TestTakeBackCall opens again what a call settled, and forgets a no.
func TestTakeBackCall(t *testing.T) {
	db := open(t)
	take(t, db, small())
	if _, err := db.SaveAnswer(t.Context(), noon, "C1", store.NewAnswer{Answer: schedule.Answer{CustomerID: "C1", Kind: schedule.AnswerCall}}); err != nil {
		t.Fatal(err)
	}
	open := func() int {
		n, err := db.CountOpenAnswers(t.Context())
		if err != nil {
			t.Fatal(err)
		}
		return n
	}
	if err := db.LogCall(t.Context(), noon.Add(time.Hour), store.Call{Actor: "desk", CustomerID: "C1", Outcome: store.CallSettled, Note: "All well"}); err != nil {
		t.Fatal(err)
	}
	calls, err := db.CallsTo(t.Context(), "C1", 10)
	if err != nil || len(calls) != 1 || open() != 0 {
		t.Fatalf("%v, %d open (%v)", calls, open(), err)
	}
	if err := db.TakeBackCall(t.Context(), noon.Add(2*time.Hour), "desk", "form-1", calls[0].ID); err != nil {
		t.Fatal(err)
	}
	if calls, err = db.CallsTo(t.Context(), "C1", 10); err != nil || len(calls) != 0 || open() != 1 {
		t.Errorf("%v, %d open (%v)", calls, open(), err)
	}
	changes, err := report.CustomerChanges(t.Context(), db.Reader, "C1", 0, 10)
	if err != nil || changes[0].What != "take back a call" {
		t.Errorf("change history %+v (%v)", changes, err)
	}
}

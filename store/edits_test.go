package store_test

import (
	"errors"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"bellbuoy/schedule"
	"bellbuoy/schedule/civil"
	"bellbuoy/store"
)

// TestPartsAreReplaced puts a new engine in the place of an old one: the old one's
// history stays, and it is no longer of what the plan is made.
func TestPartsAreReplaced(t *testing.T) {
	db := open(t)
	take(t, db, small())
	day := civil.Of(2026, time.October, 20)
	before := fileOf(t, db, "B1")
	parts := before.Facts.Components
	old := parts[0]
	if old.ID != "E1" {
		t.Fatal(old)
	}
	fresh := old
	fresh.ID, fresh.InService = "", day
	if _, err := db.ChangePart(t.Context(), noon, "desk", "form-1", store.PartChange{BoatID: "B1", Was: &old, Now: &fresh, Retired: civil.Of(2026, time.October, 1)}); !errors.Is(err, store.ErrRefused) {
		t.Errorf("before its last work: %v", err)
	}
	id, err := db.ChangePart(t.Context(), noon, "desk", "form-1", store.PartChange{BoatID: "B1", Was: &old, Now: &fresh, Retired: day})
	if err != nil {
		t.Fatal(err)
	}
	f := fileOf(t, db, "B1").Facts
	if len(f.Retired) != 1 || f.Retired[0].ID != "E1" || f.Retired[0].On != day || len(f.Components) != len(parts) || len(f.Records) != len(before.Facts.Records) {
		t.Errorf("retired %v, components %v", f.Retired, f.Components)
	}
	if _, err := db.ChangePart(t.Context(), noon, "desk", "form-1", store.PartChange{BoatID: "B1", Was: &old, Retired: day}); !errors.Is(err, store.ErrRefused) {
		t.Errorf("a second press: %v", err)
	}
	// A file that still holds the old engine does not put it back.
	take(t, db, small())
	if f = fileOf(t, db, "B1").Facts; len(f.Retired) != 1 {
		t.Error("a file put the old engine back")
	}
	all := func() (n int) {
		if err := db.EachFacts(t.Context(), nil, func(f *schedule.Facts) error { n += len(f.Components); return nil }); err != nil {
			t.Fatal(err)
		}
		return n
	}
	with := all()
	if err := db.UnretirePart(t.Context(), noon, "desk", "B1", "E1"); err != nil {
		t.Fatal(err)
	}
	if all() != with+1 {
		t.Error("the whole fleet's facts hold what is retired")
	}
	now := fileOf(t, db, "B1").Facts.Components
	for _, c := range now {
		if c.ID == id {
			if _, err := db.ChangePart(t.Context(), noon, "desk", "form-2", store.PartChange{BoatID: "B1", Was: &c, Retired: day}); err != nil {
				t.Fatal(err)
			}
		}
	}
	if diff := cmp.Diff(parts, fileOf(t, db, "B1").Facts.Components); diff != "" {
		t.Errorf("not as before (-want +got):\n%s", diff)
	}
}

func TestBoatNote(t *testing.T) {
	db := open(t)
	take(t, db, small())
	write := func(was, words string) error {
		return db.SetBoatNote(t.Context(), noon, "desk", "B1", was, words)
	}
	if err := write("", "Key under the mat"); err != nil {
		t.Fatal(err)
	}
	if err := write("", "Key under the mat"); err != nil {
		t.Errorf("sent twice: %v", err)
	}
	if err := write("", "Ask first"); !errors.Is(err, store.ErrStale) {
		t.Errorf("over another's: %v", err)
	}
	if n, err := db.BoatNote(t.Context(), "B1"); err != nil || n.Words != "Key under the mat" || n.Actor != "desk" {
		t.Errorf("%+v (%v)", n, err)
	}
	if err := write("Key under the mat", ""); err != nil {
		t.Fatal(err)
	}
	if n, err := db.BoatNote(t.Context(), "B1"); err != nil || n.Words != "" {
		t.Errorf("%+v (%v)", n, err)
	}
}

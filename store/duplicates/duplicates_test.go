package duplicates_test

import (
	"errors"
	"fmt"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"bellbuoy/schedule"
	"bellbuoy/store"
	"bellbuoy/store/duplicates"
	"bellbuoy/store/imports"
	"bellbuoy/store/outbox"
	"bellbuoy/store/storetest"
)

// doubled is a shop in which one customer and one boat are written down twice.
func doubled() map[string]string {
	m := small()
	m["customers.csv"] += "C4,\"LUKASZ, zoe\",ZOE@example.org,,9 Pier St,Pine Landing,NY,,email\n" +
		"C5,Bram Teel,,,2 Cove Rd,Pine Landing,,,phone\n"
	m["boats.csv"] += "B4,C4,QQXI2345A919,,Tarnmoor,Skiff 18,2019,runabout,18.5,fresh,Pine Cove,own-dock,2019-05-02,\n"
	m["components.csv"] += "E4,B4,engine,Engine,outboard,four,gasoline,raw-water,2019-05-02,,,,,\n" +
		"X4,B4,flares,Flares,,,,,,2030-12-31,,,,\n"
	m["history.csv"] += "B4,E4,2025-05-02,impeller,210,250,shop,\nB4,,2026-10-03,lay-up,,1,shop,the same day as the other\nB4,B4,2025-05-03,hull-wash,,,shop,\n"
	m["readings.csv"] += "E4,2025-05-02,210,shop,\nE4,2026-10-03,281,shop,\n"
	return m
}

func TestDuplicatesAreFound(t *testing.T) {
	db := open(t)
	take(t, db, doubled())
	all, err := duplicates.Find(t.Context(), db.Reader)
	if err != nil {
		t.Fatal(err)
	}
	var got []string
	for _, p := range all {
		got = append(got, fmt.Sprintf("%s %s %s: %s", p.Kind, p.A, p.B, strings.Join(p.Why, ", ")))
	}
	want := []string{
		"customer C1 C4: same email address, same name",
		"customer C2 C5: nearly the same name at the same street",
		"boat B1 B4: hull numbers that look alike",
	}
	if diff := cmp.Diff(want, got); diff != "" {
		t.Errorf("-want +got:\n%s", diff)
	}
}

// A merge moves everything, the files that name the merged ids then change
// nothing, and taking it back leaves the shop as it was.
func TestMergeAndBack(t *testing.T) {
	tests := []struct {
		name, kind, kept, gone string
		check                  func(t *testing.T, db *store.DB)
	}{
		{"customer", duplicates.KindCustomer, "C1", "C4", func(t *testing.T, db *store.DB) {
			boats, err := db.BoatsOf(t.Context(), "C1")
			if err != nil || len(boats) != 2 {
				t.Errorf("C1 has %d boats, %v; want 2", len(boats), err)
			}
		}},
		{"customer who fills gaps", duplicates.KindCustomer, "C4", "C1", func(t *testing.T, db *store.DB) {
			c, err := db.Customer(t.Context(), "C4")
			if err != nil || c.Phone != "555-0101" || c.Address != "9 Pier St" {
				t.Errorf("C4 is %+v, %v", c, err)
			}
		}},
		{"boat", duplicates.KindBoat, "B1", "B4", func(t *testing.T, db *store.DB) {
			f, err := db.Facts(t.Context(), "B1")
			if err != nil || len(f.Records) != 7 || len(f.Readings) != 3 {
				t.Errorf("B1 has %d records and %d readings, %v; want 7 and 3", len(f.Records), len(f.Readings), err)
			}
			for _, r := range f.Records {
				if r.ComponentID == "E4" || r.ComponentID == "B4" {
					t.Errorf("a record is still of %s", r.ComponentID)
				}
			}
			if !hasPart(f.Components, "X4") || hasPart(f.Components, "E4") {
				t.Error("B1 should have the flares of B4 and one engine")
			}
			if b, err := db.Boat(t.Context(), "B4"); err != nil || b.Gone != day(t, "2026-11-25") {
				t.Errorf("B4 is gone on %v, %v", b.Gone, err)
			}
		}},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			db := open(t)
			take(t, db, doubled())
			if tt.kind == duplicates.KindBoat { // the two owners are one
				merge(t, db, duplicates.KindCustomer, "C1", "C4")
			}
			before := everything(t, db)
			merge(t, db, tt.kind, tt.kept, tt.gone)
			tt.check(t, db)
			after := everything(t, db)
			rep, err := imports.Intake(t.Context(), db, noon, files(doubled()), known(), imports.IntakeOptions{Actor: "test"})
			if err != nil {
				t.Fatalf("the same files after the merge: %v\n%v", err, rep.Faults)
			}
			if diff := cmp.Diff(after, everything(t, db)); diff != "" {
				t.Errorf("the same files after the merge changed (-before +after):\n%s", diff)
			}
			if err := duplicates.Unmerge(t.Context(), db, noon, "test", tt.kind, tt.gone); err != nil {
				t.Fatal(err)
			}
			if diff := cmp.Diff(before, everything(t, db)); diff != "" {
				t.Errorf("taking it back (-before +after):\n%s", diff)
			}
		})
	}
}

func hasPart(parts []schedule.Component, id string) bool {
	for _, p := range parts {
		if p.ID == id {
			return true
		}
	}
	return false
}

func merge(t *testing.T, db *store.DB, kind, kept, gone string) {
	t.Helper()
	if err := duplicates.Merge(t.Context(), db, noon, "test", kind, kept, gone); err != nil {
		t.Fatal(err)
	}
}

// What either of two customers wants no more must hold for the merged one, and
// come back as it was.
func TestMergeKeepsTheStricterWish(t *testing.T) {
	db := open(t)
	take(t, db, doubled())
	if err := db.SetOptOut(t.Context(), noon, "test", "C4", true, false); err != nil {
		t.Fatal(err)
	}
	merge(t, db, duplicates.KindCustomer, "C1", "C4")
	reach := func() bool {
		r, err := outbox.MailStatuses(t.Context(), db.Reader, []string{"C1"})
		if err != nil {
			t.Fatal(err)
		}
		return r["C1"].NoReminders
	}
	if !reach() {
		t.Error("C4 wanted no reminders; after the merge C1 would get them")
	}
	if err := duplicates.Unmerge(t.Context(), db, noon, "test", duplicates.KindCustomer, "C4"); err != nil {
		t.Fatal(err)
	}
	if reach() {
		t.Error("C1 never asked for no reminders")
	}
}

// TestMergeTakesInvitationsAlong: what the calendar of the one who goes holds is the kept
// one's to cancel, and goes back with what was told of it since.
func TestMergeTakesInvitationsAlong(t *testing.T) {
	db := open(t)
	take(t, db, doubled())
	tell := func(customer, uid string, sequence int, cancelled bool) {
		t.Helper()
		l := storetest.Message(fmt.Sprint(uid, sequence))
		l.CustomerID, l.Step = customer, schedule.StepConfirmation
		v := schedule.Invitation{UID: uid, CustomerID: customer, Address: l.To, Day: day(t, "2027-05-04"), Start: noon, End: noon.Add(time.Hour),
			Sequence: sequence, Stamp: noon, Cancelled: cancelled}
		if _, err := outbox.Enqueue(t.Context(), db, noon, []outbox.NewMessage{{Message: l, Invitation: &v}}); err != nil {
			t.Fatal(err)
		}
	}
	holds := func(customer string) (uids []string) {
		t.Helper()
		all, err := outbox.Invitations(t.Context(), db.Reader, customer)
		if err != nil {
			t.Fatal(err)
		}
		for _, v := range all {
			uids = append(uids, v.UID)
		}
		return uids
	}
	tell("C4", "a", 0, false)
	tell("C1", "b", 0, false)
	merge(t, db, duplicates.KindCustomer, "C1", "C4")
	if got := holds("C1"); len(got) != 2 {
		t.Errorf("after the merge C1's calendar holds %q, want both", got)
	}
	tell("C1", "a", 1, true)
	if err := duplicates.Unmerge(t.Context(), db, noon, "test", duplicates.KindCustomer, "C4"); err != nil {
		t.Fatal(err)
	}
	if one, four := holds("C1"), holds("C4"); !slices.Equal(one, []string{"b"}) || len(four) != 0 {
		t.Errorf("taken back, C1's calendar holds %q and C4's %q; want b and none, as a was cancelled", one, four)
	}
}

func TestMergeRefuses(t *testing.T) {
	db := open(t)
	take(t, db, doubled())
	merge(t, db, duplicates.KindCustomer, "C1", "C4")
	tests := []struct {
		name, kind, kept, gone string
		want                   error
	}{
		{"itself", duplicates.KindCustomer, "C1", "C1", store.ErrRefused},
		{"nobody", duplicates.KindCustomer, "C1", "C9", store.ErrNotFound},
		{"merged already", duplicates.KindCustomer, "C2", "C4", store.ErrRefused},
		{"into one that is merged away", duplicates.KindCustomer, "C4", "C2", store.ErrRefused},
		{"no such kind", "engine", "E1", "E2", store.ErrRefused},
		{"meters that contradict", duplicates.KindBoat, "B1", "B3", store.ErrRefused},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			before := everything(t, db)
			if err := duplicates.Merge(t.Context(), db, noon, "test", tt.kind, tt.kept, tt.gone); !errors.Is(err, tt.want) {
				t.Errorf("error %v, want %v", err, tt.want)
			}
			if everything(t, db) != before {
				t.Error("a refused merge changed something")
			}
		})
	}
	if err := duplicates.Unmerge(t.Context(), db, noon, "test", duplicates.KindCustomer, "C2"); !errors.Is(err, store.ErrNotFound) {
		t.Errorf("taking back what was not merged: %v", err)
	}
}

// A merged person stands in two rows; erasing one of them would leave the other.
func TestEraseWantsTheMergeTakenBack(t *testing.T) {
	db := open(t)
	take(t, db, doubled())
	merge(t, db, duplicates.KindCustomer, "C1", "C4")
	for _, id := range []string{"C1", "C4"} {
		if _, err := duplicates.EraseCustomer(t.Context(), db, noon, "test", id, day(t, "2026-11-25")); !errors.Is(err, store.ErrRefused) || !strings.Contains(err.Error(), "duplicates unmerge C4") {
			t.Errorf("erasing %s: %v", id, err)
		}
	}
	if err := duplicates.Unmerge(t.Context(), db, noon, "test", duplicates.KindCustomer, "C4"); err != nil {
		t.Fatal(err)
	}
	for _, id := range []string{"C1", "C4"} {
		if _, err := duplicates.EraseCustomer(t.Context(), db, noon, "test", id, day(t, "2026-11-25")); err != nil {
			t.Errorf("erasing %s after the merge was taken back: %v", id, err)
		}
	}
}

// TestToldApart: who is known to be two is not asked about again, until somebody
// takes that back; the order of the two does not matter.
func TestToldApart(t *testing.T) {
	db := open(t)
	take(t, db, doubled())
	pairs := func() int {
		t.Helper()
		all, err := duplicates.Find(t.Context(), db.Reader)
		if err != nil {
			t.Fatal(err)
		}
		return len(all)
	}
	before := pairs()
	for _, order := range [][2]string{{"C4", "C1"}, {"C1", "C4"}} { // said twice is once
		if err := duplicates.SetNotDuplicates(t.Context(), db, duplicates.NotDuplicate{Kind: duplicates.KindCustomer, A: order[0], B: order[1], At: noon, Actor: "desk"}, false); err != nil {
			t.Fatal(err)
		}
	}
	told, err := duplicates.NotDuplicates(t.Context(), db.Reader)
	if want := []duplicates.NotDuplicate{{Kind: duplicates.KindCustomer, A: "C1", B: "C4", At: noon.UTC(), Actor: "desk"}}; err != nil || cmp.Diff(told, want) != "" {
		t.Errorf("%+v, %v", told, err)
	}
	if got := pairs(); got != before-1 {
		t.Errorf("%d pairs, %d before", got, before)
	}
	if err := duplicates.SetNotDuplicates(t.Context(), db, duplicates.NotDuplicate{Kind: duplicates.KindCustomer, A: "C1", B: "C4", At: noon, Actor: "desk"}, true); err != nil || pairs() != before {
		t.Errorf("taken back: %v, %d pairs of %d", err, pairs(), before)
	}
	for name, bad := range map[string][3]string{"nobody": {duplicates.KindCustomer, "C1", "C99"}, "the same": {duplicates.KindBoat, "B1", "B1"}, "no kind": {"crew", "C1", "C4"}} {
		if err := duplicates.SetNotDuplicates(t.Context(), db, duplicates.NotDuplicate{Kind: bad[0], A: bad[1], B: bad[2], At: noon, Actor: "desk"}, false); !errors.Is(err, store.ErrNotFound) && !errors.Is(err, store.ErrRefused) {
			t.Errorf("%s: %v", name, err)
		}
	}
}

// TestMergeTakesTransfersAlong: where a boat came from, and with whom, is the kept ones',
// and theirs again when the merges are taken back.
func TestMergeTakesTransfersAlong(t *testing.T) {
	db := open(t)
	take(t, db, doubled())
	storetest.Raw(t, db, `INSERT INTO transfers (id, way, boat_id, customer_id, sister, place, day, consent_by, consent_on, consent_how, actor, at, done)
		VALUES ('T1', 'in', 'B4', 'C4', 'South', 'Pine Cove', '2026-05-01', 'Dana', '2026-05-01', 'by phone', 'Inge', 1, 1),
			('T1', 'out', 'B2', 'C2', 'South', 'Pine Cove', '2026-06-01', 'Bram', '2026-06-01', 'by phone', 'Inge', 1, 1)`)
	is := func(when, boat, customer string) {
		t.Helper()
		if n := storetest.Count(t, db, fmt.Sprintf("SELECT count(*) FROM transfers WHERE way = 'in' AND boat_id = '%s' AND customer_id = '%s'", boat, customer)); n != 1 {
			t.Errorf("%s: the transfer is not that of %s with %s", when, boat, customer)
		}
		if n := storetest.Count(t, db, "SELECT count(*) FROM transfers WHERE way = 'out' AND boat_id = 'B2' AND customer_id = 'C2'"); n != 1 {
			t.Errorf("%s: another transfer was moved", when)
		}
	}
	merge(t, db, duplicates.KindCustomer, "C1", "C4")
	is("customers merged", "B4", "C1")
	merge(t, db, duplicates.KindBoat, "B1", "B4")
	is("boats merged", "B1", "C1")
	for _, back := range [][4]string{{duplicates.KindBoat, "B4", "B4", "C1"}, {duplicates.KindCustomer, "C4", "B4", "C4"}} {
		if err := duplicates.Unmerge(t.Context(), db, noon, "test", back[0], back[1]); err != nil {
			t.Fatal(err)
		}
		is(back[0]+" taken back", back[2], back[3])
	}
}

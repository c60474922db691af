package duplicates_test

import (
	"errors"
	"fmt"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"bellbuoy/store"
	"bellbuoy/store/duplicates"
	"bellbuoy/store/storetest"
)

// agreeing is a shop in which Paz Weir stands three times and Uli Fen twice, with
// one boat each; a second Bram Teal shares the name only.
func agreeing() map[string]string {
	m := small()
	m["customers.csv"] += "P1,Paz Weir,paz@example.org,212-555-0101,,,,,email\nP2,\"Weir, Paz\",,(212) 555-0101,7 Cove Road,,,,phone\nP3,paz  weir,,,7 Cove Rd.,,,,none\n" +
		"U1,Uli Fen,uli@example.org,,,,,,email\nU2,Uli Fen,uli@example.org,,,,,,email\nT9,Bram Teal,bram@example.org,,,,,,email\n"
	for i, line := range []string{"PB1,P1,,Tern", "PB2,P2,,TERN", "PB3,P3,,Gull", "UB1,U1,QXB00001C304,", "UB2,U2,QXB00001C304,", "PB4,P2,QXB00002C304,Gull", "PB5,P1,QXB00003C304,Gull"} {
		m["boats.csv"] += line + fmt.Sprintf(",Brackenhull,Pike 16,%d,runabout,16,fresh,Pine Cove,own-dock,,\n", 2001+i/10)
	}
	m["history.csv"] += "PB1,,2024-05-02,fit-out,,100,shop,\nPB2,,2025-05-02,fit-out,,200,shop,\nUB2,,2025-05-02,fit-out,,300,shop,\n"
	return m
}

// All that agree are merged in one step, with the boats of one make and name, and
// the step is undone as one.
func TestMergeAgreeing(t *testing.T) {
	db := open(t)
	take(t, db, agreeing())
	before := everything(t, db)
	done, step, err := duplicates.MergeAgreeing(t.Context(), db, noon, "test")
	if err != nil {
		t.Fatal(err)
	}
	var got []string
	for _, m := range done {
		got = append(got, fmt.Sprintf("%s %s into %s", m.Kind, m.Gone, m.Kept))
		if m.Step != step {
			t.Errorf("%s %s is of step %d, want %d", m.Kind, m.Gone, m.Step, step)
		}
	}
	want := []string{ // PB4 and PB5 have numbers of their own, and PB3 may be either
		"customer U2 into U1", "customer P2 into P1", "boat PB2 into PB1", "customer P3 into P1", "boat UB1 into UB2",
	}
	if diff := cmp.Diff(want, got); diff != "" {
		t.Errorf("merged (-want +got):\n%s", diff)
	}
	listed, err := duplicates.Merges(t.Context(), db.Reader)
	if err != nil || len(listed) != len(done) || listed[0].Step != step {
		t.Errorf("listed %+v, %v", listed, err)
	}
	if again, step, err := duplicates.MergeAgreeing(t.Context(), db, noon, "test"); err != nil || len(again) > 0 || step != 0 {
		t.Errorf("again: %v, step %d, %v", again, step, err)
	}
	if n, err := duplicates.UnmergeStep(t.Context(), db, noon, "test", step); err != nil || n != len(done) {
		t.Fatalf("undone %d of %d, %v", n, len(done), err)
	}
	if diff := cmp.Diff(before, everything(t, db)); diff != "" {
		t.Errorf("after undoing (-before +after):\n%s", diff)
	}
	if _, err := duplicates.UnmergeStep(t.Context(), db, noon, "test", step); !errors.Is(err, store.ErrNotFound) {
		t.Errorf("undone twice: %v", err)
	}
}

// Merging two customers by hand merges their boats of one make and name too, and
// taking that back takes both back.
func TestMergingCustomersMergesTheirBoats(t *testing.T) {
	db := open(t)
	take(t, db, agreeing())
	before := everything(t, db)
	merge(t, db, duplicates.KindCustomer, "P1", "P2")
	boats, err := db.BoatsOf(t.Context(), "P1")
	if err != nil {
		t.Fatal(err)
	}
	var names []string
	for _, b := range boats {
		if b.Gone == 0 {
			names = append(names, b.ID)
		}
	}
	if got := strings.Join(names, " "); got != "PB1 PB4 PB5" {
		t.Errorf("P1 has %s", got)
	}
	if err := duplicates.Unmerge(t.Context(), db, noon, "test", duplicates.KindCustomer, "P2"); err != nil {
		t.Fatal(err)
	}
	if diff := cmp.Diff(before, everything(t, db)); diff != "" {
		t.Errorf("after undoing (-before +after):\n%s", diff)
	}
}

// A boat that is booked stays, and of two that are booked neither goes.
func TestMergedBoatKeepsItsBooking(t *testing.T) {
	db := open(t)
	take(t, db, agreeing())
	storetest.Raw(t, db, "INSERT INTO bookings (boat_id, visit_id, kind, day) VALUES ('PB2', 'v', 'lay-up', '2026-12-01')")
	merge(t, db, duplicates.KindCustomer, "P1", "P2")
	if b, err := db.Boat(t.Context(), "PB1"); err != nil || b.Gone == 0 {
		t.Errorf("PB1 should be merged into the booked PB2: %+v, %v", b, err)
	}
}

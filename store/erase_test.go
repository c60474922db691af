package store_test

import (
	"bytes"
	"errors"
	"maps"
	"os"
	"slices"
	"strings"
	"testing"

	"bellbuoy/schedule"
	"bellbuoy/store"
	"bellbuoy/store/archive"
	"bellbuoy/store/duplicates"
	"bellbuoy/store/outbox"
	"bellbuoy/store/storetest"
)

// told is the lived shop after its first customer was rung, answered, moved and
// was named in notes. No word of what identifies her may stay.
func told(t *testing.T) *store.DB {
	t.Helper()
	db := lived(t)
	must := func(err error) {
		t.Helper()
		if err != nil {
			t.Fatal(err)
		}
	}
	c, err := db.Customer(t.Context(), "C1")
	must(err)
	c.Phone = "555-0199-moved"
	must(storetest.SaveCustomer(t.Context(), db, noon, "desk", c))
	_, err = db.AddRecord(t.Context(), noon, "desk", schedule.Record{BoatID: "B1", Day: day(t, "2026-05-01"), Service: "fit-out", Amount: 9900, By: schedule.ByShop, Note: "Zoë Łukasz asked for the blue cover"})
	must(err)
	_, err = db.AddRecord(t.Context(), noon, "desk", schedule.Record{BoatID: "B1", Day: day(t, "2026-05-02"), Service: "impeller", Amount: 5000, By: schedule.ByShop, Note: "two vanes cracked"})
	must(err)
	storetest.Bounce(t, db, "zoe@example.org", "550 zoe@example.org unknown")
	must(outbox.RecordNotified(t.Context(), db, noon, "desk", []schedule.Notified{{CustomerID: "C1", Subject: "B1.lay-up.2027", Step: schedule.StepInvitation, On: day(t, "2026-11-20")}}))
	raw(t, db,
		"INSERT INTO calls (at, actor, customer_id, outcome, note) VALUES (1795000000, 'desk', 'C1', 'message', 'zoe-on-the-phone')",
		"INSERT INTO said (at, actor, boat_id, visit_id, words) VALUES (1795000000, 'desk', 'B1', 'V1', 'zoe-said-this')",
		"INSERT INTO answers (customer_id, kind, at, note) VALUES ('C1', 'call', 1795000000, 'zoe-answered-this')")
	return db
}

// marks are what would tell who the customer was.
func marks() []string {
	return []string{"Łukasz", "zoe", "Zoë", "555-0101", "555-0199", "1 Cove Rd"}
}

func TestEraseLeavesNothingOfThePerson(t *testing.T) {
	db := told(t)
	before := tree(t, exported(t, db))
	for _, m := range marks() {
		if !slices.ContainsFunc(slices.Collect(maps.Values(before)), func(s string) bool { return strings.Contains(s, m) }) {
			t.Fatalf("%q is nowhere to begin with", m)
		}
	}
	done, err := duplicates.EraseCustomer(t.Context(), db, noon, "owner", "C1", day(t, "2026-11-25"))
	if err != nil || !slices.Equal(done.Boats, []string{"B1"}) || done.Messages != 1 {
		t.Fatalf("%+v, %v", done, err)
	}
	for name, text := range tree(t, exported(t, db)) {
		for _, m := range marks() {
			if strings.Contains(text, m) {
				t.Errorf("%s still holds %q", name, m)
			}
		}
	}
	for _, file := range []string{db.Path(), db.Path() + "-wal"} {
		b, err := os.ReadFile(file)
		if err != nil {
			t.Fatal(err)
		}
		for _, m := range marks() {
			if at := bytes.Index(b, []byte(m)); at >= 0 {
				t.Errorf("%s still holds %q at %d", file, m, at)
			}
		}
	}
	if bad, err := db.Check(t.Context()); err != nil || len(bad) > 0 {
		t.Errorf("%v, %v", bad, err)
	}
	if open, err := db.OpenAnswers(t.Context(), "", 10); err != nil || len(open) > 0 {
		t.Errorf("somebody erased is still to be called: %+v, %v", open, err)
	}
}

func TestEraseKeepsTheMoneyAndTheWork(t *testing.T) {
	db := told(t)
	before, err := db.Facts(t.Context(), "B1")
	if err != nil {
		t.Fatal(err)
	}
	if _, err := duplicates.EraseCustomer(t.Context(), db, noon, "owner", "C1", day(t, "2026-11-25")); err != nil {
		t.Fatal(err)
	}
	after, err := db.Facts(t.Context(), "B1")
	if err != nil || len(after.Records) != len(before.Records) || len(after.Records) < 6 {
		t.Fatalf("%d records, before %d: %v", len(after.Records), len(before.Records), err)
	}
	for i, r := range after.Records {
		was := before.Records[i]
		if strings.Contains(was.Note, "Zoë") {
			was.Note = ""
		}
		if r != was {
			t.Errorf("record %+v, was %+v", r, was)
		}
	}
	if _, err := db.OwnerOf(t.Context(), "B1"); !errors.Is(err, store.ErrNotFound) {
		t.Errorf("the boat still has an owner: %v", err)
	}
	if owners, err := db.Ownerships(t.Context(), "B1"); err != nil || len(owners) != 1 || owners[0].To != day(t, "2026-11-25") {
		t.Errorf("owners %+v, %v", owners, err)
	}
	c, err := db.Customer(t.Context(), "C1")
	if want := (schedule.Customer{ID: "C1", Name: duplicates.ErasedName, ContactBy: "none"}); err != nil || c != want {
		t.Errorf("%+v, %v", c, err)
	}
	if _, err := db.Customer(t.Context(), "C2"); err != nil {
		t.Errorf("another customer: %v", err)
	}
}

func TestEraseStopsLettersAndAddresses(t *testing.T) {
	db := told(t)
	old, err := db.FeedState(t.Context(), store.FeedCustomer, "C1")
	if err != nil {
		t.Fatal(err)
	}
	if _, err := duplicates.EraseCustomer(t.Context(), db, noon, "owner", "C1", day(t, "2026-11-25")); err != nil {
		t.Fatal(err)
	}
	if st, err := db.FeedState(t.Context(), store.FeedCustomer, "C1"); err != nil || st.Generation <= old.Generation {
		t.Errorf("the calendar's address still works: %+v, %v", st, err)
	}
	if n, err := outbox.MessageCounts(t.Context(), db.Reader); err != nil || n[schedule.MessageQueued] > 0 {
		t.Errorf("letters %v, %v", n, err)
	}
	if again, err := duplicates.EraseCustomer(t.Context(), db, noon, "owner", "C1", day(t, "2026-11-25")); err != nil || len(again.Boats)+again.Messages > 0 {
		t.Errorf("a second time: %+v, %v", again, err)
	}
	if _, err := duplicates.EraseCustomer(t.Context(), db, noon, "owner", "nobody", day(t, "2026-11-25")); !errors.Is(err, store.ErrNotFound) {
		t.Errorf("nobody: %v", err)
	}
}

func TestDossierHoldsWhatIsKept(t *testing.T) {
	db := told(t)
	d, err := archive.CollectDossier(t.Context(), db.Reader, "C1")
	if err != nil {
		t.Fatal(err)
	}
	rows := map[string]int{}
	for _, table := range d.Tables {
		rows[table.Name] = len(table.Rows)
	}
	for table, least := range map[string]int{"customers": 1, "boats": 1, "ownerships": 1, "records": 6, "readings": 2, "outbox": 1, "heard": 1, "calls": 1, "said": 1, "answers": 1, "audit": 2, "suppressions": 1, "bookings": 0} {
		if rows[table] < least {
			t.Errorf("%d rows of %s, want %d or more", rows[table], table, least)
		}
	}
	if _, err := archive.CollectDossier(t.Context(), db.Reader, "nobody"); !errors.Is(err, store.ErrNotFound) {
		t.Errorf("nobody: %v", err)
	}
}

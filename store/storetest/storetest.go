// Package storetest holds what the tests of the store's rooms share: a small shop,
// its files, a letter, and ways past the store to the bare file.
package storetest

import (
	"context"
	"crypto/sha256"
	"database/sql"
	"fmt"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"bellbuoy/schedule"
	"bellbuoy/schedule/civil"
	"bellbuoy/store"
	"bellbuoy/store/emptyshop"
	"bellbuoy/store/imports"
	"bellbuoy/store/internal/kernel"
	"bellbuoy/store/outbox"
)

// Noon is the moment at which the tests happen: 25 November 2026.
var Noon = time.Date(2026, time.November, 25, 12, 0, 0, 0, time.UTC)

// Day reads a day written YYYY-MM-DD.
func Day(t testing.TB, s string) civil.Day {
	t.Helper()
	d, err := civil.Parse(s)
	if err != nil {
		t.Fatal(err)
	}
	return d
}

// Open opens a new shop, which is closed when the test ends.
func Open(t testing.TB) *store.DB {
	t.Helper()
	path := filepath.Join(t.TempDir(), "shop.db")
	emptyshop.Put(t, path)
	db, err := store.Open(t.Context(), path)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		if err := db.Close(); err != nil {
			t.Error(err)
		}
	})
	return db
}

// Small is a little shop: three customers, three boats, one of them traded in.
func Small() map[string]string {
	return map[string]string{
		"customers.csv": "customer_id,name,email,phone,address,city,region,postal_code,contact_by\n" +
			"C1,Zoë Łukasz,zoe@example.org,555-0101,1 Cove Rd,Pine Landing,NY,12345,email\n" +
			"C2,Bram Teal,,(555) 0102,2 Cove Rd,Pine Landing,NY,12345,phone\n" +
			"C3,Ida Fen,ida@example.org,,,,,,\n",
		"boats.csv": "boat_id,customer_id,hin,name,make,model,year,kind,length_ft,water,place,berth,sold_on,warranty_until\n" +
			"B1,C1,QQX12345A919,Heron,Tarnmoor,Skiff 18,2019,runabout,18.5,fresh,Pine Cove,own-dock,2019-05-02,2020-05-01\n" +
			"B2,C2,,,Tarnmoor,Raft 22,2021,pontoon,22,fresh,Pine Cove,shop-inside,2021-06-10,\n" +
			"B3,C2,US-QQX54321G818,Wren,Tarnmoor,Skiff 16,2018,runabout,16,fresh,Pine Cove,trailer-home,2018-07-01,\n" +
			"B3,C3,QQX54321G818,Dunlin,Tarnmoor,Skiff 16,2018,runabout,16,fresh,Pine Cove,shop-outside,2024-04-20,2024-10-20\n",
		"components.csv": "component_id,boat_id,kind,label,propulsion,stroke,fuel,cooling,in_service,expires,made,family,duty,brakes\n" +
			"E1,B1,engine,Engine,outboard,four,gasoline,raw-water,2019-05-02,,,TM60,,\n" +
			"E2,B2,engine,Engine,outboard,four,gasoline,raw-water,2021-06-10,,,TM90,50,\n" +
			"E3,B3,engine,Engine,outboard,two,gasoline,raw-water,2018-07-01,,,,,\n" +
			"T1,B1,trailer,Trailer,,,,,2019-05-02,,,,,disc\n" +
			"X1,B1,extinguisher,Extinguisher,,,,,,2031-12-31,2019,,,\n",
		"history.csv": "boat_id,component_id,day,service,hours,amount,by,note\n" +
			"B1,E1,2024-04-12,impeller,188,245.50,shop,\"two lines\nof note\"\n" +
			"B1,E1,2026-10-03,engine-oil,281,120,shop,\n" +
			"B1,,2026-10-03,lay-up,,310,shop,\n" +
			"B1,,2026-10-03,lay-up,,15,shop,second line of the same work\n" +
			"B3,E3,2024-04-10,compression-test,402.5,,before-sale,\n",
		"readings.csv": "component_id,day,hours,read_by,new_meter\n" +
			"E1,2025-10-04,236,shop,\nE1,2026-10-03,281,shop,\nE3,2025-05-01,402.5,owner,\nE3,2025-06-01,0,shop,yes\nE3,2025-09-01,31.5,shop,\n",
	}
}

// Files are the texts of files by name, as an import takes them.
func Files(m map[string]string) []imports.File {
	var all []imports.File
	for name, text := range m {
		all = append(all, imports.File{Name: name, R: strings.NewReader(text)})
	}
	return all
}

// Take imports files into a shop.
func Take(t testing.TB, db *store.DB, m map[string]string) imports.Report {
	t.Helper()
	rep, err := imports.Intake(t.Context(), db, Noon, Files(m), imports.Known{}, imports.IntakeOptions{Actor: "test"})
	if err != nil {
		for _, f := range rep.Faults {
			t.Log(f.Error())
		}
		t.Fatal(err)
	}
	return rep
}

// Known are the words that the tests' shop vouches for.
func Known() imports.Known {
	return imports.Known{
		Services: []string{"impeller", "engine-oil", "lay-up", "fit-out", "compression-test", "diagnostics", "hull-wash"},
		Places:   []string{"Pine Cove", "Warm Harbour"},
	}
}

// Everything prints all facts.
func Everything(t *testing.T, db *store.DB) string {
	t.Helper()
	var b strings.Builder
	err := db.EachFacts(t.Context(), nil, func(f *schedule.Facts) error {
		fmt.Fprintf(&b, "%+v\n", *f)
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	for after := ""; ; {
		page, err := db.Customers(t.Context(), after, 2)
		if err != nil {
			t.Fatal(err)
		}
		if len(page) == 0 {
			return b.String()
		}
		fmt.Fprintf(&b, "%+v\n", page)
		after = page[len(page)-1].ID
	}
}

// Raw opens the shop's file beside the store, to write what the store would not.
func Raw(t testing.TB, db *store.DB, statements ...string) {
	t.Helper()
	RawAt(t, db.Path(), statements...)
}

// RawAt runs statements on a file past the store.
func RawAt(t testing.TB, path string, statements ...string) {
	t.Helper()
	q, err := sql.Open("sqlite", "file:"+path)
	if err != nil {
		t.Fatal(err)
	}
	defer q.Close()
	for _, s := range statements {
		if _, err := q.ExecContext(t.Context(), s); err != nil {
			t.Fatal(err)
		}
	}
}

// Count asks the file of a shop for one number, past the store.
func Count(t testing.TB, db *store.DB, query string) (n int64) {
	t.Helper()
	q, err := sql.Open("sqlite", "file:"+db.Path())
	if err != nil {
		t.Fatal(err)
	}
	defer q.Close()
	if err := q.QueryRowContext(t.Context(), query).Scan(&n); err != nil {
		t.Fatal(err)
	}
	return n
}

// Lease is how long a letter is given out for.
const Lease = 15 * time.Minute

// Message is a first reminder to a customer of [Small], under a key.
func Message(key string) schedule.Message {
	return schedule.Message{Key: key, CustomerID: "C1", To: "zoe@example.org", From: "b+1@shop.example", Step: schedule.StepInvitation,
		Subjects: []string{"B1.lay-up.2027"}, MessageID: key + "@shop.example", Subject: "Winterization", Raw: []byte("Subject: x\r\n\r\ny\r\n"),
		NotAfter: Noon.Add(240 * time.Hour)}
}

// Mailing opens a shop with customers whose mail is switched on.
func Mailing(t testing.TB) *store.DB {
	t.Helper()
	db := Open(t)
	Take(t, db, Small())
	if err := outbox.SetSending(t.Context(), db, Noon, "owner", true); err != nil {
		t.Fatal(err)
	}
	return db
}

// Bounce has an email come back that says that its address is dead.
func Bounce(t testing.TB, db *store.DB, address, why string) {
	t.Helper()
	hash := sha256.Sum256([]byte(address + why))
	if taken, err := outbox.TakeReturned(t.Context(), db, Noon, "mailbox", outbox.ReturnedMail{Hash: hash[:], Kind: "dead", Address: address, Why: why, Suppress: true}); err != nil || !taken {
		t.Fatalf("%s is not taken for dead: %v", address, err)
	}
}

// Queue queues letters with what is heard by them, and returns how many were.
func Queue(t testing.TB, db *store.DB, letters ...schedule.Message) int {
	t.Helper()
	var all []outbox.NewMessage
	for _, l := range letters {
		h := schedule.Notified{CustomerID: l.CustomerID, Subject: l.Subjects[0], Step: l.Step, On: civil.FromTime(Noon)}
		all = append(all, outbox.NewMessage{Message: l, Notified: []schedule.Notified{h}})
	}
	n, err := outbox.Enqueue(t.Context(), db, Noon, all)
	if err != nil {
		t.Fatal(err)
	}
	return n
}

// MigrateTo makes a database of an older version.
func MigrateTo(ctx context.Context, path string, to int64) error {
	if err := kernel.UseSafeLocks(); err != nil { // as Open asks first
		return err
	}
	return kernel.Migrate(ctx, path, to)
}

// Writer opens the file of a reader once more, with what writes: for tests of
// those that are given a reader only.
func Writer(t testing.TB, r *store.Reader) *store.DB {
	t.Helper()
	db, err := store.Open(t.Context(), r.Path())
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		if err := db.Close(); err != nil {
			t.Error(err)
		}
	})
	return db
}

// SaveCustomer writes a customer as the desk's pages do, from nothing that was read
// before.
func SaveCustomer(ctx context.Context, db *store.DB, now time.Time, actor string, c schedule.Customer) error {
	return db.Tx(ctx, func(tx *sql.Tx) error { return store.SaveCustomer(ctx, tx, now, actor, c) })
}

// SaveBoat writes a boat likewise.
func SaveBoat(ctx context.Context, db *store.DB, now time.Time, actor string, b schedule.Boat) error {
	return db.Tx(ctx, func(tx *sql.Tx) error { return store.SaveBoat(ctx, tx, now, actor, b) })
}

// SaveComponent writes a component likewise.
func SaveComponent(ctx context.Context, db *store.DB, now time.Time, actor string, p schedule.Component) error {
	return db.Tx(ctx, func(tx *sql.Tx) error { return store.SaveComponent(ctx, tx, now, actor, p) })
}

// SetOwner gives a boat to a customer from a day on, "" to the shop.
func SetOwner(ctx context.Context, db *store.DB, now time.Time, actor, boatID, customerID string, from civil.Day) error {
	return db.Tx(ctx, func(tx *sql.Tx) error { return store.SetOwner(ctx, tx, now, actor, boatID, customerID, from) })
}

package store_test

import (
	"encoding/csv"
	"encoding/json"
	"errors"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"bellbuoy/schedule"
	"bellbuoy/store"
	"bellbuoy/store/accounts"
	"bellbuoy/store/archive"
	"bellbuoy/store/outbox"
	"bellbuoy/store/storetest"
)

// lived is a shop in which most tables hold something, with texts that are hard
// to carry in a file.
func lived(t testing.TB) *store.DB {
	t.Helper()
	db := open(t)
	take(t, db, small())
	must := func(err error) {
		t.Helper()
		if err != nil {
			t.Fatal(err)
		}
	}
	awkward := "first line\r\nsecond, \"quoted\"\rthird\n=1+1 \u2028 é"
	_, err := db.AddRecord(t.Context(), noon, "desk", schedule.Record{BoatID: "B2", Day: day(t, "2026-05-01"), Service: "fit-out", Amount: -1205, By: schedule.ByShop, Note: awkward})
	must(err)
	must(db.SetSetting(t.Context(), "key", []byte{0, 255, 10, 13}))
	must(outbox.SetSending(t.Context(), db, noon, "owner", true))
	must(db.Book(t.Context(), noon, "desk", schedule.Booking{BoatID: "B1", VisitID: "V1", Kind: "lay-up", Day: day(t, "2026-12-01"), Minute: 570}, nil, nil))
	must(accounts.SaveStaff(t.Context(), db, noon, "owner", accounts.Staff{Name: "Inge", Role: "desk", Hash: "$argon2id$secret"}))
	_, err = db.RevokeFeed(t.Context(), noon, "desk", store.FeedCustomer, "C1")
	must(err)
	_, err = outbox.Enqueue(t.Context(), db, noon, []outbox.NewMessage{{Message: schedule.Message{
		Key: "K1", CustomerID: "C1", To: "zoe@example.org", From: "shop@example.org", Step: schedule.StepInvitation,
		Subjects: []string{"V1"}, MessageID: "m1@example.org", Subject: "Lay-up", Raw: []byte("From: x\r\n\r\nZo\xc3\xab\x00\xff"),
	}, Notified: []schedule.Notified{{CustomerID: "C1", Subject: "V1", Step: schedule.StepInvitation, On: day(t, "2026-11-25"), Week: day(t, "2026-11-30").Week()}}}})
	must(err)
	return db
}

// exported writes a sealed export and returns its folder.
func exported(t testing.TB, db *store.DB) string {
	t.Helper()
	dir := t.TempDir()
	if err := archive.Export(t.Context(), db.Reader, dir); err != nil {
		t.Fatal(err)
	}
	if err := archive.WriteManifest(t.Context(), db.Reader, dir); err != nil {
		t.Fatal(err)
	}
	return dir
}

// tree reads all files of a folder.
func tree(t testing.TB, dir string) map[string]string {
	t.Helper()
	all := map[string]string{}
	err := fs.WalkDir(os.DirFS(dir), ".", func(name string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() {
			return err
		}
		b, err := os.ReadFile(filepath.Join(dir, name))
		all[name] = string(b)
		return err
	})
	if err != nil || len(all) < 20 {
		t.Fatalf("%d files in %s: %v", len(all), dir, err)
	}
	return all
}

func sameTree(t testing.TB, want, got map[string]string) {
	t.Helper()
	for name, text := range want {
		if got[name] != text {
			t.Errorf("%s differs:\n%.1000s\nwant\n%.1000s", name, got[name], text)
		}
	}
	if len(got) != len(want) {
		t.Errorf("%d files, want %d", len(got), len(want))
	}
}

// TestExportMakesTheSameShop: but for what customers may have heard since. Events and
// appointments get numbers beyond those that their calendars may know, as RFC 5545,
// 3.8.7.4, wants of a newer version, and what waited to be sent is uncertain.
func TestExportMakesTheSameShop(t *testing.T) {
	db := lived(t)
	write := func(int, time.Time) ([]byte, error) { return []byte("BEGIN:VEVENT"), nil }
	if _, err := db.SyncEvents(t.Context(), noon, store.BoatEvents{BoatID: "B1", Events: []store.Event{{UID: "V1", Hash: "h1", Start: day(t, "2026-12-01"), Render: write}}}); err != nil {
		t.Fatal(err)
	}
	dir := exported(t, db)
	path := filepath.Join(t.TempDir(), "again.db")
	r, err := archive.Import(t.Context(), noon, dir, path)
	if err != nil || r.Aside != "" {
		t.Fatalf("%+v, %v", r, err)
	}
	again, err := store.Open(t.Context(), path)
	if err != nil {
		t.Fatal(err)
	}
	defer again.Close()
	raised := func(db *store.DB) (n int64) {
		return storetest.Count(t, db, "SELECT max(sequence) FROM feed_events")
	}
	if was, is := raised(db), raised(again); is != was+1000 {
		t.Errorf("the events' numbers go to %d, were %d", is, was)
	}
	if l, err := outbox.Message(t.Context(), again.Reader, 1); err != nil || l.State != "uncertain" {
		t.Errorf("the letter that waited is %q, %v", l.State, err)
	}
	if err := errors.Join(outbox.AfterImport(t.Context(), db, noon, ""), db.JumpSequences(t.Context())); err != nil {
		t.Fatal(err)
	}
	sameTree(t, tree(t, exported(t, db)), tree(t, exported(t, again)))
	if bad, err := again.Check(t.Context()); err != nil || len(bad) > 0 {
		t.Errorf("the shop made from the export: %v, %v", bad, err)
	}
	if st, err := outbox.Sending(t.Context(), again.Reader); err != nil || !st.On || st.Open() {
		t.Errorf("sending %+v, %v; want it switched on and held", st, err)
	}
	if s, err := accounts.ByName(t.Context(), again.Reader, "Inge"); err != nil || s.Role != "desk" || s.Hash != "" {
		t.Errorf("staff %+v, %v", s, err)
	}
	l, err := outbox.Message(t.Context(), again.Reader, 1)
	if want, _ := outbox.Message(t.Context(), db.Reader, 1); err != nil || string(l.Raw) != string(want.Raw) {
		t.Errorf("the letter's bytes are %q, %v", l.Raw, err)
	}
}

func TestExportHoldsNoPasswords(t *testing.T) {
	for name, text := range tree(t, exported(t, lived(t))) {
		if strings.Contains(text, "argon2id$") {
			t.Errorf("%s holds a password's hash", name)
		}
	}
}

// csvRows counts the rows of a CSV text, its header too.
func csvRows(t *testing.T, text string) int {
	t.Helper()
	rows, err := csv.NewReader(strings.NewReader(text)).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	return len(rows)
}

// TestExportIsAnIntake takes the five files of an export into another shop: the
// same customers, boats, owners, components, work and readings.
func TestExportIsAnIntake(t *testing.T) {
	db := lived(t)
	if err := storetest.SetOwner(t.Context(), db, noon, "desk", "B1", "", day(t, "2026-11-20")); err != nil { // the shop took it back
		t.Fatal(err)
	}
	dir := exported(t, db)
	other := open(t)
	five := map[string]string{}
	for name, text := range tree(t, dir) {
		if !strings.Contains(name, "/") && strings.HasSuffix(name, ".csv") {
			five[name] = text
		}
	}
	if len(five) != 5 {
		t.Fatalf("%d files beside the folders, want 5", len(five))
	}
	take(t, other, five)
	again := tree(t, exported(t, other))
	for name, text := range five {
		if name == "history.csv" { // the one note that the intake tidies, and lines equal in day and boat
			if a, b := csvRows(t, again[name]), csvRows(t, text); a < 6 || b < a {
				t.Errorf("%d rows of history, want about %d", a, b)
			}
			continue
		}
		if again[name] != text {
			t.Errorf("%s is\n%s\nwant\n%s", name, again[name], text)
		}
	}
}

func TestExportDescribesEveryColumn(t *testing.T) {
	files := tree(t, exported(t, open(t)))
	described := map[string]bool{}
	for line := range strings.Lines(files["whole/columns.csv"]) {
		f := strings.SplitN(line, ",", 4)
		if len(f) == 4 && len(strings.TrimSpace(f[3])) < 3 {
			t.Errorf("no meaning: %s", line)
		}
		described[f[0]+"."+f[1]] = true
	}
	tables := 0
	for name, text := range files {
		table, ok := strings.CutPrefix(strings.TrimSuffix(name, ".csv"), "whole/")
		if !ok || table == "columns" {
			continue
		}
		tables++
		header, _, _ := strings.Cut(text, "\n")
		for column := range strings.SplitSeq(header, ",") {
			if !described[table+"."+column] {
				t.Errorf("columns.csv says nothing of %s.%s", table, column)
			}
			delete(described, table+"."+column)
		}
	}
	delete(described, "table.column")
	for column := range described {
		t.Errorf("columns.csv describes %s, which no export holds", column)
	}
	if tables < 20 {
		t.Errorf("only %d tables", tables)
	}
}

func TestImportRefuses(t *testing.T) {
	dir := exported(t, lived(t))
	change := func(t *testing.T, name string, f func(string) string) string {
		t.Helper()
		copied := t.TempDir()
		if err := os.CopyFS(copied, os.DirFS(dir)); err != nil {
			t.Fatal(err)
		}
		b, err := os.ReadFile(filepath.Join(copied, name))
		if err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(filepath.Join(copied, name), []byte(f(string(b))), 0o600); err != nil {
			t.Fatal(err)
		}
		return copied
	}
	var sealed struct {
		Tables int64 `json:"tables"`
	}
	if b, err := os.ReadFile(filepath.Join(dir, archive.ManifestName)); err != nil || json.Unmarshal(b, &sealed) != nil {
		t.Fatal(err)
	}
	for _, c := range []struct {
		name, file string
		change     func(string) string
		is         error
		says       string
	}{
		{"a changed file", "customers.csv", func(s string) string { return s + "C9,New,,,,,,,none\n" }, store.ErrRefused, "customers.csv was changed"},
		{"a newer export", archive.ManifestName, func(s string) string { return strings.Replace(s, `"tables": `, `"tables": 9`, 1) }, store.ErrNewer, "this program knows"},
		{"a newer format", archive.ManifestName, func(s string) string { return strings.Replace(s, `"format": 1`, `"format": 2`, 1) }, store.ErrNewer, "format 2"},
		{"no seal's text", archive.ManifestName, func(string) string { return "nothing" }, nil, "export.json"},
		{"another program's", archive.ManifestName, func(s string) string { return strings.Replace(s, "bellbuoy", "other", 1) }, nil, "other"},
	} {
		t.Run(c.name, func(t *testing.T) {
			path := filepath.Join(t.TempDir(), "new.db")
			_, err := archive.Import(t.Context(), noon, change(t, c.file, c.change), path)
			if err == nil || c.is != nil && !errors.Is(err, c.is) || !strings.Contains(err.Error(), c.says) {
				t.Errorf("%v, want %q", err, c.says)
			}
			left, _ := os.ReadDir(filepath.Dir(path))
			left = slices.DeleteFunc(left, func(e os.DirEntry) bool { return strings.HasSuffix(e.Name(), ".lock") })
			if len(left) > 0 {
				t.Errorf("left behind: %v", left)
			}
		})
	}
	if _, err := archive.Import(t.Context(), noon, t.TempDir(), filepath.Join(t.TempDir(), "new.db")); err == nil || !strings.Contains(err.Error(), "no export") {
		t.Errorf("an empty folder: %v", err)
	}
}

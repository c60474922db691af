package main

import (
	"errors"
	"io/fs"
	"net/http"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"bellbuoy/schedule"
	"bellbuoy/schedule/civil"
	"bellbuoy/schedule/testkit"
	"bellbuoy/store"
)

// filesOf reads all files of a folder.
func filesOf(t *testing.T, dir string) map[string]string {
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
	if err != nil {
		t.Fatal(err)
	}
	return all
}

// TestExportWipeIntakeExport writes the demo's shop out, makes it again on
// another machine from what was written, and writes that out: the same files to
// the byte, letters, calendars and plans among them, but for the numbers of calendars.
func TestExportWipeIntakeExport(t *testing.T) {
	if testing.Short() {
		t.Skip("makes a whole shop twice")
	}
	box := newMailbox(t)
	settings := demoSettings("127.0.0.1:8410", box.address, false)
	day := civil.Of(2027, 3, 15)
	boats := 80
	if testkit.Everything() {
		boats = 400
	}
	s := inventedShop(t, settings, boats, day)
	s.do(t, "mail", "on")
	for _, d := range []civil.Day{day, day + 1, day + 2} {
		s.today = d.String()
		s.do(t, "mail", "send")
	}
	s.do(t, "record", "B00001", "hull-check", "--note", "scratch, port side\r\nof the \"bow\"")
	first, second := filepath.Join(s.dir, "first"), filepath.Join(s.dir, "second")
	s.do(t, "export", first)

	again := newShop(t, settings)
	again.today = s.today
	again.do(t, "import", first)
	again.do(t, "export", second)
	// Calendars may have heard more since the export: the new shop's numbers go on beyond
	// that, and so here do those of the old one.
	db, err := store.Open(t.Context(), filepath.Join(s.dir, "bellbuoy.db"))
	if err != nil {
		t.Fatal(err)
	}
	if err := errors.Join(db.JumpSequences(t.Context()), db.Close()); err != nil {
		t.Fatal(err)
	}
	raised := filepath.Join(s.dir, "raised")
	s.do(t, "export", raised)
	want, got := filesOf(t, raised), filesOf(t, second)
	if len(want) < 3*boats/2 { // a calendar for each boat and customer, and the tables
		t.Fatalf("only %d files", len(want))
	}
	for name, text := range want {
		if got[name] != text {
			t.Errorf("%s differs", name)
		}
	}
	if len(got) != len(want) {
		t.Errorf("%d files, want %d", len(got), len(want))
	}
	if n := strings.Count(want["whole/outbox.csv"], "\n"); n < 10 {
		t.Errorf("only %d letters: the shop is too quiet to show anything", n)
	}
	for _, shop := range []*testShop{s, again} {
		if findings := doJSON[[]string](t, shop, "check"); len(findings) > 0 {
			t.Errorf("findings: %q", findings)
		}
	}
	if l := letters(t, again); l[schedule.MessageSent] != letters(t, s)[schedule.MessageSent] {
		t.Errorf("letters %v, want %v", l, letters(t, s))
	}
}

// TestServeBacksUpAndKeepsItsFile starts the daemon: it makes the day's copy,
// and while it runs nothing takes its file away.
func TestServeBacksUpAndKeepsItsFile(t *testing.T) {
	if testing.Short() {
		t.Skip("starts a daemon, or several commands")
	}
	s := newShop(t, lindrake(t, ""))
	s.today = "2026-11-25"
	s.do(t, "import", filepath.Join(testdata, "worked"))
	d := s.serve(t)
	folder := filepath.Join(s.dir, "backups")
	copied := filepath.Join(folder, "bellbuoy-2026-11-25.db")
	for end := time.Now().Add(patience); ; {
		if strings.Contains(d.lines(), "backed up") {
			break
		}
		if time.Now().After(end) {
			t.Fatalf("no copy was made\n%s", d.lines())
		}
		d.get(t, http.MethodGet, d.base+"/healthz") // it answers meanwhile
	}
	if said := s.tryDo(t, "restore", copied); !strings.Contains(said, "another bellbuoy is at work") || !strings.Contains(said, "hint: stop the daemon") {
		t.Errorf("restore while it runs:\n%s", said)
	}
	d.stop(t)
	s.do(t, "restore", copied)
	if findings := doJSON[[]string](t, s, "check"); len(findings) > 0 {
		t.Errorf("findings: %q", findings)
	}
	s.today = "2026-12-24"
	if said := s.tryDo(t, "check"); !strings.Contains(said, "the newest backup in") {
		t.Errorf("a month later:\n%s", said)
	}
}

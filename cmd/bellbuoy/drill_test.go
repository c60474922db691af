package main

import (
	"net/http"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"
)

// TestDrills goes through what deploy/disaster.md and deploy/upgrade.md tell somebody
// to do at night, command by command on a real daemon, and says how long each drill
// takes. Not drilled: systemctl, and a machine that is really another one.
func TestDrills(t *testing.T) {
	if testing.Short() {
		t.Skip("makes a shop and starts its daemon four times")
	}
	s := newShop(t, lindrake(t, ""))
	s.today = "2026-11-25"
	s.do(t, "import", filepath.Join(testdata, "worked"))
	feed := s.do(t, "feed", "PERCH")
	runs := func(s *testShop) (calendar string) {
		d := s.serve(t)
		defer d.stop(t)
		r, body := d.get(t, http.MethodGet, d.at(t, feed))
		if r.StatusCode != http.StatusOK || !strings.Contains(body, "END:VCALENDAR") {
			t.Fatalf("the calendar answers %s\n%s", r.Status, body)
		}
		return body
	}
	before := runs(s)
	backup := filepath.Join(t.TempDir(), "bellbuoy-2026-11-25.db")
	s.do(t, "backup", backup)

	drill := func(name string, steps func()) {
		begun := time.Now()
		steps()
		t.Logf("%s: %.1f s", name, time.Since(begun).Seconds())
	}
	drill("restore after damage", func() {
		damage(t, filepath.Join(s.dir, "bellbuoy.db"))
		if out := s.tryDo(t, "check"); !strings.Contains(out, "damaged") {
			t.Errorf("the damage is not named:\n%s", out)
		}
		s.do(t, "restore", backup)
		s.do(t, "mail", "release")
		s.do(t, "check")
		if runs(s) != before {
			t.Error("the calendar is another one after the restore")
		}
	})
	drill("a new machine", func() {
		d := s.serve(t)
		d.kill() // the machine is gone
		fresh := newShop(t, lindrake(t, ""))
		fresh.today = s.today
		fresh.do(t, "restore", backup)
		fresh.do(t, "check")
		fresh.do(t, "mail", "release")
		if runs(fresh) != before {
			t.Error("the calendar is another one on the new machine")
		}
	})
	drill("a new version and back", func() {
		copied := filepath.Join(s.dir, "before-upgrade.db")
		s.do(t, "backup", copied)
		s.do(t, "check") // by the new program
		s.do(t, "record", "HERON", "impeller")
		after := s.do(t, "plan", "HERON", "--json")
		out := s.do(t, "restore", copied)
		if s.do(t, "plan", "HERON", "--json") == after {
			t.Error("what was recorded since the copy is still there")
		}
		_, aside, _ := strings.Cut(out, "kept as ")
		aside = strings.TrimRight(strings.Fields(aside)[0], ".")
		s.do(t, "restore", aside)
		if s.do(t, "plan", "HERON", "--json") != after {
			t.Error("the file that restore kept aside lacks what was recorded")
		}
	})
}

// damage overwrites the middle of a file.
func damage(t *testing.T, path string) {
	t.Helper()
	f, err := os.OpenFile(path, os.O_RDWR, 0)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	info, err := f.Stat()
	if err != nil {
		t.Fatal(err)
	}
	junk := []byte(strings.Repeat("this is no page of a database. ", 2000))
	if _, err := f.WriteAt(junk, info.Size()/3); err != nil {
		t.Fatal(err)
	}
}

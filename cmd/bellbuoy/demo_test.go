package main

import (
	"bellbuoy/schedule/civil"
	"net/http"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
	"time"
)

// TestDemoNeedsNothing starts the demo with nothing but an address, looks where
// it says to look, and asks that it leaves nothing behind.
func TestDemoNeedsNothing(t *testing.T) {
	folder := t.TempDir()
	t.Setenv("TMPDIR", folder)
	s := &testShop{dir: t.TempDir(), today: "2027-04-06"}
	d := s.serve(t, "demo", "--boats", "30", "--years", "2", "--listen", freeAddress(t))
	resp, page := d.get(t, http.MethodGet, d.base+"/")
	if resp.StatusCode != http.StatusOK || !strings.Contains(page, "2027-W14") {
		t.Errorf("this week's list: status %d\n%s", resp.StatusCode, page)
	}
	untilPage(t, d, "/outbox", regexp.MustCompile(`[Cc]ommissioning`))
	d.stop(t)
	left, err := os.ReadDir(folder)
	if err != nil || len(left) > 0 {
		t.Errorf("left behind: %v, %v", left, err)
	}
}

// untilPage waits until a page holds something.
func untilPage(t *testing.T, d *served, path string, holds *regexp.Regexp) {
	t.Helper()
	tick := time.NewTicker(50 * time.Millisecond)
	defer tick.Stop()
	for end := time.Now().Add(patience); time.Now().Before(end); <-tick.C {
		if resp, page := d.get(t, http.MethodGet, d.base+path); resp.StatusCode == http.StatusOK && holds.MatchString(page) {
			return
		}
	}
	t.Fatalf("%s never holds %s", path, holds)
}

// TestDemoDay wants the same day of the nearest autumn whatever the day is, and
// then something of everything that the desk works with.
func TestDemoDay(t *testing.T) {
	for _, c := range []struct{ today, want string }{
		{"2026-11-29", "2026-09-22"},
		{"2026-09-22", "2026-09-22"},
		{"2027-03-20", "2026-09-22"}, // 179 days back, 185 ahead
		{"2027-03-25", "2027-09-21"},
		{"2027-08-01", "2027-09-21"},
	} {
		today, err := civil.Parse(c.today)
		if err != nil {
			t.Fatal(err)
		}
		if got := demoDay(today); got.String() != c.want || got.Weekday() != time.Tuesday {
			t.Errorf("on %s it plays %s, want %s", c.today, got, c.want)
		}
	}
}

// TestDemoIsAlive counts what the demo's day has: few boats overdue, visits
// booked, replies to look at, emails in the box, and the day said on the page.
func TestDemoIsAlive(t *testing.T) {
	if testing.Short() {
		t.Skip("invents a whole shop; a short run leaves it out")
	}
	folder := filepath.Join(t.TempDir(), "made", "by", "demo")
	s := &testShop{dir: folder, today: "2026-09-22"}
	d := s.serve(t, "demo", "--keep", folder, "--listen", freeAddress(t))
	untilPage(t, d, "/outbox", regexp.MustCompile(`outbox/email`))
	_, page := d.get(t, http.MethodGet, d.base+"/")
	for _, want := range []string{"A demo: every name", "2026-09-22", "Replies <b>"} {
		if !strings.Contains(page, want) {
			t.Errorf("the first page lacks %q", want)
		}
	}
	d.stop(t)
	due := doJSON[struct{ Rows []struct{ Status string } }](t, s, "due")
	parts := make(map[string]int)
	for _, r := range due.Rows {
		parts[r.Status]++
	}
	if parts["overdue"] > 20 || parts["booked"] < 5 || parts["penciled"] < 5 {
		t.Errorf("of 400 boats: %v", parts)
	}
}

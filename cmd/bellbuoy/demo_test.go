package main

import (
	"net/http"
	"os"
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
	untilPage(t, d, "/outbox", regexp.MustCompile(`[Ff]it-out`))
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

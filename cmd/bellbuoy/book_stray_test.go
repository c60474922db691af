package main

import (
	"path/filepath"
	"strings"
	"testing"

	"bellbuoy/schedule/testkit"
	"bellbuoy/store/storetest"
)

// TestWhatCheckAdvisesOfAStrayBookingWorks: the command that check names for a booked
// day without a visit takes that day off.
func TestWhatCheckAdvisesOfAStrayBookingWorks(t *testing.T) {
	s := newShop(t, lindrake(t, ""))
	s.today = testkit.Text("2027-04-01")
	s.do(t, "import", testkit.Folder(t, filepath.Join(testdata, "worked")))
	s.do(t, "plan", "PERCH")
	storetest.RawAt(t, s.open(t).DB.Path(), "INSERT INTO bookings (boat_id, visit_id, kind, day, minute) VALUES ('PERCH', 'PERCH.extra.0badcafe', 'extra', '"+testkit.Text("2027-06-01")+"', -1)")
	out := s.tryDo(t, "check")
	_, advice, found := strings.Cut(out, `("bellbuoy `)
	advice, _, _ = strings.Cut(advice, `")`)
	if !found {
		t.Fatalf("check advises nothing:\n%s", out)
	}
	s.do(t, strings.Fields(advice)...)
	if out := s.tryDo(t, "check"); strings.Contains(out, "0badcafe") {
		t.Errorf("after %q check still says\n%s", advice, out)
	}
}

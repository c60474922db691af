package app_test

import (
	"strings"
	"testing"

	"bellbuoy/store/storetest"
)

// TestCheckNamesABookingWithoutAVisit: work recorded under another visit leaves the
// day booked, and nobody would see that.
func TestCheckNamesABookingWithoutAVisit(t *testing.T) {
	p := newPost(t, "")
	today := p.Day(p.now)
	ids, err := p.DB.BoatIDs(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	const gone = "extra.0badcafe"
	storetest.RawAt(t, p.DB.Path(), "INSERT INTO bookings (boat_id, visit_id, kind, day, minute) VALUES ('"+
		ids[0]+"', '"+ids[0]+"."+gone+"', 'extra', '"+(today+10).String()+"', -1)")
	findings, err := p.Check(t.Context(), today)
	if err != nil {
		t.Fatal(err)
	}
	named := 0
	for _, f := range findings {
		if strings.Contains(f, "has no such visit any more") {
			named++
			if !strings.Contains(f, gone) || !strings.Contains(f, ids[0]) {
				t.Errorf("check names another: %s", f)
			}
		}
	}
	if named != 1 {
		t.Errorf("%d findings of %d are about a booking without a visit, want one", named, len(findings))
	}
}

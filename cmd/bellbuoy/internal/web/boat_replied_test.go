package web_test

import (
	"net/http"
	"net/url"
	"testing"
)

// TestBoatPageTellsWhatTheOwnerAnswered: nobody at the desk offers a visit that
// its owner has declined, or speaks of a boat that is sold.
func TestBoatPageTellsWhatTheOwnerAnswered(t *testing.T) {
	s := newTestShop(t)
	cookie := s.hire("Inge", "desk")
	my := s.my("W1")
	v := s.nextVisit("PERCH")
	s.as(cookie, "GET", "/boats/PERCH", nil).silent("the owner answered")
	s.post(my+"/answer", url.Values{"kind": {"decline"}, "visit": {v.ID}, "note": {"we sail north"}}).code(http.StatusSeeOther)
	s.as(cookie, "GET", "/boats/PERCH", nil).says("On Nov 25, 2026 the owner answered: does not want the visit. “we sail north”")
	// No list of a week names it any more: its owner has said what there is to say.
	s.as(cookie, "GET", "/?week="+v.Week.String(), nil).silent("Perch Pressure")
	s.now = s.now.AddDate(0, 8, 0)
	cookie = s.hire("Inge", "desk")
	s.as(cookie, "GET", "/?part=overdue", nil).silent("Perch Pressure")
	s.post(my+"/answer", url.Values{"kind": {"sold"}, "boat": {"PERCH"}}).code(http.StatusSeeOther)
	s.as(cookie, "GET", "/boats/PERCH", nil).says("the owner answered: no longer has the boat. Confirm")
}

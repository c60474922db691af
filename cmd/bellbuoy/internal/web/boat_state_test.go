package web_test

import (
	"net/http"
	"testing"

	"bellbuoy/schedule/civil"
)

// TestBoatPageSaysWhatTheWeekSays: a visit that the week's list calls overdue,
// or asks about, is not merely planned on the boat's own page.
func TestBoatPageSaysWhatTheWeekSays(t *testing.T) {
	s := newTestShop(t)
	s.now = civil.Of(2026, 11, 4).At(10, 0, s.app.Config.Zone())
	if _, err := s.app.Settle(t.Context(), s.now, civil.FromTime(s.now), nil); err != nil {
		t.Fatal(err)
	}
	cookie := s.hire("Inge", "desk")
	// LARK's lay-up was due on 10 October.
	s.as(cookie, "GET", "/?part=overdue", nil).says("Blue Hour")
	s.as(cookie, "GET", "/boats/LARK", nil).code(http.StatusOK).says("▲ overdue")
	s.as(cookie, "GET", "/boats/PERCH", nil).says("◐ penciled in", "about $1,141. ", "on its trailer at the owner's home").silent("trailer-home")
	v := s.nextVisit("PERCH")
	s.as(cookie, "POST", "/boats/PERCH/book", map[string][]string{"visit": {v.ID}, "do": {"book"}, "day": {"2026-11-06"}}).code(http.StatusSeeOther)
	s.as(cookie, "GET", "/boats/PERCH", nil).says("● booked")
	s.now = civil.Of(2026, 11, 9).At(10, 0, s.app.Config.Zone())
	if _, err := s.app.Settle(t.Context(), s.now, civil.FromTime(s.now), nil); err != nil {
		t.Fatal(err)
	}
	s.as(s.hire("Ruth", "desk"), "GET", "/boats/PERCH", nil).says("? day passed")
}

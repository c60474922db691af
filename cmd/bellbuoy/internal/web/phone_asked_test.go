package web_test

import (
	"net/http"
	"testing"

	"bellbuoy/schedule"
	"bellbuoy/schedule/civil"
	"bellbuoy/store/storetest"
)

// TestTheCallListAsksWhetherItWasWinterized: on 25 November LARK's winterization
// is 46 days late, so it is a question on the call list and no visit; a call note
// lets it rest, and what the owner says it was ends it.
func TestTheCallListAsksWhetherItWasWinterized(t *testing.T) {
	s := newTestShop(t)
	cookie := s.hire("Inge", "desk")
	s.as(cookie, "GET", "/calls", nil).code(http.StatusOK).
		says("Was it winterized?", "Odalys Trần", "Blue Hour", "no winterization is on record since the summer: ask the owner whether it was done").
		silent("Perch Pressure")
	rec := schedule.Record{BoatID: "LARK", Day: civil.Of(2026, 10, 8), Service: "lay-up", By: schedule.ByElsewhere}
	if _, err := storetest.Writer(t, s.app.DB).AddRecord(t.Context(), s.now, "test", rec); err != nil {
		t.Fatal(err)
	}
	if _, err := s.app.Settle(t.Context(), s.now, civil.FromTime(s.now), nil); err != nil {
		t.Fatal(err)
	}
	s.as(cookie, "GET", "/calls", nil).silent("Was it winterized?")
}

package web_test

import (
	"net/http"
	"net/url"
	"strings"
	"testing"

	"bellbuoy/schedule/civil"
	"bellbuoy/store"
)

// TestTheChangeHistoryIsInWords: what people did is said as they would say it: no
// JSON, no codes, no tenths of hours and no cents; for everybody and for one, for
// everything and for a part.
func TestTheChangeHistoryIsInWords(t *testing.T) {
	s := newTestShop(t)
	desk, tech := s.hire("Inge", "desk"), s.hire("Ruth", "technician")
	v := s.nextVisit("PERCH")
	book := url.Values{"visit": {v.ID}, "do": {"book"}, "day": {"2027-04-13"}, "time": {"09:30"}}
	s.as(desk, "POST", "/boats/PERCH/book", book).code(http.StatusSeeOther)
	book.Set("was", "2027-04-13 09:30")
	book.Set("day", "2027-04-14")
	s.as(desk, "POST", "/boats/PERCH/book", book).code(http.StatusSeeOther)
	s.as(tech, "POST", "/boats/PERCH/record", url.Values{"form": {"one"}, "day": {"2026-11-25"}, "free0": {"impeller"}, "part0": {"PERCH-E1"}, "freeamount0": {"184.00"}, "hours-PERCH-E1": {"300.5"}}).code(http.StatusSeeOther)
	if _, err := s.app.AddAbsence(t.Context(), s.now, "Inge", store.Absence{Technician: "Ruth", From: civil.Of(2027, 5, 3), To: civil.Of(2027, 5, 7), Why: "a course"}); err != nil {
		t.Fatal(err)
	}
	c, err := s.app.DB.Customer(t.Context(), "W1")
	if err != nil {
		t.Fatal(err)
	}
	was := c
	c.Phone = "296-555-0199"
	if _, err := s.app.ChangeCustomer(t.Context(), s.now, "Inge", "two", was, c); err != nil {
		t.Fatal(err)
	}

	all := s.as(desk, "GET", "/changes", nil).says("Change history",
		"Inge booked: spring commissioning · April 13, 2027 · at: 9:30 AM",
		"Inge moved the booking: day: April 14, 2027, before: April 13, 2027",
		"Ruth read the hour meter: Port engine · November 25, 2026 · 300.5 h",
		"November 25, 2026 · 300.5 h · $184.00",
		"Inge gave time off: Ruth · from: May 3, 2027 · to: May 7, 2027 · why: a course",
		"Inge changed the customer: phone: 296-555-0199, before: ")
	for _, code := range []string{"{", "fit-out", "3005", "18400", "PERCH-E1", "2027-0"} {
		if strings.Contains(all.text(), code) {
			t.Errorf("the page holds %q", code)
		}
	}
	s.as(desk, "GET", "/changes?person=Ruth", nil).says("Ruth recorded work").silent("Inge booked")
	s.as(desk, "GET", "/changes?about=weeks", nil).says("Inge booked", "gave time off").silent("recorded work", "changed the customer")
	s.as(desk, "GET", "/changes?about=customers", nil).says("changed the customer").silent("Inge booked")
	s.as(desk, "GET", "/changes?about=settings", nil).says("account").silent("Inge booked")
	s.as(desk, "GET", "/changes?about=nothing", nil).code(http.StatusNotFound)
	s.as(tech, "GET", "/changes", nil).code(http.StatusForbidden)
}

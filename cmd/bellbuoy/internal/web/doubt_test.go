package web_test

import (
	"net/http"
	"net/url"
	"strings"
	"testing"

	"bellbuoy/schedule/civil"
)

// TestDoubtedEntriesAreAskedAbout: what is hardly ever right is taken only with
// the box ticked, what was typed stays, and both stand in the history of changes.
func TestDoubtedEntriesAreAskedAbout(t *testing.T) {
	s := newTestShop(t)
	cookie := s.hire("Inge", "desk")
	before := len(s.facts("PERCH").Records)
	work := url.Values{"day": {"1990-05-01"}, "by": {"shop"}, "free1": {"impeller"}, "part1": {"PERCH-E1"}, "note": {"by hand"}, "back": {"/"}, "form": {"F1"}}
	page := s.as(cookie, "POST", "/boats/PERCH/record", work).code(http.StatusUnprocessableEntity).
		says("is before there was this boat or part", "Yes, this is right", "by hand")
	if strings.Contains(page.Body.String(), `name="sure" value="1" checked`) {
		t.Error("the box is ticked before anybody ticked it")
	}
	if n := len(s.facts("PERCH").Records); n != before {
		t.Fatalf("%d records, want the %d of before", n, before)
	}
	work.Set("sure", "1")
	s.as(cookie, "POST", "/boats/PERCH/record", work).code(http.StatusSeeOther)
	if n := len(s.facts("PERCH").Records); n != before+1 {
		t.Errorf("%d records, want %d", n, before+1)
	}

	v := s.nextVisit("PERCH")
	book := url.Values{"visit": {v.ID}, "back": {"/"}, "do": {"book"}, "day": {"2027-06-10"}}
	s.as(cookie, "POST", "/boats/PERCH/book", book).code(http.StatusUnprocessableEntity).
		says("is after the last good day", "Yes, this is right")
	if b := s.nextVisit("PERCH").Booking; b != nil {
		t.Fatalf("booked: %+v", b)
	}
	book.Set("sure", "1")
	s.as(cookie, "POST", "/boats/PERCH/book", book).code(http.StatusSeeOther)
	if b := s.nextVisit("PERCH").Booking; b == nil || b.Day != civil.Of(2027, 6, 10) {
		t.Errorf("booked %+v", b)
	}
}

package web_test

import (
	"net/http"
	"net/url"
	"testing"

	"bellbuoy/schedule"
)

// TestABookedDayWithNothingLeftIsAskedAbout: PERCH's commissioning is booked, and its
// rules are switched off after that. The call list, the week, the day and the boat's page
// say that there is something to ask; its owner's pages still have the day and list no
// jobs. A call note lets the question rest, and taking the booking off ends it.
func TestABookedDayWithNothingLeftIsAskedAbout(t *testing.T) {
	s := newTestShop(t)
	cookie := s.hire("Inge", "desk")
	s.bookPerch()
	day := s.visit("PERCH", perchVisit).Booking.Day
	for _, it := range s.plan("PERCH").Items {
		if it.VisitID != perchVisit {
			continue
		}
		o := schedule.Override{BoatID: "PERCH", ComponentID: it.ComponentID, Rule: it.Rule, Skip: true}
		if _, err := s.app.SetOverride(t.Context(), s.now, "Inge", o); err != nil {
			t.Fatal(err)
		}
	}
	if v := s.visit("PERCH", perchVisit); !v.NothingLeft() || v.Booking.Day != day {
		t.Fatalf("the visit is %+v", v)
	}
	const heading = "Booked, and nothing is left to do"
	s.as(cookie, "GET", "/calls", nil).code(http.StatusOK).says(heading, "Perch Pressure", "Call note", "Booking")
	s.as(cookie, "GET", "/?week="+day.Week().String(), nil).code(http.StatusOK).says("nothing is left to do: ask, or cancel the booking").silent("0 jobs")
	s.as(cookie, "GET", "/day?day="+day.String(), nil).code(http.StatusOK).says("Perch Pressure", "nothing is left to do: ask, or cancel the booking").silent("no longer in the plan")
	s.as(cookie, "GET", "/boats/PERCH", nil).code(http.StatusOK).says("By the records nothing is left to do then").silent("0 jobs")
	q := "?visit=" + url.QueryEscape(perchVisit)
	for _, page := range []string{"/book", "/sheet", "/record", "/work", "/call"} {
		s.as(cookie, "GET", "/boats/PERCH"+page+q, nil).code(http.StatusOK)
	}
	my := s.my("W1")
	s.get(my).code(http.StatusOK).says("By the records nothing is left to do then").silent("0 jobs")
	s.get(my+"/visit/"+url.PathEscape(perchVisit)).code(http.StatusOK).says("By the records nothing is left to do then", "Cancel").silent("0 jobs", "What is to be done")
	s.as(cookie, "POST", "/boats/PERCH/call"+q, url.Values{"outcome": {"message"}, "back": {"/calls"}}).code(http.StatusSeeOther)
	s.as(cookie, "GET", "/calls", nil).silent(heading)
	s.as(cookie, "POST", "/boats/PERCH/book", url.Values{"visit": {perchVisit}, "back": {"/"}, "day": {day.String()}, "was": {s.visit("PERCH", perchVisit).Booking.When()}, "do": {"unbook"}}).code(http.StatusSeeOther)
	if s.hasVisit("PERCH", perchVisit) {
		t.Error("planned still")
	}
}

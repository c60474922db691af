package web_test

import (
	"net/http"
	"net/url"
	"regexp"
	"slices"
	"strings"
	"testing"

	"bellbuoy/schedule"
)

// TestAJobSomebodyAsksFor: in the words of whoever asks, with minutes and a price,
// on a visit of its own that is booked next; it prints, reaches the customer as
// typed and is recorded like any other. The form sent twice adds it once.
func TestAJobSomebodyAsksFor(t *testing.T) {
	s := newTestShop(t)
	desk := s.hire("Inge", "desk")
	page := s.as(desk, "GET", "/boats/PERCH/job?back=/", nil).code(http.StatusOK).says("Add a job: Perch Pressure", "Spring commissioning, week of")
	form := url.Values{"form": {formOf(page)}, "back": {"/"}, "words": {"Fit the customer's new  horn"}, "minutes": {"90"}, "price": {"240.00"}, "day": {"2026-12-02"}}
	to := s.as(desk, "POST", "/boats/PERCH/job", form).code(http.StatusSeeOther).to()
	if !strings.HasPrefix(to, "/boats/PERCH/book?") || !strings.Contains(to, "2026-12-02") {
		t.Fatalf("led to %s, not to the booking of its visit", to)
	}
	s.as(desk, "POST", "/boats/PERCH/job", form).code(http.StatusUnprocessableEntity)
	if n := len(s.facts("PERCH").FollowUps); n != 1 {
		t.Fatalf("%d jobs after a second press", n)
	}
	u, err := url.Parse(to)
	if err != nil {
		t.Fatal(err)
	}
	visit := u.Query().Get("visit")
	s.as(desk, "GET", to, nil).code(http.StatusOK).says("1.5 h", "about $240", "Fit the customer's new horn")
	s.as(desk, "POST", "/boats/PERCH/book", url.Values{"visit": {visit}, "do": {"book"}, "day": {"2026-12-02"}, "time": {"10:00"}}).code(http.StatusSeeOther)
	s.as(desk, "GET", "/?week=2026-W49", nil).says("● 10:00", "Perch Pressure", "Fit the customer's new horn", "1.5 h", "$240")
	s.as(desk, "GET", "/sheets?day=2026-12-02", nil).says("Fit the customer's new horn")
	s.get(s.my("W1")).says("Fit the customer's new horn")

	record := s.as(desk, "GET", "/boats/PERCH/record?visit="+url.QueryEscape(visit), nil).says("Fit the customer's new horn")
	name := regexp.MustCompile(`name="(job\d+)"`).FindStringSubmatch(record.Body.String())
	if name == nil {
		t.Fatal("the job cannot be ticked")
	}
	n := strings.TrimPrefix(name[1], "job")
	s.as(desk, "POST", "/boats/PERCH/record", url.Values{"form": {formOf(record)}, "visit": {visit}, "day": {"2026-11-25"}, name[1]: {"on"}, "amount" + n: {"240.00"}, "note": {"fits"}}).code(http.StatusSeeOther)
	if slices.ContainsFunc(s.plan("PERCH").Items, func(i schedule.DueItem) bool { return i.Service == schedule.ServiceOther }) {
		t.Error("the job is still planned after its record")
	}
	s.as(desk, "GET", "/boats/PERCH", nil).says("Fit the customer's new horn")
}

// TestAJobGoesAlongWithAVisit: from the catalog it costs and takes what the catalog
// says, and goes with the visit that was chosen. What cannot be read is said at its
// field.
func TestAJobGoesAlongWithAVisit(t *testing.T) {
	s := newTestShop(t)
	desk := s.hire("Inge", "desk")
	before := s.nextVisit("PERCH")
	page := s.as(desk, "GET", "/boats/PERCH/job", nil)
	bad := url.Values{"form": {formOf(page)}, "minutes": {"soon"}, "price": {"dear"}, "day": {"2026-01-01"}}
	refused := s.as(desk, "POST", "/boats/PERCH/job", bad).code(http.StatusUnprocessableEntity).
		says("What is to be done: write it", "Minutes: soon is no number", "Price: dear is not an amount", "Day: choose one from today on")
	if n := strings.Count(refused.Body.String(), `aria-invalid="true"`); n != 4 {
		t.Errorf("%d fields are marked, want 4", n)
	}
	good := url.Values{"form": {formOf(page)}, "service": {"thermostat"}, "visit": {before.ID}}
	s.as(desk, "POST", "/boats/PERCH/job", good).code(http.StatusSeeOther)
	after := s.nextVisit("PERCH")
	if after.ID != before.ID || after.Labour <= before.Labour || len(after.Items) != len(before.Items)+1 {
		t.Errorf("visit %s: %d min, %d jobs; before %s: %d min, %d jobs", after.ID, after.Labour, len(after.Items), before.ID, before.Labour, len(before.Items))
	}
}

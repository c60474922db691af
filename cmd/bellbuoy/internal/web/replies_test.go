package web_test

import (
	"net/http"
	"net/url"
	"regexp"
	"strings"
	"testing"
)

// TestRepliesSayWhatWasReplied: each in full, with what it is compared with; what
// somebody has seen says so, whatever its kind, and a second press is no second
// reply.
func TestRepliesSayWhatWasReplied(t *testing.T) {
	s := newTestShop(t)
	desk := s.hire("Inge", "desk")
	my := s.my("W1")
	s.bookPerchOn(mustDay(t, "2027-04-13"))
	for _, c := range []struct {
		form url.Values
		says string
	}{
		{url.Values{"kind": {"hours"}, "boat": {"PERCH"}, "h-PERCH-E1": {"284"}, "day": {"2026-11-25"}}, "read the hour meter: 284 h on November 25, 2026, expected "},
		{url.Values{"kind": {"elsewhere"}, "visit": {perchVisit}, "line": {perchJob}, "day": {"2026-11-20"}, "was": {"2027-04-13 09:00"}}, "had work done elsewhere: "},
		{url.Values{"kind": {"mails"}, "mails": {"none"}}, "stopped all emails."},
		{url.Values{"kind": {"mails"}, "mails": {"all"}}, "wants our emails again."},
	} {
		for range 2 { // pressed twice
			s.post(my+"/answer", c.form).code(http.StatusSeeOther)
		}
		page := s.as(desk, "GET", "/replies", nil).says(c.says)
		if n := strings.Count(page.text(), c.says); n != 1 {
			t.Errorf("%q stands %d times", c.says, n)
		}
	}
	page := s.as(desk, "GET", "/replies", nil).says("on November 20, 2026", "▲ to do · today", "new")
	if !regexp.MustCompile(`expected \d+(\.\d)? to \d+(\.\d)? h\.`).MatchString(page.text()) {
		t.Errorf("the reading is compared with nothing: %s", page.text())
	}
	// Whatever is seen says so.
	before := strings.Count(page.Body.String(), ">Seen<")
	id := regexp.MustCompile(`name="id" value="(\d+)"><button type="submit" class="link">Seen`).FindStringSubmatch(page.Body.String())
	if id == nil {
		t.Fatal("no reply can be marked as seen")
	}
	for range 2 {
		s.as(desk, "POST", "/replies/seen", url.Values{"id": {id[1]}}).code(http.StatusSeeOther)
	}
	page = s.as(desk, "GET", "/replies", nil).says("✓ seen")
	if n := strings.Count(page.Body.String(), ">Seen<"); n != before-1 {
		t.Errorf("%d replies are to be seen, want %d", n, before-1)
	}
}

// TestARepliedDayNamesBoth: the day taken, and the one given up for it.
func TestARepliedDayNamesBoth(t *testing.T) {
	s := newTestShop(t)
	desk := s.hire("Inge", "desk")
	s.bookPerchOn(mustDay(t, "2027-04-13"))
	s.post(s.my("W1")+"/answer", url.Values{"kind": {"take"}, "visit": {perchVisit}, "day": {"2027-04-20"}, "was": {"2027-04-13 09:00"}}).code(http.StatusSeeOther)
	s.as(desk, "GET", "/replies", nil).says("booked Tuesday, April 20, 2027, instead of Tuesday, April 13, 2027 at 9:00 AM.")
}

package web_test

import (
	"html"
	"net/http"
	"net/url"
	"regexp"
	"strings"
	"testing"

	"bellbuoy/schedule"
	"bellbuoy/schedule/civil"
	"bellbuoy/store/storetest"
)

// booking is the day that PERCH's next visit is booked for, nil for none.
func (s *testShop) perchBooking() *schedule.Booking {
	s.t.Helper()
	b := s.facts("PERCH").Bookings
	if len(b) == 0 {
		return nil
	}
	return &b[0]
}

// bookPerchOn books PERCH's visit at the desk for 9:00 on a day.
func (s *testShop) bookPerchOn(day civil.Day) {
	s.t.Helper()
	b := schedule.Booking{VisitID: perchVisit, BoatID: "PERCH", Kind: schedule.FitOut, Day: day, Minute: 9 * 60}
	if _, err := s.app.Book(s.t.Context(), s.now, "Inge", b, nil, true); err != nil {
		s.t.Fatal(err)
	}
	if _, err := s.app.Settle(s.t.Context(), s.now, s.today(), nil); err != nil {
		s.t.Fatal(err)
	}
}

// asShown is a form with the hidden fields that it has on a page.
func asShown(t *testing.T, page answered, kind string, typed url.Values) url.Values {
	t.Helper()
	form := url.Values{}
	for _, f := range regexp.MustCompile(`(?s)<form.*?</form>`).FindAllString(page.Body.String(), -1) {
		if !strings.Contains(f, kind) {
			continue
		}
		for _, m := range regexp.MustCompile(`<input type="hidden" name="([^"]*)" value="([^"]*)"`).FindAllStringSubmatch(f, -1) {
			form.Set(m[1], html.UnescapeString(m[2]))
		}
		for k, v := range typed {
			form[k] = v
		}
		return form
	}
	t.Fatalf("the page has no form with %s", kind)
	return nil
}

// TestAStalePageOverwritesNothing: the desk books on the phone while the
// customer's page is open; whatever is pressed there, the booking stands, and
// the page says what there is to choose.
func TestAStalePageOverwritesNothing(t *testing.T) {
	for name, c := range map[string]struct {
		form  string
		typed url.Values
		keeps string
	}{
		"take":          {`value="take"`, url.Values{"note": {"the bilge pump hums"}}, "the bilge pump hums"},
		"later":         {`value="later"`, url.Values{"until": {"2026-12-09"}}, "Cancel the day"},
		"decline":       {`value="decline"`, url.Values{"note": {"too dear this year"}}, "too dear this year"},
		"elsewhere":     {`value="elsewhere"`, url.Values{"line": {perchJob}, "day": {"2026-11-20"}, "note": {"a friend"}}, "a friend"},
		"all elsewhere": {`value="elsewhere"`, url.Values{"all": {"1"}, "day": {"2026-11-20"}, "note": {"a friend"}}, "a friend"},
	} {
		t.Run(name, func(t *testing.T) {
			s := newTestShop(t)
			my := s.my("W1")
			page := s.get(my + "/visit/" + perchVisit).code(http.StatusOK)
			form := asShown(t, page, c.form, c.typed)
			day := mustDay(t, dayOffered(t, page))
			if name == "take" {
				form.Set("day", day.String())
			}
			s.bookPerchOn(day + 1)
			before := s.fingerprint()
			a := s.post(my+"/answer", form).code(http.StatusConflict).
				says("Meanwhile this visit was booked for "+(day+1).Weekday().String(), "at 9:00", "Keep it", "Choose another day", "Cancel the day")
			if !strings.Contains(html.UnescapeString(a.Body.String()), c.keeps) {
				t.Errorf("the page lost %q", c.keeps)
			}
			if s.fingerprint() != before {
				t.Error("something was written all the same")
			}
			// Pressed again on the page that says so, it is meant.
			if name == "take" {
				again := asShown(t, a, c.form, url.Values{"day": {day.String()}})
				s.post(my+"/answer", again).code(http.StatusSeeOther)
				if b := s.perchBooking(); b == nil || b.Day != day {
					t.Errorf("booking %+v, want %s", b, day)
				}
			}
		})
	}
}

// TestAStalePageDoesNotCancelAnotherDay: the customer cancels one day, and the
// desk has just agreed on another.
func TestAStalePageDoesNotCancelAnotherDay(t *testing.T) {
	s := newTestShop(t)
	my := s.my("W1")
	page := s.get(my + "/visit/" + perchVisit)
	day := mustDay(t, dayOffered(t, page))
	take := asShown(t, page, `value="take"`, url.Values{"day": {day.String()}})
	s.post(my+"/answer", take).code(http.StatusSeeOther)
	s.post(my+"/answer", take).code(http.StatusSeeOther) // the button pressed twice
	cancel := asShown(t, s.get(my+"/visit/"+perchVisit), `value="cancel"`, nil)
	s.bookPerchOn(day + 1)
	s.post(my+"/answer", cancel).code(http.StatusConflict).says("Meanwhile this visit was booked for")
	if b := s.perchBooking(); b == nil || b.Day != day+1 || b.Minute != 9*60 {
		t.Fatalf("booking %+v, want the desk's", b)
	}
	// A wish to be called needs no state: it takes nothing.
	call := asShown(t, page, `value="call"`, nil)
	s.post(my+"/answer", call).code(http.StatusSeeOther)
	// The desk takes the booking off while the customer moves it.
	move := asShown(t, s.get(my+"/visit/"+perchVisit), `value="take"`, url.Values{"day": {day.String()}})
	if err := storetest.Writer(t, s.app.DB).Unbook(t.Context(), s.now, "Inge", perchVisit, nil, nil); err != nil {
		t.Fatal(err)
	}
	s.post(my+"/answer", move).code(http.StatusConflict).says("Meanwhile the booked day was given up")
	if b := s.perchBooking(); b != nil {
		t.Errorf("booking %+v, want none", b)
	}
}

// TestTwoAtTheDesk: two people have the form open; the second reads what the
// first has done, with what was entered, before anything is overwritten.
func TestTwoAtTheDesk(t *testing.T) {
	for name, do := range map[string]string{"books": "book", "pencils": "week", "lets the planner choose": "release"} {
		t.Run(name, func(t *testing.T) {
			s := newTestShop(t)
			cookie := s.hire("Inge", "desk")
			page := s.as(cookie, "GET", "/boats/PERCH/book?visit="+perchVisit, nil).code(http.StatusOK)
			button := `value="book"`
			if do != "book" {
				button = `value="week"`
			}
			form := asShown(t, page, button, url.Values{"do": {do}, "day": {"2027-04-14"}, "time": {"10:00"}, "week": {"2027-W17"}})
			s.bookPerchOn(mustDay(t, "2027-04-13"))
			a := s.as(cookie, "POST", "/boats/PERCH/book", form).code(http.StatusConflict).
				says("Meanwhile this visit was booked for Tuesday, April 13, 2027 at 9:00")
			if b := s.perchBooking(); b == nil || b.Day != mustDay(t, "2027-04-13") {
				t.Fatalf("booking %+v, want the first one", b)
			}
			if do != "book" {
				return
			}
			if !strings.Contains(a.Body.String(), `value="2027-04-14"`) || !strings.Contains(a.Body.String(), `value="10:00"`) {
				t.Error("what was entered is lost")
			}
			again := asShown(t, a, button, url.Values{"do": {"book"}, "day": {"2027-04-14"}, "time": {"10:00"}})
			s.as(cookie, "POST", "/boats/PERCH/book", again).code(http.StatusSeeOther)
			if b := s.perchBooking(); b == nil || b.Day != mustDay(t, "2027-04-14") {
				t.Errorf("booking %+v after it was meant", b)
			}
		})
	}
	t.Run("takes off", func(t *testing.T) {
		s := newTestShop(t)
		cookie := s.hire("Inge", "desk")
		s.bookPerchOn(mustDay(t, "2027-04-13"))
		page := s.as(cookie, "GET", "/boats/PERCH/book?visit="+perchVisit, nil).code(http.StatusOK)
		form := asShown(t, page, `value="unbook"`, url.Values{"do": {"unbook"}})
		s.bookPerchOn(mustDay(t, "2027-04-14"))
		s.as(cookie, "POST", "/boats/PERCH/book", form).code(http.StatusConflict).says("Meanwhile this visit was booked for Wednesday, April 14, 2027 at 9:00")
		if b := s.perchBooking(); b == nil || b.Day != mustDay(t, "2027-04-14") {
			t.Errorf("booking %+v, want the second one", b)
		}
	})
}

// TestACallDoesNotDeclineABookedVisit: the note of a call keeps a booking from
// standing with a customer who said no.
func TestACallDoesNotDeclineABookedVisit(t *testing.T) {
	s := newTestShop(t)
	cookie := s.hire("Inge", "desk")
	s.bookPerchOn(mustDay(t, "2027-04-13"))
	before := s.fingerprint()
	for _, outcome := range []string{"declined", "thinks"} {
		a := s.as(cookie, "POST", "/boats/PERCH/call", url.Values{"visit": {perchVisit}, "outcome": {outcome}, "note": {"sounded unsure"}}).
			code(http.StatusUnprocessableEntity).says("booked for Tuesday, April 13, 2027 at 9:00", "sounded unsure")
		if !strings.Contains(a.Body.String(), "/boats/PERCH/book?visit=") {
			t.Error("the page does not lead to the booking")
		}
	}
	if s.fingerprint() != before {
		t.Error("something was written all the same")
	}
	s.as(cookie, "POST", "/boats/PERCH/call", url.Values{"visit": {perchVisit}, "outcome": {"message"}}).code(http.StatusSeeOther)
}

// TestAReplyAgainstABookingIsToDo: what a customer says against a day that the
// desk booked waits for the desk, until it keeps, moves or cancels the day.
func TestAReplyAgainstABookingIsToDo(t *testing.T) {
	if testing.Short() {
		t.Skip("takes seconds")
	}
	for name, c := range map[string]struct {
		form url.Values
		says string
	}{
		"later":          {url.Values{"kind": {"later"}, "visit": {perchVisit}, "until": {"2026-12-09"}}, "wants to be asked again"},
		"decline":        {url.Values{"kind": {"decline"}, "visit": {perchVisit}}, "does not want the visit"},
		"elsewhere":      {url.Values{"kind": {"elsewhere"}, "visit": {perchVisit}, "line": {perchJob}, "day": {"2026-11-20"}}, "had work done elsewhere"},
		"all elsewhere":  {url.Values{"kind": {"elsewhere"}, "visit": {perchVisit}, "all": {"1"}, "day": {"2026-11-20"}}, "had work done elsewhere"},
		"no longer mine": {url.Values{"kind": {"sold"}, "boat": {"PERCH"}}, "no longer has the boat"},
	} {
		t.Run(name, func(t *testing.T) {
			s := newTestShop(t)
			cookie := s.hire("Inge", "desk")
			s.bookPerchOn(mustDay(t, "2027-04-13"))
			c.form.Set("was", "2027-04-13 09:00")
			s.post(s.my("W1")+"/answer", c.form).code(http.StatusSeeOther)
			page := s.as(cookie, "GET", "/replies", nil).code(http.StatusOK).
				says("to do", c.says, "booked for Tuesday, April 13, 2027 at 9:00")
			if name == "no longer mine" {
				return // settled with the change of owner
			}
			form := asShown(t, page, "/replies/seen", nil)
			s.as(cookie, "POST", "/replies/seen", form).code(http.StatusSeeOther)
			s.as(cookie, "GET", "/replies", nil).says(c.says).silent("to do")
		})
	}
	t.Run("a moved day settles it", func(t *testing.T) {
		s := newTestShop(t)
		cookie := s.hire("Inge", "desk")
		s.bookPerchOn(mustDay(t, "2027-04-13"))
		s.post(s.my("W1")+"/answer", url.Values{"kind": {"decline"}, "visit": {perchVisit}, "was": {"2027-04-13 09:00"}}).code(http.StatusSeeOther)
		s.as(cookie, "GET", "/replies", nil).says("to do")
		s.bookPerchOn(mustDay(t, "2027-04-14"))
		s.as(cookie, "GET", "/replies", nil).silent("to do")
	})
	t.Run("the customer's own day is theirs to give up", func(t *testing.T) {
		s := newTestShop(t)
		cookie := s.hire("Inge", "desk")
		page := s.get(s.my("W1") + "/visit/" + perchVisit)
		day := dayOffered(t, page)
		s.post(s.my("W1")+"/answer", asShown(t, page, `value="take"`, url.Values{"day": {day}})).code(http.StatusSeeOther)
		s.post(s.my("W1")+"/answer", url.Values{"kind": {"elsewhere"}, "visit": {perchVisit}, "all": {"1"}, "day": {"2026-11-20"}, "was": {day}}).code(http.StatusSeeOther)
		s.as(cookie, "GET", "/replies", nil).says("had work done elsewhere").silent("to do")
	})
}

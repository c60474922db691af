package web_test

import (
	"errors"
	"net/http"
	"net/url"
	"slices"
	"strings"
	"testing"
	"time"

	"bellbuoy/schedule"
	"bellbuoy/schedule/civil"
	"bellbuoy/store"
	"bellbuoy/store/outbox"
	"bellbuoy/store/storetest"
)

// bookPerch books PERCH's fit-out on 4 May 2027 at 9:00, of which its owner W1
// is told.
func (s *testShop) bookPerch() {
	s.t.Helper()
	ctx := s.t.Context()
	if err := s.app.SwitchSending(ctx, s.now, "owner", true); err != nil {
		s.t.Fatal(err)
	}
	day, err := civil.Parse("2027-05-04")
	if err != nil {
		s.t.Fatal(err)
	}
	b := schedule.Booking{VisitID: perchVisit, BoatID: "PERCH", Kind: schedule.FitOut, Day: day, Minute: 540}
	if _, err := s.app.Book(ctx, s.now, "desk", b, nil, true); err != nil {
		s.t.Fatal(err)
	}
	if _, err := s.app.Settle(ctx, s.now, s.today(), nil); err != nil {
		s.t.Fatal(err)
	}
	if _, err := s.app.Tell(ctx, s.now, "PERCH"); err != nil {
		s.t.Fatal(err)
	}
}

// steps are the steps of the mails to a customer, oldest first.
func (s *testShop) steps(customer string) []schedule.Step {
	s.t.Helper()
	all, err := outbox.Messages(s.t.Context(), s.app.DB, outbox.MessageQuery{CustomerID: customer})
	if err != nil {
		s.t.Fatal(err)
	}
	var steps []schedule.Step
	for _, l := range all {
		steps = append(steps, l.Step)
	}
	slices.Reverse(steps)
	return steps
}

// TestNewOwnerKeepsOrGivesUpTheBookedDay: the form asks, both owners get one
// email each, and the desk reads what became of the day.
func TestNewOwnerKeepsOrGivesUpTheBookedDay(t *testing.T) {
	for _, c := range []struct {
		choice, note string
		kept         bool
	}{
		{"keep", "The spring commissioning on May 4, 2027 stays booked.", true},
		{"give-up", "The spring commissioning on May 4, 2027 is no longer booked.", false},
	} {
		t.Run(c.choice, func(t *testing.T) {
			s := newTestShop(t)
			s.bookPerch()
			cookie := s.hire("Inge", "desk")
			s.as(cookie, "GET", "/boats/PERCH/owner", nil).code(http.StatusOK).says("Spring commissioning, May 4, 2027 at 9:00", "Keep the booked day", "Give it up")
			form := url.Values{"what": {"sold-on"}, "day": {"2026-11-25"}, "customer": {"W3"}}
			before := s.fingerprint()
			s.as(cookie, "POST", "/boats/PERCH/owner", form).code(http.StatusUnprocessableEntity).says("Say what becomes of the booked day")
			if s.fingerprint() != before {
				t.Error("something was written all the same")
			}
			form.Set("booked", c.choice)
			a := s.as(cookie, "POST", "/boats/PERCH/owner", form).code(http.StatusSeeOther)
			s.send("GET", a.to(), nil, "Cookie", cookie+"; "+cookieOf(a)).says(c.note, "Maren Jørstad gets an email about it.", "The welcome email is on its way.")
			if booked := s.facts("PERCH").Bookings; (len(booked) == 1) != c.kept {
				t.Errorf("bookings %+v", booked)
			}
			if _, err := s.app.Remind(t.Context(), s.now); err != nil {
				t.Fatal(err)
			}
			if got := s.steps("W1"); !slices.Equal(got, []schedule.Step{schedule.StepConfirmation, schedule.StepPassedOn}) {
				t.Errorf("the earlier owner gets %v", got)
			}
			var out []schedule.Step // what the sender is given
			for {
				l, err := outbox.NewQueue(storetest.Writer(t, s.app.DB)).Claim(t.Context(), s.now, time.Minute)
				if errors.Is(err, store.ErrNone) {
					break
				}
				if err != nil {
					t.Fatal(err)
				}
				out = append(out, l.Step)
			}
			if !slices.Contains(out, schedule.StepPassedOn) {
				t.Errorf("of what goes out, %v, nothing tells the earlier owner", out)
			}
			if got := s.steps("W3"); !slices.Equal(got, []schedule.Step{schedule.StepWelcome}) {
				t.Errorf("the new owner gets %v, want one mail", got)
			}
		})
	}
}

// TestBookedDayOfABoatThatLeaves: nothing is dropped without a word, also where
// nobody takes the boat over or nobody can be mailed.
func TestBookedDayOfABoatThatLeaves(t *testing.T) {
	s := newTestShop(t)
	s.bookPerch()
	cookie := s.hire("Inge", "desk")
	form := url.Values{"what": {"taken-in"}, "day": {"2026-11-25"}}
	s.as(cookie, "POST", "/boats/PERCH/owner", form).code(http.StatusUnprocessableEntity).says("Say what becomes of the booked day")
	form.Set("booked", "keep")
	s.as(cookie, "POST", "/boats/PERCH/owner", form).code(http.StatusSeeOther)
	if got := s.steps("W1"); !slices.Contains(got, schedule.StepPassedOn) {
		t.Errorf("the earlier owner gets %v", got)
	}

	// Sold out of stock with a day booked for it: the sale asks too.
	sale := saleForm()
	sale.Set("boat", "PERCH")
	sale.Set("customer", "W2")
	sale.Set("name", "Piotr Dunmarrow")
	sale.Set("email", "")
	sale.Set("contact_by", "phone")
	page := s.as(cookie, "POST", "/sold", sale).code(http.StatusUnprocessableEntity).says("Say what becomes of the booked day", "Spring commissioning, May 4, 2027 at 9:00")
	if !strings.Contains(page.Body.String(), `name="booked"`) {
		t.Error("the sale does not ask")
	}
	sale.Set("booked", "keep")
	s.as(cookie, "POST", "/sold", sale).code(http.StatusSeeOther)
	if len(s.facts("PERCH").Bookings) != 1 {
		t.Error("the booked day is gone")
	}

	// Its owner has no email address, so somebody calls.
	form = url.Values{"what": {"gone"}, "day": {"2026-11-25"}}
	s.now = s.now.Add(48 * 3600e9)
	cookie = s.hire("Ove", "desk")
	form.Set("day", s.today().String())
	a := s.as(cookie, "POST", "/boats/PERCH/owner", form).code(http.StatusSeeOther)
	s.send("GET", a.to(), nil, "Cookie", cookie+"; "+cookieOf(a)).says("is no longer booked", "Piotr Dunmarrow gets no email: please call.")
	if len(s.facts("PERCH").Bookings) != 0 {
		t.Error("a boat that is gone has a booked day")
	}
}

package web_test

import (
	"net/http"
	"net/url"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"bellbuoy/cmd/bellbuoy/internal/web/site"
	"bellbuoy/schedule"
	"bellbuoy/store/outbox"
	"bellbuoy/store/storetest"
)

// sendOne has the mail server take the next email.
func (s *testShop) sendOne() {
	s.t.Helper()
	q := outbox.NewQueue(storetest.Writer(s.t, s.app.DB))
	m, err := q.Claim(s.t.Context(), s.now, time.Minute)
	if err == nil {
		err = q.MarkDot(s.t.Context(), m.ID, m.LeaseToken, s.now)
	}
	if err == nil {
		err = q.RecordOutcome(s.t.Context(), m.ID, m.LeaseToken, schedule.Outcome{State: schedule.MessageSent, Code: 250}, s.now)
	}
	if err != nil {
		s.t.Fatal(err)
	}
}

// TestRecordedWorkIsTakenBack records a visit and takes it back: facts, plan and
// calendar are as before, and the history says what happened.
func TestRecordedWorkIsTakenBack(t *testing.T) {
	s := newTestShop(t)
	desk := s.hire("Inge", "desk")
	facts, plan := s.facts("HERON"), s.plan("HERON").Visits
	page := s.as(desk, "GET", "/boats/HERON/record", nil)
	work := url.Values{"form": {formOf(page)}, "day": {"2026-11-20"}, "by": {"shop"}, "hours-HERON-E1": {"420"}, "free0": {"lay-up"}, "part0": {""}, "freeamount0": {"310.00"}, "sure": {"1"}}
	s.as(desk, "GET", s.as(desk, "POST", "/boats/HERON/record", work).code(http.StatusSeeOther).to(), nil).code(http.StatusOK).holds("/boats/HERON/take-back?day=2026-11-20")
	if cmp.Equal(facts, s.facts("HERON")) {
		t.Fatal("nothing was recorded")
	}
	ask := s.as(desk, "GET", "/boats/HERON/take-back?day=2026-11-20", nil).code(http.StatusOK).says("take back what was recorded on November 20, 2026?", "$310.00", "420 h", "What follows", "instead of")
	form := url.Values{"form": {formOf(ask)}}
	s.as(desk, "POST", "/boats/HERON/take-back?day=2026-11-20", form).code(http.StatusUnprocessableEntity).says("Nothing is ticked")
	f := s.facts("HERON")
	for _, rec := range f.Records {
		if rec.Day.String() == "2026-11-20" {
			form.Add("record", rec.ID)
		}
	}
	for _, m := range f.Readings {
		if m.Day.String() == "2026-11-20" {
			form.Add("reading", m.ComponentID+" "+m.Hours.String())
		}
	}
	s.as(desk, "POST", "/boats/HERON/take-back?day=2026-11-20", form).code(http.StatusSeeOther)
	if diff := cmp.Diff(facts, s.facts("HERON")); diff != "" {
		t.Errorf("facts (-before +after):\n%s", diff)
	}
	if diff := cmp.Diff(plan, s.plan("HERON").Visits); diff != "" {
		t.Errorf("plan (-before +after):\n%s", diff)
	}
	// A second press, and Back.
	s.as(desk, "POST", "/boats/HERON/take-back?day=2026-11-20", form).code(http.StatusNotFound)
	s.as(desk, "GET", "/boats/HERON", nil).says("entries were taken back", "taken back by Inge", "Inge took recorded work back: ")
}

// TestEndsAreAskedAndTakenBack marks a boat as inactive and as traded in, and
// takes both back.
func TestEndsAreAskedAndTakenBack(t *testing.T) {
	s := newTestShop(t)
	desk := s.hire("Inge", "desk")
	if page := s.as(desk, "GET", "/boats/HERON/owner", nil).code(http.StatusOK).Body.String(); strings.Count(page, `name="what" value="gone"`) != 1 || strings.Contains(page, `<button type="submit" name="what"`) {
		t.Error("a button ends an ownership without a question")
	}
	before, plan := s.facts("HERON"), len(s.plan("HERON").Visits)
	for _, c := range []struct{ what, asks string }{{"gone", "take back that it is inactive"}, {"taken-in", "take back that it was traded in"}} {
		s.as(desk, "POST", "/boats/HERON/owner", url.Values{"kind": {"ended"}, "what": {c.what}, "day": {"2026-11-24"}}).code(http.StatusSeeOther)
		ask := s.as(desk, "GET", "/boats/HERON/owner/take-back", nil).code(http.StatusOK).says(c.asks, "Piotr Dunmarrow has the boat again")
		owners, err := s.app.DB.Ownerships(t.Context(), "HERON")
		if err != nil {
			t.Fatal(err)
		}
		form := url.Values{"form": {formOf(ask)}, "seen": {site.Seen(owners[len(owners)-1])}}
		s.as(desk, "POST", "/boats/HERON/owner/take-back", form).code(http.StatusSeeOther)
		if diff := cmp.Diff(before, s.facts("HERON")); diff != "" || len(s.plan("HERON").Visits) != plan {
			t.Errorf("%s: facts (-before +after):\n%s", c.what, diff)
		}
		if o, err := s.app.OwnerOf(t.Context(), "HERON"); err != nil || o.ID != "W2" {
			t.Errorf("%s: the owner is %q (%v)", c.what, o.ID, err)
		}
		s.as(desk, "POST", "/boats/HERON/owner/take-back", form).code(http.StatusUnprocessableEntity).says("Meanwhile")
	}
}

// TestMistypedSaleIsTakenBack sells a boat, welcomes the wrong buyer and takes it
// back, with a correction only because the desk ticks it.
func TestMistypedSaleIsTakenBack(t *testing.T) {
	for _, tick := range []bool{false, true} {
		s := newTestShop(t)
		desk := s.hire("Inge", "desk")
		if err := s.app.SwitchSending(t.Context(), s.now, "owner", true); err != nil {
			t.Fatal(err)
		}
		s.as(desk, "POST", "/sold", saleForm()).code(http.StatusSeeOther)
		s.sendOne()
		ask := s.as(desk, "GET", "/boats/NB0001/owner/take-back", nil).code(http.StatusOK).says("take back that Nils Fen has it", "The shop has the boat again", "It no longer counts as a sale", "Email the customer a correction")
		owners, err := s.app.DB.Ownerships(t.Context(), "NB0001")
		if err != nil {
			t.Fatal(err)
		}
		form := url.Values{"form": {formOf(ask)}, "seen": {site.Seen(owners[0])}}
		if tick {
			form.Set("correct", "1")
		}
		s.as(desk, "POST", "/boats/NB0001/owner/take-back", form).code(http.StatusSeeOther)
		f := s.facts("NB0001")
		if len(f.Records)+len(f.Readings) != 0 || f.Boat.SoldOn != 0 || f.Boat.WarrantyUntil != 0 {
			t.Errorf("of the sale stay %+v, %d records, %d readings", f.Boat, len(f.Records), len(f.Readings))
		}
		if m, err := s.app.DB.Measurements(t.Context(), "NB0001"); err != nil || len(m) != 0 {
			t.Errorf("measurements %v (%v)", m, err)
		}
		all, err := outbox.Messages(t.Context(), s.app.DB, outbox.MessageQuery{CustomerID: "NC0001"})
		if err != nil || (len(all) == 2) != tick {
			t.Errorf("ticked %v: %d emails (%v)", tick, len(all), err)
		}
		if tick && all[0].Subject != "2016 Brackenhull Reedpike 17: a correction" {
			t.Errorf("subject %q", all[0].Subject)
		}
	}
}

// TestCallIsTakenBack takes back a no that was another customer's.
func TestCallIsTakenBack(t *testing.T) {
	s := newTestShop(t)
	desk := s.hire("Inge", "desk")
	v := s.nextVisit("HERON")
	s.as(desk, "POST", "/boats/HERON/call", url.Values{"visit": {v.ID}, "outcome": {"declined"}, "note": {"Sells it"}}).code(http.StatusSeeOther)
	s.as(desk, "GET", "/customers/W2", nil).says("Sells it").holds("/calls/1/take-back")
	ask := s.as(desk, "GET", "/calls/1/take-back", nil).code(http.StatusOK).says("Take back the call to Piotr Dunmarrow")
	form := url.Values{"form": {formOf(ask)}}
	s.as(desk, "POST", "/calls/1/take-back", form).code(http.StatusSeeOther)
	if no, err := s.app.DB.DeclinedVisits(t.Context(), nil); err != nil || len(no) != 0 {
		t.Errorf("still declined: %v (%v)", no, err)
	}
	s.as(desk, "POST", "/calls/1/take-back", form).code(http.StatusNotFound)
	s.as(desk, "GET", "/customers/W2", nil).says("Inge took a call back")
}

// TestBoatThatWeDidNotSell is put on file and planned: no sale, which
// is what return rates count, no warranty, no welcome.
func TestBoatThatWeDidNotSell(t *testing.T) {
	s := newTestShop(t)
	if err := s.app.SwitchSending(t.Context(), s.now, "owner", true); err != nil {
		t.Fatal(err)
	}
	desk := s.hire("Inge", "desk")
	s.as(desk, "GET", "/sold?origin=service", nil).code(http.StatusOK).says("New service customer", "Customer since")
	form := saleForm()
	for _, f := range []string{"warranty", "work", "work_day", "remarks"} {
		form.Del(f)
	}
	form.Set("origin", "service")
	form.Set("day", "2026-11-20")
	if to := s.as(desk, "POST", "/sold", form).code(http.StatusSeeOther).to(); to != "/boats/NB0001" {
		t.Errorf("led to %q", to)
	}
	s.as(desk, "POST", "/sold", form).code(http.StatusUnprocessableEntity)
	if b := s.facts("NB0001").Boat; b.SoldOn != 0 || b.WarrantyUntil != 0 {
		t.Errorf("on file %+v", b)
	}
	owners, err := s.app.DB.Ownerships(t.Context(), "NB0001")
	if err != nil || len(owners) != 1 || owners[0].From.String() != "2026-11-20" {
		t.Errorf("owners %v (%v)", owners, err)
	}
	if len(s.plan("NB0001").Visits) == 0 {
		t.Error("nothing is planned")
	}
	if all, err := outbox.Messages(t.Context(), s.app.DB, outbox.MessageQuery{CustomerID: "NC0001"}); err != nil || len(all) != 0 {
		t.Errorf("%d emails (%v)", len(all), err)
	}
}

// TestCallNoteCountsOnce: a second press is no second call.
func TestCallNoteCountsOnce(t *testing.T) {
	s := newTestShop(t)
	desk := s.hire("Inge", "desk")
	for _, path := range []string{"/boats/HERON/call", "/customers/W2/call"} {
		form := formTo(t, s.as(desk, "GET", path, nil).code(http.StatusOK), path)
		form.Set("outcome", "no-answer")
		for range 2 {
			s.as(desk, "POST", path, form).code(http.StatusSeeOther)
		}
	}
	if calls, err := s.app.DB.CallsTo(t.Context(), "W2", 10); err != nil || len(calls) != 2 {
		t.Errorf("%d calls (%v), want one of each form", len(calls), err)
	}
}

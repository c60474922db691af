package web_test

import (
	"net/http"
	"net/url"
	"slices"
	"strings"
	"testing"

	"bellbuoy/schedule"
	"bellbuoy/schedule/civil"
)

// TestADeclinedVisitKeepsNoHours: what the customer does not want takes no room
// in the shop's weeks, until they take that back.
func TestADeclinedVisitKeepsNoHours(t *testing.T) {
	s := newTestShop(t)
	my := s.my("W1")
	week := func() string {
		t.Helper()
		w, err := s.app.Fit(t.Context(), s.today())
		if err != nil {
			t.Fatal(err)
		}
		for _, visits := range w.Visits {
			for _, v := range visits {
				if v.ID == perchVisit {
					return v.Week.String()
				}
			}
		}
		return ""
	}
	before := week()
	if before == "" {
		t.Fatal("the visit has no week to begin with")
	}
	to := s.post(my+"/answer", url.Values{"kind": {"decline"}, "visit": {perchVisit}}).code(http.StatusSeeOther).to()
	if got := week(); got != "" {
		t.Errorf("declined, and still pencilled for %s", got)
	}
	s.post(my+"/undo", url.Values{"id": {to[strings.LastIndexByte(to, '/')+1:]}}).code(http.StatusSeeOther)
	if got := week(); got != before {
		t.Errorf("taken back, and pencilled for %q instead of %s", got, before)
	}
}

// TestNoOnThePhoneIsNo: a visit that its owner declined in a call keeps no
// hours once the daemon has looked, and the owner is not asked by mail again.
func TestNoOnThePhoneIsNo(t *testing.T) {
	s := newTestShop(t)
	cookie := s.hire("Inge", "desk")
	stored := func() civil.Week {
		t.Helper()
		if _, err := s.app.Settle(t.Context(), s.now, s.today(), nil); err != nil {
			t.Fatal(err)
		}
		plan, err := s.app.DB.Plan(t.Context(), "PERCH")
		if err != nil {
			t.Fatal(err)
		}
		for _, v := range plan.Visits {
			if v.ID == perchVisit {
				return v.Week
			}
		}
		t.Fatal("the visit is gone")
		return 0
	}
	reminders := func() int {
		t.Helper()
		days, err := s.app.Rehearse(t.Context(), s.today()+1, s.today()+250)
		if err != nil {
			t.Fatal(err)
		}
		n := 0
		for _, d := range days {
			for _, x := range d.Notices {
				if slices.ContainsFunc(x.Notified, func(h schedule.Notified) bool { return h.Subject == perchVisit }) {
					n++
				}
			}
		}
		return n
	}
	if stored() == 0 || reminders() == 0 {
		t.Fatalf("to begin with: week %s, %d reminders", stored(), reminders())
	}
	s.as(cookie, "POST", "/boats/PERCH/call?visit="+url.QueryEscape(perchVisit), url.Values{"outcome": {"declined"}, "back": {"/calls"}}).code(http.StatusSeeOther)
	if w, n := stored(), reminders(); w != 0 || n != 0 {
		t.Errorf("declined by telephone, and still week %s and %d reminders", w, n)
	}
}

// TestALaterVisitKeepsAWeekInTime: whoever wishes to be asked again is promised a
// week after that day that is still in time, and only such days are offered.
func TestALaterVisitKeepsAWeekInTime(t *testing.T) {
	s := newTestShop(t)
	my := s.my("W1")
	visit := func() schedule.Visit {
		t.Helper()
		plan, err := s.app.DB.Plan(t.Context(), "PERCH")
		if err != nil {
			t.Fatal(err)
		}
		i := slices.IndexFunc(plan.Visits, func(v schedule.Visit) bool { return v.ID == perchVisit })
		return plan.Visits[i]
	}
	before := visit()
	until := s.today() + 28
	if until >= before.Deadline {
		t.Fatalf("the visit is due by %s, too early to be asked again", before.Deadline)
	}
	to := s.post(my+"/answer", url.Values{"kind": {"later"}, "visit": {perchVisit}, "until": {until.String()}}).code(http.StatusSeeOther).to()
	if w := visit().Week; w.Sunday() < until || w.Monday() > before.Deadline {
		t.Errorf("asked again on %s, due by %s, and planned for the week of %s", until, before.Deadline, w.Monday())
	}
	s.post(my+"/undo", url.Values{"id": {to[strings.LastIndexByte(to, '/')+1:]}}).code(http.StatusSeeOther)
	if got := visit().Week; got != before.Week {
		t.Errorf("taken back, and planned for the week of %s instead of %s", got.Monday(), before.Week.Monday())
	}
}

// TestADeclinedVisitIsAStateOfItsOwn: what the customer does not want is called that
// on their page, however late it is, with a way back, and leaves the calendar and the
// desk's list of what is overdue.
func TestADeclinedVisitIsAStateOfItsOwn(t *testing.T) {
	s := newTestShop(t)
	my := s.my("W1")
	due := s.visit("PERCH", perchVisit).Deadline
	s.on(due + 8)
	s.get(my).says("overdue")
	if got := s.stands(perchVisit); got != "overdue" {
		t.Fatalf("on the due list it is %q to begin with", got)
	}
	before := s.feed("W1")
	to := s.post(my+"/answer", url.Values{"kind": {"decline"}, "visit": {perchVisit}}).code(http.StatusSeeOther).to()
	s.get(my).says("you do not want it this season", "Change my mind").silent("overdue")
	if got := s.stands(perchVisit); got != "" {
		t.Errorf("declined, and on the due list as %q", got)
	}
	if after := s.feed("W1"); strings.Count(after, "BEGIN:VEVENT") != strings.Count(before, "BEGIN:VEVENT")-1 {
		t.Errorf("the declined visit is still in the calendar:\n%s", after)
	}
	s.post(my+"/undo", url.Values{"id": {to[strings.LastIndexByte(to, '/')+1:]}}).code(http.StatusSeeOther)
	s.get(my).says("overdue").silent("you do not want it this season")
	if again := s.feed("W1"); strings.Count(again, "BEGIN:VEVENT") != strings.Count(before, "BEGIN:VEVENT") {
		t.Errorf("taken back, and not in the calendar:\n%s", again)
	}
}

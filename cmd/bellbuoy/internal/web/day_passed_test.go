package web_test

import (
	"fmt"
	"net/http"
	"net/url"
	"slices"
	"strings"
	"testing"

	"bellbuoy/notify"
	"bellbuoy/notify/link"
	"bellbuoy/schedule"
	"bellbuoy/schedule/civil"
	"bellbuoy/store"
	"bellbuoy/store/storetest"
)

// on turns the clock to ten in the morning of a day and does the night's work.
func (s *testShop) on(day civil.Day) {
	s.t.Helper()
	s.now = day.At(10, 0, s.app.Config.Zone())
	if _, err := s.app.Settle(s.t.Context(), s.now, day, nil); err != nil {
		s.t.Fatal(err)
	}
}

// bookedInMay books the spring work of PERCH for Tuesday 4 May 2027.
func bookedInMay(s *testShop) (visit string, day civil.Day) {
	s.t.Helper()
	visit, day = "PERCH.fit-out.2027", civil.Of(2027, 5, 4)
	s.on(civil.Of(2027, 4, 30))
	b := schedule.Booking{VisitID: visit, BoatID: "PERCH", Kind: schedule.FitOut, Day: day, Minute: -1}
	if err := storetest.Writer(s.t, s.app.DB).Book(s.t.Context(), s.now, "desk", b, nil, nil); err != nil {
		s.t.Fatal(err)
	}
	s.on(day)
	return visit, day
}

// stands is how a visit stands on the due list of this week, "" if it is not there.
func (s *testShop) stands(visit string) string {
	s.t.Helper()
	rows, err := s.app.DueList(s.t.Context(), s.today().Week(), s.today())
	if err != nil {
		s.t.Fatal(err)
	}
	for _, r := range rows {
		if r.Visit.Visit.ID == visit {
			return string(r.Part)
		}
	}
	return ""
}

func (s *testShop) visit(boat, id string) schedule.Visit {
	s.t.Helper()
	for _, v := range s.plan(boat).Visits {
		if v.ID == id {
			return v
		}
	}
	s.t.Fatalf("%s is not in the plan", id)
	return schedule.Visit{}
}

// checked reports whether the check names a visit's day.
func (s *testShop) checked(words string) bool {
	s.t.Helper()
	found, err := s.app.Check(s.t.Context(), s.today())
	if err != nil {
		s.t.Fatal(err)
	}
	return slices.ContainsFunc(found, func(f string) bool { return strings.Contains(f, words) })
}

func (s *testShop) deskFeed() string {
	s.t.Helper()
	f, err := s.app.Feed(s.t.Context(), link.ScopeDesk, "", s.today())
	if err != nil {
		s.t.Fatal(err)
	}
	return strings.ReplaceAll(string(f.Body), "\r\n ", "")
}

// TestABookedDayThatPassedIsNotForgotten follows a booked visit that nobody
// records: on its day it is booked; for three days it is on every list as "day
// passed"; from the fourth it is open again like any other.
func TestABookedDayThatPassedIsNotForgotten(t *testing.T) {
	s := newTestShop(t)
	visit, day := bookedInMay(s)
	desk := s.hire("Inge", "desk")
	my := s.my("W1")
	const finding = `boat "PERCH": Spring commissioning was booked for May 4, 2027 and no work is recorded`

	s.as(desk, "GET", "/", nil).says("1 booked", "● booked").silent("Day passed")
	s.get(my).says("● booked").silent("written down")
	if got := s.stands(visit); got != "booked" {
		t.Errorf("on its day it stands as %q", got)
	}
	if s.checked("is recorded") || strings.Contains(s.deskFeed(), "Day passed") {
		t.Error("its day has not passed yet")
	}

	for _, after := range []civil.Day{1, 3} {
		t.Run(fmt.Sprintf("%d days after", after), func(t *testing.T) {
			s.t = t
			s.on(day + after)
			desk := s.hire(fmt.Sprint("Inge", int(after)), "desk")
			s.as(desk, "GET", "/", nil).says("1 day passed", "? day passed").silent("● booked")
			s.as(desk, "GET", "/weeks?week=2027-W18", nil).says("day passed")
			s.as(desk, "GET", "/boats/PERCH", nil).says("day passed").silent("● booked")
			s.get(my).says("day passed", "Your day was Tuesday, May 4, 2027. Nothing is written down yet", "555-0100").silent("● booked")
			s.get(my+"/visit/"+visit).says("Nothing is written down yet", "555-0100").silent("● booked")
			if got := s.stands(visit); got != "day-passed" {
				t.Errorf("the due list has it as %q", got)
			}
			if !s.checked(finding) {
				t.Error("the check does not name it")
			}
			if feed := s.deskFeed(); !strings.Contains(feed, "SUMMARY:Day passed: Spring commissioning") {
				t.Error("the desk's calendar does not say so")
			}
			if v := s.visit("PERCH", visit); !v.Booked() {
				t.Error("the day holds the visit no longer")
			}
		})
	}
	s.t = t

	s.on(day + 4)
	desk = s.hire("Ruth", "desk")
	v := s.visit("PERCH", visit)
	if v.Booked() || v.Week == 0 {
		t.Errorf("booked %v, week %s; want it planned again", v.Booking, v.Week)
	}
	if got := s.stands(visit); got == "" || got == "day-passed" || got == "booked" {
		t.Errorf("the due list has it as %q, want it open", got)
	}
	s.as(desk, "GET", "/", nil).says("was booked for May 4; no work is recorded").silent("Day passed")
	s.get(my).says("You had booked Tuesday, May 4, 2027. Nothing is written down yet", "555-0100").silent("● booked")
	s.get(my+"/visit/"+visit).says("Nothing is written down yet", "Choose your day")
	if !s.checked(finding) {
		t.Error("the check does not name it")
	}
	if feed := s.deskFeed(); strings.Contains(feed, "Day passed") {
		t.Error("the desk's calendar still shows the old day")
	}
	r, err := s.app.Recipient(t.Context(), "W1")
	if err != nil {
		t.Fatal(err)
	}
	told := false
	for day := range civil.Day(60) {
		for _, n := range notify.Decide(r, s.app.Policy(), (s.today()+day).At(10, 0, s.app.Config.Zone())) {
			for _, nv := range n.Visits {
				told = told || nv.Visit.Visit.ID == visit
			}
		}
	}
	if !told {
		t.Error("its owner is never reminded of it again")
	}
}

// TestABoatThatWaitsForPartsIsStillHere: its booked day is over and nothing is
// recorded, but it stands in the yard. No list calls its day passed, the check does
// not name it, and it keeps its day however long the parts take. Picked up without a
// record, its day has passed after all.
func TestABoatThatWaitsForPartsIsStillHere(t *testing.T) {
	s := newTestShop(t)
	visit, day := bookedInMay(s)
	press := func(was, is store.Stage) {
		t.Helper()
		if err := storetest.Writer(t, s.app.DB).SetStage(t.Context(), s.now, "Inge", visit, was, is); err != nil {
			t.Fatal(err)
		}
	}
	press(store.StageBooked, store.StageHere)
	press(store.StageHere, store.StageWaiting)
	for _, after := range []civil.Day{1, 9} {
		s.on(day + after)
		desk := s.hire(fmt.Sprint("Inge", int(after)), "desk")
		s.as(desk, "GET", "/", nil).says("Still with us", "waiting for parts").silent("ay passed")
		s.as(desk, "GET", "/boats/PERCH", nil).says("waiting for parts").silent("ay passed")
		s.as(desk, "GET", "/customers/W1", nil).says("waiting for parts").silent("ay passed")
		if got := s.stands(visit); got != "here" {
			t.Errorf("%d days after, the due list has it as %q, want here", after, got)
		}
		if s.checked("no work is recorded") {
			t.Errorf("%d days after, the check names it", after)
		}
		if v := s.visit("PERCH", visit); !v.Booked() {
			t.Errorf("%d days after, it has lost its day", after)
		}
	}
	press(store.StageWaiting, store.StageReady)
	press(store.StageReady, store.StagePickedUp)
	if got := s.stands(visit); got != "day-passed" {
		t.Errorf("picked up without a record, the due list has it as %q, want day-passed", got)
	}
}

// TestWhatEndsAPassedDay: the record of the work does, and another day.
func TestWhatEndsAPassedDay(t *testing.T) {
	if testing.Short() {
		t.Skip("takes seconds")
	}
	for _, c := range []struct {
		name  string
		after civil.Day
		do    func(*testing.T, *testShop, string)
	}{
		{"a record", 2, recordAll},
		{"a record after the visit was opened again", 5, recordAll},
		{"another day", 2, bookAgain},
		{"another day after the visit was opened again", 5, bookAgain},
	} {
		t.Run(c.name, func(t *testing.T) {
			s := newTestShop(t)
			visit, day := bookedInMay(s)
			s.on(day + c.after)
			c.do(t, s, visit)
			s.on(s.today())
			if got := s.stands(visit); got == "day-passed" {
				t.Error("it is on the due list as before")
			}
			if s.checked("no work is recorded") {
				t.Error("the check still names it")
			}
			s.get(s.my("W1")).silent("written down", "day passed")
			s.as(s.hire("Inge", "desk"), "GET", "/", nil).says("Week of").silent("Day passed", "was booked")
		})
	}
}

func recordAll(t *testing.T, s *testShop, visit string) {
	f := s.facts("PERCH")
	for _, l := range s.plan("PERCH").Items {
		if l.VisitID != visit {
			continue
		}
		rec := schedule.Record{BoatID: f.Boat.ID, ComponentID: l.ComponentID, Service: l.Service, Day: civil.Of(2027, 5, 4), By: schedule.ByShop}
		if _, err := storetest.Writer(t, s.app.DB).AddRecord(t.Context(), s.now, "desk", rec); err != nil {
			t.Fatal(err)
		}
	}
}

func bookAgain(t *testing.T, s *testShop, visit string) {
	seen := s.visit("PERCH", visit).Booking.When()
	form := url.Values{"visit": {visit}, "was": {seen}, "do": {"book"}, "day": {(s.today() + 1).String()}}
	s.as(s.hire("Ruth", "desk"), "POST", "/boats/PERCH/book", form).code(http.StatusSeeOther)
	if v := s.visit("PERCH", visit); !v.Booked() {
		t.Fatal("not booked")
	}
}

// TestNextWeeksBookingsHaveNotPassed: looking ahead, what comes before the week
// shown has not come yet.
func TestNextWeeksBookingsHaveNotPassed(t *testing.T) {
	s := newTestShop(t)
	bookedInMay(s)
	s.on(civil.Of(2027, 5, 3))
	s.as(s.hire("Inge", "desk"), "GET", "/?week=2027-W19", nil).says("Week of").silent("Day passed")
}

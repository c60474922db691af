package web_test

import (
	"fmt"
	"net/http"
	"net/url"
	"path/filepath"
	"strings"
	"sync"
	"testing"

	"bellbuoy/schedule"
	"bellbuoy/schedule/civil"
	"bellbuoy/schedule/level"
	"bellbuoy/schedule/words"
	"bellbuoy/store/storetest"
)

// fullHours is what one technician's week holds in these tests: five days of
// eight hours at three quarters.
const fullHours = 30 * 60

// rivals is a shop of 24 alike boats, each of a customer of its own, whose next
// visits are all kept in one far week: every other week is empty, and all of
// them may take it.
func rivals(t *testing.T) (s *testShop, week civil.Week, next []schedule.Visit) {
	t.Helper()
	const n = 24
	s = emptyTestShop(t, shopSettings)
	s.intake(filepath.Join("..", "..", "..", "..", "testdata", "rivals"), "customers.csv", "boats.csv", "components.csv", "history.csv")
	v := s.nextVisit("B0")
	weeks, err := s.app.WeeksFor(t.Context(), &v, s.today())
	if err != nil || len(weeks) < 4 || v.Labour == 0 || v.Labour > fullHours/5 {
		t.Fatalf("weeks %v, %v, %d minutes: no shop to test in", weeks, err, v.Labour)
	}
	for i := range n {
		if err := storetest.Writer(t, s.app.DB).Pin(t.Context(), s.now, "desk", s.nextVisit(fmt.Sprintf("B%d", i)).ID, weeks[len(weeks)-1]); err != nil {
			t.Fatal(err)
		}
	}
	if _, err := s.app.Settle(t.Context(), s.now, s.today(), nil); err != nil {
		t.Fatal(err)
	}
	for i := range n {
		next = append(next, s.nextVisit(fmt.Sprintf("B%d", i)))
	}
	return s, weeks[1], next
}

// bookedIn adds up the minutes booked in a week.
func (s *testShop) bookedIn(week civil.Week) int {
	s.t.Helper()
	loads, err := s.app.DB.WeekLoads(s.t.Context(), week, week)
	if err != nil || len(loads) > 1 {
		s.t.Fatal(loads, err)
	}
	if len(loads) == 0 {
		return 0
	}
	return loads[0].Booked[level.Labor]
}

// TestTwoCustomersAtOnceForOnePlace: one of them is booked, and the other reads
// that the week has just filled, and which others there are.
func TestTwoCustomersAtOnceForOnePlace(t *testing.T) {
	s, week, next := rivals(t)
	day := week.Monday() + 1
	free := fullHours
	for i := 2; free >= 2*next[0].Labour; i++ { // on other days
		b := schedule.Booking{VisitID: next[i].ID, BoatID: next[i].BoatID, Kind: next[i].Kind, Day: day + 1 + civil.Day(i%3), Minute: -1}
		if err := storetest.Writer(t, s.app.DB).Book(t.Context(), s.now, "desk", b, nil, nil); err != nil {
			t.Fatal(err)
		}
		free -= next[i].Labour
	}
	if free < next[0].Labour || free >= 2*next[0].Labour {
		t.Fatalf("%d minutes are left for visits of %d: no race for one place", free, next[0].Labour)
	}
	answers := s.atOnce(2, func(i int) (string, url.Values) {
		return s.my(fmt.Sprintf("C%d", i)) + "/answer", url.Values{"kind": {"take"}, "visit": {next[i].ID}, "day": {day.String()}, "note": {"the bilge pump hums"}}
	})
	lost := 0
	for _, a := range answers {
		if a.Code == http.StatusSeeOther {
			continue
		}
		lost++
		a.code(http.StatusUnprocessableEntity).says("has just filled up", "the bilge pump hums", "Another week")
		if strings.Contains(a.Body.String(), `<option value="`+week.String()) {
			t.Error("the full week is offered again")
		}
	}
	if lost != 1 {
		t.Errorf("%d of two were refused, want one", lost)
	}
	if n := s.bookedIn(week); n > fullHours {
		t.Errorf("%d minutes are booked in a week of %d", n, fullHours)
	}
}

// TestManyCustomersAtOnce: whatever the order, a week never holds more than its
// hours, be it one that is kept for nobody or one that too many are kept for. No
// day gets a second boat while another of its week has none.
func TestManyCustomersAtOnce(t *testing.T) {
	if testing.Short() {
		t.Skip("takes seconds")
	}
	const n = 24
	for name, kept := range map[string]bool{"an empty week": false, "the week kept for all of them": true} {
		t.Run(name, func(t *testing.T) {
			s, week, next := rivals(t)
			if kept {
				week = next[0].Week
			}
			answers := s.atOnce(n, func(i int) (string, url.Values) {
				day := week.Monday() + civil.Day(i%5)
				return s.my(fmt.Sprintf("C%d", i)) + "/answer", url.Values{"kind": {"take"}, "visit": {next[i].ID}, "day": {day.String()}}
			})
			booked := 0
			for _, a := range answers {
				if a.Code == http.StatusSeeOther {
					booked++
				} else {
					a.code(http.StatusUnprocessableEntity).says("has just filled up")
				}
			}
			on := map[civil.Day]int{}
			for i := range n {
				if b := s.nextVisit(fmt.Sprintf("B%d", i)).Booking; b != nil {
					on[b.Day]++
				}
			}
			if got, most := s.bookedIn(week), fullHours/next[0].Labour; got > fullHours || got != booked*next[0].Labour || booked < 5 || booked > most {
				t.Errorf("%d booked, %d minutes in a week of %d", booked, got, fullHours)
			}
			for d := week.Monday(); d < week.Monday()+5; d++ {
				if on[d] == 0 && booked >= 5 {
					t.Errorf("nobody comes on %s: %v", d, on)
				}
			}
		})
	}
}

// TestTheDeskOverbooksOnPurposeOnly: the desk is told that a week is full, keeps
// what it entered, and may book all the same; check finds what nobody meant.
func TestTheDeskOverbooksOnPurposeOnly(t *testing.T) {
	s, week, next := rivals(t)
	cookie := s.hire("Inge", "desk")
	day := week.Monday() + 1
	form := func(i int) url.Values {
		return url.Values{"visit": {next[i].ID}, "do": {"book"}, "day": {day.String()}, "time": {"09:30"}, "sure": {"1"}}
	}
	path := func(i int) string { return "/boats/" + next[i].BoatID + "/book" }
	most := fullHours / next[0].Labour
	for i := range most {
		s.as(cookie, "POST", path(i), form(i)).code(http.StatusSeeOther)
	}
	a := s.as(cookie, "POST", path(most), form(most)).code(http.StatusUnprocessableEntity).
		says("The week of "+words.Format{}.Date(week.Monday())+" is full: 28.5 of 30 h are taken, and this visit needs 3.2 h", "Book it anyway")
	for _, typed := range []string{`value="` + day.String() + `"`, `value="09:30"`} {
		if !strings.Contains(a.Body.String(), typed) {
			t.Errorf("the form lost %s", typed)
		}
	}
	if s.nextVisit(next[most].BoatID).Booking != nil {
		t.Fatal("booked into a full week that nobody meant to overbook")
	}
	// Within its week a booked visit moves freely.
	moved := form(0)
	moved.Set("day", (day + 1).String())
	moved.Set("was", day.String()+" 09:30")
	s.as(cookie, "POST", path(0), moved).code(http.StatusSeeOther)
	overbooked := func() (found string) {
		all, err := s.app.Check(t.Context(), s.today())
		if err != nil {
			t.Fatal(err)
		}
		for _, f := range all {
			if strings.Contains(f, "are booked") {
				found += f
			}
		}
		return found
	}
	meant := form(most)
	meant.Set("over", "1")
	s.as(cookie, "POST", path(most), meant).code(http.StatusSeeOther)
	if got := overbooked(); got != "" {
		t.Errorf("overbooked on purpose, and check says %q", got)
	}
	b := schedule.Booking{VisitID: next[most+1].ID, BoatID: next[most+1].BoatID, Kind: next[most+1].Kind, Day: day, Minute: -1}
	if err := storetest.Writer(t, s.app.DB).Book(t.Context(), s.now, "test", b, nil, nil); err != nil {
		t.Fatal(err)
	}
	if got := overbooked(); !strings.Contains(got, words.Format{}.Date(week.Monday())) {
		t.Errorf("check finds %q in a week that nobody meant to overbook", got)
	}
}

// TestACancelledDayThatWasGivenAway cannot be taken back.
func TestACancelledDayThatWasGivenAway(t *testing.T) {
	s, week, next := rivals(t)
	day := week.Monday() + 1
	take := url.Values{"kind": {"take"}, "visit": {next[0].ID}, "day": {day.String()}}
	s.post(s.my("C0")+"/answer", take).code(http.StatusSeeOther)
	to := s.post(s.my("C0")+"/answer", url.Values{"kind": {"cancel"}, "visit": {next[0].ID}, "was": {day.String()}}).code(http.StatusSeeOther).to()
	for i := 1; i <= fullHours/next[0].Labour; i++ {
		b := schedule.Booking{VisitID: next[i].ID, BoatID: next[i].BoatID, Kind: next[i].Kind, Day: day, Minute: -1}
		if _, err := s.app.Book(t.Context(), s.now, "desk", b, nil, true); err != nil {
			t.Fatal(err)
		}
	}
	s.post(s.my("C0")+"/undo", url.Values{"id": {to[strings.LastIndexByte(to, '/')+1:]}}).code(http.StatusConflict).says("has filled up since")
	if s.nextVisit("B0").Booking != nil || s.bookedIn(week) > fullHours {
		t.Errorf("booked again: %d minutes in a week of %d", s.bookedIn(week), fullHours)
	}
}

// atOnce posts n forms at the same moment and returns what was answered.
func (s *testShop) atOnce(n int, form func(i int) (string, url.Values)) []answered {
	s.t.Helper()
	paths, forms, out := make([]string, n), make([]url.Values, n), make([]answered, n)
	for i := range n {
		paths[i], forms[i] = form(i)
	}
	var all sync.WaitGroup
	start := make(chan struct{})
	for i := range n {
		all.Go(func() {
			<-start
			out[i] = s.post(paths[i], forms[i])
		})
	}
	close(start)
	all.Wait()
	return out
}

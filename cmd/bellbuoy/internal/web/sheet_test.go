package web_test

import (
	"net/url"
	"strings"
	"testing"

	"bellbuoy/store"
	"bellbuoy/store/storetest"
)

// TestSheetNamesEveryJob: also what a job on one part includes on another, such
// as the look at the hull that goes with the engine's fit-out.
func TestSheetNamesEveryJob(t *testing.T) {
	s := newTestShop(t)
	cookie := s.hire("Ruth", "technician")
	others := 0
	for _, boat := range []string{"PERCH", "HERON", "LARK", "PORCH"} {
		view, err := s.house.View(t.Context(), boat)
		if err != nil {
			t.Fatal(err)
		}
		for _, v := range view.Visits {
			page := s.as(cookie, "GET", "/boats/"+boat+"/sheet?visit="+url.QueryEscape(v.Visit.ID), nil).code(200)
			_, jobs, _ := strings.Cut(page.text(), "Jobs, in working order")
			jobs, _, _ = strings.Cut(jobs, "Parts to have there")
			for _, l := range v.Lines {
				if l.Item.ByCustomer {
					continue
				}
				title := strings.NewReplacer(" (Port engine)", "", " (Starboard engine)", "").Replace(l.Title)
				if !strings.Contains(jobs, title) {
					t.Errorf("%s: the sheet lacks %q:\n%s", v.Visit.ID, title, jobs)
				}
				if l.Included && l.Item.ComponentID == boat {
					others++
				}
			}
		}
	}
	if others == 0 {
		t.Error("no job of these visits includes one on another part: the test sees nothing")
	}
}

// TestSheetSaysHowFirmTheDayIs: a week is a Monday's, and a visit without one
// is not pencilled.
func TestSheetSaysHowFirmTheDayIs(t *testing.T) {
	s := newTestShop(t)
	cookie := s.hire("Ruth", "technician")
	v := s.nextVisit("PERCH")
	path := "/boats/PERCH/sheet?visit=" + url.QueryEscape(v.ID)
	s.as(cookie, "GET", path, nil).says("pencilled, about")
	if _, err := storetest.Writer(t, s.house.DB).SaveWeeks(t.Context(), []store.Week{{VisitID: v.ID}}); err != nil {
		t.Fatal(err)
	}
	s.as(cookie, "GET", path, nil).says("about 15 May 2027, not booked")
}

package web_test

import (
	"net/http"
	"net/url"
	"strings"
	"testing"

	"bellbuoy/schedule/civil"
	"bellbuoy/store"
)

// TestTheBookingFormKnowsTheShopsDays: it proposes no day on which the shop is
// closed or everybody is off, says what is booked in that week, and doubts a day
// that another boat has at that hour.
func TestTheBookingFormKnowsTheShopsDays(t *testing.T) {
	s := twelveBoats(t, civil.Of(2026, 9, 10)) // a Thursday
	desk := s.hire("Inge", "desk")
	v := s.nextVisit("B00")
	monday := v.Week.Monday()
	if v.Week <= s.today().Week() {
		t.Fatalf("the visit is in week %s: the test proves too little", v.Week)
	}
	if _, err := s.app.CloseDay(t.Context(), s.now, "test", store.ClosedDay{Day: monday, Why: "lift inspection"}); err != nil {
		t.Fatal(err)
	}
	if _, err := s.app.AddAbsence(t.Context(), s.now, "test", store.Absence{Technician: "Inge", From: monday + 1, To: monday + 1}); err != nil {
		t.Fatal(err)
	}
	v = s.nextVisit("B00")
	path := "/boats/B00/book?visit=" + v.ID
	form := s.as(desk, "GET", path, nil)
	want := monday + 2
	if v.Week.Monday() != monday {
		want = v.Week.Monday()
	}
	if !strings.Contains(form.Body.String(), `type="date" value="`+want.String()+`"`) {
		t.Errorf("it does not propose %s: %s", want, form.text())
	}

	book := func(boat string, more url.Values) answered {
		f := url.Values{"visit": {s.nextVisit(boat).ID}, "do": {"book"}, "day": {(monday + 2).String()}, "time": {"09:00"}, "over": {"1"}}
		for k, v := range more {
			f[k] = v
		}
		return s.as(desk, "POST", "/boats/"+boat+"/book", f)
	}
	book("B01", nil).code(http.StatusSeeOther)
	s.as(desk, "GET", path+"&day="+want.String(), nil).says("1 boat, ")
	book("B02", nil).code(http.StatusUnprocessableEntity).says("2016 Brackenhull Reedpike is booked for 9:00 AM on that day too.", "h of that day are booked, and this visit needs", "Yes, this is right")
	if s.nextVisit("B02").Booking != nil {
		t.Error("a doubted day was booked")
	}
	book("B02", url.Values{"day": {monday.String()}}).code(http.StatusUnprocessableEntity).says("Nobody is at work on Monday")
	book("B02", url.Values{"sure": {"1"}}).code(http.StatusSeeOther)
}

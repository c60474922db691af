package web_test

import (
	"cmp"
	"net/http"
	"net/url"
	"slices"
	"strings"
	"testing"

	"bellbuoy/schedule/civil"
	"bellbuoy/store"
	"bellbuoy/store/storetest"
)

// TestTheCallListGoesByDangerAndDeadline: who asked for a call comes first, then
// whose visit goes before others when weeks are short, then the earliest deadline;
// the filters pick, the total counts, and a page leads back to the one before.
func TestTheCallListGoesByDangerAndDeadline(t *testing.T) {
	s := newTestShop(t)
	for _, id := range []string{"W1", "W2", "W3"} {
		c, err := s.app.DB.Customer(t.Context(), id)
		if err != nil {
			t.Fatal(err)
		}
		c.ContactBy = "phone"
		if err := storetest.SaveCustomer(t.Context(), storetest.Writer(t, s.app.DB), s.now, "test", c); err != nil {
			t.Fatal(err)
		}
	}
	s.now = civil.Of(2027, 9, 10).At(10, 0, s.app.Config.Zone())
	s.on(s.today())
	desk := s.hire("Inge", "desk")
	type rank struct {
		name     string
		priority int
		deadline civil.Day
	}
	var want []rank
	for _, of := range []struct {
		customer string
		boats    []string
	}{{"Maren Jørstad", []string{"PERCH"}}, {"Piotr Dunmarrow", []string{"HERON"}}, {"Odalys Trần", []string{"LARK", "PUFFIN"}}} { // by id, which settles what is alike
		r := rank{name: of.customer}
		for _, b := range of.boats {
			for _, v := range s.plan(b).Visits {
				if v.Booking == nil && !v.Lapsed && v.Day <= s.today()+49 {
					r.priority = max(r.priority, v.Priority)
					r.deadline = min(cmp.Or(r.deadline, v.Deadline), v.Deadline)
				}
			}
		}
		want = append(want, r)
	}
	slices.SortStableFunc(want, func(x, y rank) int {
		return cmp.Or(cmp.Compare(y.priority, x.priority), cmp.Compare(x.deadline, y.deadline))
	})
	if want[0].priority == want[2].priority && want[0].deadline == want[2].deadline {
		t.Fatalf("all are alike: the test proves too little: %v", want)
	}
	text := s.as(desk, "GET", "/calls", nil).says("Call list 3").text()
	at := -1
	for _, r := range want {
		i := strings.Index(text, r.name)
		if i < at {
			t.Errorf("%s comes too early, want %v: %s", r.name, want, text)
		}
		at = i
	}

	last := want[2].name
	id := map[string]string{"Maren Jørstad": "W1", "Piotr Dunmarrow": "W2", "Odalys Trần": "W3"}[last]
	s.asks(id, url.Values{})
	text = s.as(desk, "GET", "/calls", nil).text()
	if strings.Index(text, last) > strings.Index(text, want[0].name) {
		t.Errorf("%s asked for a call and is not first", last)
	}
	s.as(desk, "GET", "/calls?show=asked", nil).says("Call list 1", last).silent(want[0].name)
	s.as(desk, "GET", "/calls?show=lay-up", nil).says("Winterization")
	s.as(desk, "POST", "/customers/"+id+"/call", url.Values{"outcome": {store.CallNoAnswer}}).code(http.StatusSeeOther)
	s.now = s.now.AddDate(0, 0, 2)
	desk = s.hire("Ruth", "desk")
	s.as(desk, "GET", "/calls?show=no-answer", nil).says("Call list 1", last, "no answer")
}
